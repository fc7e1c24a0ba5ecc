"""Where each figure stands: a row on a sheet, and a column for each quantity if it varies."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from gramhour_service.workbook.figures import CELL, Figure, has_cell

MOST_NAMED = 3
OWNED = re.compile(
    r"^/(?:rates|rate_overrides)/(material|nozzle|machine|component|channel|service)s/([^/]+)/"
    r"|^/product/(piece|component)s/(\d+)/"
)

UNOWNED = re.compile(r"^/(?:rates|rate_overrides|product)/")


@dataclass
class Step:
    """A row of the working: a figure that is the same at any quantity, or one for each column."""

    label: str
    rule: str
    about: str
    everywhere: Figure | None = None
    by_column: dict[int, Figure] = field(default_factory=dict)


class Place(NamedTuple):
    """Where a figure stands: a sheet, a row counted from 0, and a column if it varies."""

    sheet: str
    row: int
    column: int | None


class Layout:
    """Rows for all that the figures of each column need, first things first."""

    def __init__(self, varying: set[str], shown: Mapping[int, Place]) -> None:
        """Lay out; ``varying`` points to the quantities, ``shown`` have a place already."""
        self.varying = varying
        self.members: dict[str, Figure] = {}
        self.steps: list[Step] = []
        self.places: dict[int, Place] = dict(shown)
        self._rows: dict[tuple[str, int], int] = {}
        self._varies: dict[int, bool] = {}

    def lay_out(self, columns: Sequence[Iterable[Figure]]) -> None:
        """Give all that the figures of each column need a row."""
        for column, figures in enumerate(columns):
            seen: Counter[str] = Counter()
            entered: set[int] = set()
            for top in figures:
                for figure in self._in_order(top, entered):
                    self._place(figure, column, seen)

    def _place(self, figure: Figure, column: int, seen: Counter[str]) -> None:
        label = label_of(figure)
        if not self.varies(figure):
            self.places[id(figure)] = Place(WORKING, len(self.steps), None)
            self.steps.append(Step(label, figure.rule, about(figure), figure))
            return
        while True:
            seen[label] += 1
            row = self._rows.setdefault((label, seen[label]), len(self.steps))
            if row == len(self.steps):
                self.steps.append(Step(label, figure.rule, about(figure)))
            if column not in self.steps[row].by_column:
                break
        self.steps[row].by_column[column] = figure
        self.places[id(figure)] = Place(WORKING, row, column)

    def _in_order(self, top: Figure, entered: set[int]) -> Iterator[Figure]:
        """Walk to all cells that a figure needs and that have no place yet."""
        waiting: list[tuple[Figure, bool]] = [(top, False)]
        while waiting:
            figure, done = waiting.pop()
            if figure.sign == CELL:
                self.members.setdefault(figure.text, figure)
            elif done:
                if has_cell(figure) and id(figure) not in self.places:
                    yield figure
            elif id(figure) not in entered and (figure is top or id(figure) not in self.places):
                entered.add(id(figure))
                waiting.append((figure, True))
                waiting += [
                    (each, False) for each in reversed(figure.operands) if isinstance(each, Figure)
                ]

    def varies(self, figure: Figure) -> bool:
        """Say whether a figure depends on the quantity."""
        found = self._varies.get(id(figure))
        if found is None:
            if figure.sign == CELL:
                found = figure.text in self.varying
            else:
                found = any(
                    self.varies(each) for each in figure.operands if isinstance(each, Figure)
                )
            self._varies[id(figure)] = found
        return found


WORKING = "Working"


PLAINLY = {
    "share left": "the share of a price that fees and aim leave",
    "failures expected": "the number of failures expected while one build runs",
    "usable grams": "what can be used of a pack, in g,",
}


def label_of(figure: Figure) -> str:
    """Name a step: by its own name, else by its rule's."""
    return figure.name or figure.rule.replace("_", " ")


def in_words(figure: Figure) -> str:
    """Name a figure instead of its cell."""
    if figure.sign == CELL:
        return member_name(figure.text)
    label = label_of(figure)
    return PLAINLY.get(label, label)


def about(figure: Figure) -> str:
    """Say whose members a step is made of, if they are few."""
    whose: dict[str, None] = {}
    waiting: list[Figure] = [figure]
    seen: set[int] = set()
    while waiting and len(whose) <= MOST_NAMED:
        each = waiting.pop()
        if each.sign == CELL:
            if name := owner(each.text):
                whose[name] = None
        elif id(each) not in seen:
            seen.add(id(each))
            waiting += [inner for inner in each.operands if isinstance(inner, Figure)]
    return ", ".join(sorted(whose)) if len(whose) <= MOST_NAMED else ""


@cache
def member_name(pointer: str) -> str:
    """Name a member by what stands behind its rate or its piece: ``offer tail g``."""
    found = OWNED.match(pointer)
    rest = pointer[found.end() :] if found else UNOWNED.sub("", pointer)
    parts = [f"{int(part) + 1}" if part.isdigit() else part for part in rest.split("/") if part]
    return " ".join(parts).replace("_pct", " %").replace("_", " ")


@cache
def owner(pointer: str) -> str:
    """Name the rate or the piece that a member belongs to."""
    found = OWNED.match(pointer)
    if found is None:
        return ""
    kind, code, part, number = found.groups()
    return f"{kind} {code}" if kind else f"{part} {int(number) + 1}"
