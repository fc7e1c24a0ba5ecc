"""A product of one piece and one filament as a row of names and values: a cell, a table, a script.

The names are the query parameters of ``/v1/unit-price`` and the headings of a parts list. This
module uses the standard library alone, for it also goes into the spreadsheet's extension, which
an office may run with an older Python.
"""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

PIECE = ("product", "pieces", 0)
FEED = (*PIECE, "feed", 0)
PLACES: dict[str, tuple[str | int, ...]] = {
    "sku": ("sku",),
    "material": (*FEED, "material"),
    "mass_g": (*FEED, "mass_g"),
    "volume_cm3": (*FEED, "volume_cm3"),
    "length_m": (*FEED, "length_m"),
    "per_build_g": (*FEED, "per_build_g"),
    "machine": (*PIECE, "machine"),
    "nozzle": (*PIECE, "nozzle"),
    "print_min": (*PIECE, "print_min"),
    "per_build_min": (*PIECE, "per_build_min"),
    "pieces_per_build": (*PIECE, "pieces_per_build"),
    "order_min": ("product", "work", "order_min"),
    "build_min": ("product", "work", "build_min"),
    "unit_min": ("product", "work", "unit_min"),
    "reject_pct": ("product", "reject_pct"),
    "channel": ("channel",),
    "quantity": ("quantity",),
    "breaks": ("breaks",),
    "margin_pct": ("aim", "margin_pct"),
    "markup_pct": ("aim", "markup_pct"),
    "unit_price": ("aim", "unit_price"),
    "discount_pct": ("discount_pct",),
    "rates_revision": ("rates_revision",),
    "rates_on": ("rates_on",),
    "valid_days": ("valid_days",),
    "from": ("from",),
}
"""Where in a quote request each name stands."""

WHOLE = frozenset({"quantity", "pieces_per_build", "rates_revision", "valid_days"})
MOST_DIGITS = 9
NEAR = 0.8
"""How alike a heading and a name are, at least, where one is a slip of the pen for the other."""


def one_piece_request(told: Mapping[str, str]) -> dict[str, Any]:
    """Make a quote request of names and values; what is missing or wrong is told by its reader."""
    sent: dict[str, Any] = {} if "sku" in told else {"product": {"pieces": [{"feed": [{}]}]}}
    for name, place in PLACES.items():
        if name in told:
            _put(sent, place, _value(name, told[name]))
    return sent


def name_of_fault(pointer: str) -> str | None:
    """Say which name a fault of such a request belongs to, if it is one's."""
    while pointer:
        if pointer in _NAMES:
            return _NAMES[pointer]
        pointer = pointer.rpartition("/")[0]
    return None


def named_columns(headings: Sequence[str]) -> list[str | None]:
    """Say which name each heading of a table is; none if the column is somebody's own.

    Raises ``ValueError`` for a name that stands twice, and for one that is nearly right: a column
    ``Unit price`` of results must not become the price that is asked for.
    """
    names: list[str | None] = []
    for heading in headings:
        name = heading.strip().casefold()
        near = difflib.get_close_matches(name, PLACES, n=1, cutoff=NEAR)
        if name in names:
            raise ValueError(f"the column {name} stands twice; keep one of them")
        if name not in PLACES and near:
            raise ValueError(
                f"the column {heading!r} is nearly {near[0]!r}: write it so, or name it otherwise"
            )
        names.append(name if name in PLACES else None)
    return names


def whole_number(text: str) -> Any:
    """Read digits as a whole number; what is none stays as it is, to be refused in place."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= MOST_DIGITS else text


def _value(name: str, text: str) -> Any:
    if name == "breaks":
        return [whole_number(each) for each in text.split(",")] if text else []
    return whole_number(text) if name in WHOLE else text


def _put(sent: Any, place: tuple[str | int, ...], value: Any) -> None:
    *way, last = place
    for step in way:
        sent = sent[step] if isinstance(step, int) else sent.setdefault(step, {})
    sent[last] = value


def _pointer(*steps: str | int) -> str:
    return "".join(f"/{step}" for step in steps)


_NAMES = {
    **{_pointer(*place): name for name, place in PLACES.items()},
    _pointer(*FEED): "mass_g",
    _pointer("aim"): "margin_pct",
}
