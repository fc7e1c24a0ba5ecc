"""A comparison set out to be read: a row for each way at each quantity, the best first."""

from collections.abc import Mapping
from typing import Any, NamedTuple


class Row(NamedTuple):
    """One way at one quantity, and its place there."""

    quantity: int
    place: int
    label: str
    at: Mapping[str, Any]


class Paid(NamedTuple):
    """When what is bought for a way has paid for itself, in orders of so many units."""

    label: str
    told: Mapping[str, Any]


def rows_of(comparison: Mapping[str, Any]) -> list[Row]:
    """List the ways at each quantity in the order of their ranking."""
    at = {
        (each["label"], one["quantity"]): one
        for each in comparison["alternatives"]
        for one in each["at"]
    }
    return [
        Row(ranking["quantity"], place, ranked["label"], at[ranked["label"], ranking["quantity"]])
        for ranking in comparison["rankings"]
        for place, ranked in enumerate(ranking["alternatives"], start=1)
    ]


def losing_at(comparison: Mapping[str, Any]) -> list[int]:
    """List the quantities at which even the best way loses money, by what is best if highest."""
    if comparison["criterion"] in ("unit_cost", "unit_price"):
        return []
    best = {each["quantity"]: each["alternatives"][0]["value"] for each in comparison["rankings"]}
    return [quantity for quantity, value in best.items() if (value or "").startswith("-")]


def paybacks_of(comparison: Mapping[str, Any]) -> list[Paid]:
    """List when purchases have paid for themselves."""
    return [
        Paid(each["label"], told)
        for each in comparison["alternatives"]
        for told in each.get("payback", [])
    ]
