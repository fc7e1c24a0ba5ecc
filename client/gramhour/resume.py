"""Where many quotes broke off, so that they can be gone on with."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Resume:
    """What of ``quote_many`` need not be asked again.

    ``given`` answers were handed out, the first ones. ``kept`` are later ones that had come
    already, by the number of their request (from 0). It can be pickled, for another day.
    """

    given: int = 0
    kept: Mapping[int, Any] = field(default_factory=dict)
