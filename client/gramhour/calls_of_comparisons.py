"""The calls that set ways to make a product side by side, described once for both clients."""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, TypeAlias

import msgspec

from gramhour.calls import Call, path_of
from gramhour.contract.compared import Comparison, ComparisonRun
from gramhour.contract.comparison import ComparisonRequest

COMPARISONS = "/v1/comparisons"

Compared: TypeAlias = ComparisonRequest | Mapping[str, Any]
"""What can be compared: a type of the contract, or the same as a plain dict."""


def compare(request: Compared) -> Call[Comparison | ComparisonRun]:
    """Ask for ways to make a product, side by side; a large one goes on in the service."""
    return Call(
        method="POST",
        path=COMPARISONS,
        body=msgspec.json.encode(request),
        decode=_compared,
        statuses=(HTTPStatus.OK, HTTPStatus.ACCEPTED),
    )


def comparison(name: str) -> Call[ComparisonRun]:
    """Ask how far a large comparison is."""
    return Call(
        method="GET",
        path=path_of(COMPARISONS, name),
        decode=msgspec.json.Decoder(ComparisonRun).decode,
    )


def _compared(body: bytes) -> Comparison | ComparisonRun:
    """Read a comparison, or how far it is: that has a state."""
    told = msgspec.json.decode(body)
    if isinstance(told, dict) and "state" in told:
        return msgspec.json.decode(body, type=ComparisonRun)
    return msgspec.json.decode(body, type=Comparison)
