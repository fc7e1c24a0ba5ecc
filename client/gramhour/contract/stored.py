"""What is read from the store: the rate sheet, one kind of rates, one rate."""

from datetime import date
from typing import Any

from gramhour.contract.members import Answered
from gramhour.contract.rates import RateSheet


class StoredSheet(Answered, frozen=True, kw_only=True):
    """The sheet in force on a day as known at a revision.

    It holds from ``in_force_from`` on, until another change comes into force.
    """

    rates_revision: int
    rates_on: date
    in_force_from: date
    rates: RateSheet


class StoredKind(Answered, frozen=True, kw_only=True):
    """All rates of one kind by code; of the kind ``shop``, what is sheet-wide by member."""

    rates_revision: int
    rates_on: date
    kind: str
    rates: dict[str, Any]


class StoredRate(Answered, frozen=True, kw_only=True):
    """One rate: its value, the revision that last changed it and the day it is in force from."""

    rates_revision: int
    rates_on: date
    kind: str
    code: str
    changed_in: int
    in_force_from: date
    value: Any

    @property
    def tag(self) -> str:
        """The rate's ``ETag``: who sends it as ``If-Match`` has seen this value on its day."""
        return f'"r{self.changed_in}@{self.in_force_from}"'
