"""What a reading notes: faults in their places, what was probably meant, what was sent in words."""

import difflib
import heapq
from collections.abc import Callable, Collection, Mapping
from typing import Any, NamedTuple

from gramhour.contract.problem import Fault, pointer

MOST_SUGGESTIONS = 50
MOST_LISTED = 5
MOST_FAULTS = 1_000
LONGEST_SHOWN = 50
MOST_BITS_SHOWN = 256

FAULTY: Any = object()
"""Stands for a value that could not be read; its fault is already noted."""

Place = tuple["Place", str | int] | tuple[()]
"""Where a value stands: the place that holds it, and the step from there; the whole is ()."""
Codes = Mapping[str, Collection[str]]

UNITS = frozenset({
    "g", "kg", "mg", "mm", "cm", "m", "cm3", "mm3", "ml", "min", "h", "s", "d", "w", "kw", "kwh",
    "wh", "pct",
})  # fmt: skip
"""What names of members end in, and what people write in its place."""


class Reading(NamedTuple):
    """What one reading gathers and what it may look up."""

    faults: list[Fault]
    codes: Codes
    names_codes: bool = True

    def refuse(self, place: Place, detail: str) -> Any:
        """Note a fault; the value stands as faulty. Far too many are not all told."""
        if len(self.faults) < MOST_FAULTS:
            self.faults.append(Fault(pointer(*_steps(place)), detail))
        elif len(self.faults) == MOST_FAULTS:
            self.faults.append(Fault("", f"and more: the first {MOST_FAULTS} faults are told"))
        return FAULTY

    def meant(self, code: str, known: Collection[str]) -> str:
        """Say which known code was meant (only for the first faults: it is slow)."""
        return meant(code, known) if len(self.faults) < MOST_SUGGESTIONS else ""

    def nearest(self, name: str, known: Collection[str]) -> str:
        """Say the nearest known name, if one is near (only for the first faults: it is slow)."""
        return nearest(name, known) if len(self.faults) < MOST_SUGGESTIONS else ""


def meant(code: str, known: Collection[str]) -> str:
    """Say the nearest known code, or else the first that there are."""
    return nearest(code, known) or _first(known)


def nearest(name: str, known: Collection[str]) -> str:
    """Say the nearest known name, if one is near."""
    by_letters = {each.casefold(): each for each in known}
    near = difflib.get_close_matches(name[:100].casefold(), by_letters, n=1)
    return _hint(name, by_letters[near[0]]) if near else ""


def _first(known: Collection[str]) -> str:
    """List the first of the codes that there are."""
    if not known:
        return "; it has none at all"
    first = heapq.nsmallest(MOST_LISTED, known)
    more = f" and {len(known) - len(first)} more" if len(known) > len(first) else ""
    return f"; there are: {', '.join(first)}{more}"


def _hint(name: str, near: str) -> str:
    """Ask for a near name; one that differs in its unit takes another number, too."""
    (said, unit), (of, other) = (each.rpartition("_")[::2] for each in (name.casefold(), near))
    converts = said == of and unit != other and {unit, other} <= UNITS
    convert = f" Then convert the number from {unit} to {other}" if converts else ""
    return f"; did you mean '{near}'?{convert}"


Reader = Callable[[Any, Place, Reading], Any]


def _steps(place: Place) -> list[str | int]:
    """List the steps to a place, from the whole on."""
    match place:
        case (within, step):
            return [*_steps(within), step]
    return []


def shown(value: object) -> str:
    """Show what was sent, cut to a line."""
    if isinstance(value, int) and value.bit_length() > MOST_BITS_SHOWN:
        return f"a number of {value.bit_length()} bits"
    text = f"'{value}'" if isinstance(value, str) else str(value)
    return text if len(text) <= LONGEST_SHOWN else f"{text[:40]}… ({len(text)} characters)"


def kind_of(value: object) -> str:
    """Say in words what kind of value was sent."""
    match value:
        case None:
            return "null"
        case bool():
            return str(value).lower()
        case dict():
            return "an object"
        case list():
            return "a list"
        case str():
            return "a text"
        case int():
            return "a whole number"
    return f"a {type(value).__name__.lower()}"
