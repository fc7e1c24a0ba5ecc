"""Where the price goes: for each quantity, a bead for each line of its costs, fees and profit.

All beads of one quantity together are as long as its net price, whatever that is, so quantities
can be compared at a glance. A loss is drawn in rust.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from markupsafe import Markup

from gramhour_service.pages.desk.quote_shown import ROWS, figure_of
from gramhour_service.pages.drawing.svg import drawing, element, line, text
from gramhour_service.pages.texts import signs

Column = Mapping[str, Any]

WIDTH, LABELS, HEAD, ROW, GAP = 760, 168, 56, 24, 20
MOST_COLUMNS = 5
LEAST = 0.5


def shares(columns: Sequence[Column], currency: str) -> Markup:
    """Draw the quantities, the asked one first."""
    drawn = columns[:MOST_COLUMNS]
    rows = [each for each in ROWS if _is_drawn(drawn, *each)]
    broad = (WIDTH - LABELS) / len(drawn)
    longest = max(abs(_part(each, figure)) for each in drawn for figure, _, _ in rows) or 1.0
    parts = [
        text(LABELS - GAP, HEAD + n * ROW + 5, label, "ink", "end")
        for n, (_, label, _) in enumerate(rows)
    ]
    for number, column in enumerate(drawn):
        left = LABELS + number * broad
        role = "asked" if number == 0 else "ink"
        parts.append(text(left, 16, f"{column['quantity']} ×", role))
        price = column["unit_price"]
        said = signs(Decimal(price), currency)
        parts.append(text(left, 36, f"{price} {currency}", role, **said))
        for n, (figure, label, kind) in enumerate(rows):
            part = _part(column, figure)
            right = left + max(abs(part) / longest * (broad - GAP), LEAST)
            y = HEAD + n * ROW
            told = f"{label} of {column['quantity']}: {figure_of(column, figure)} {currency}"
            bead = line([(left, y), (right, y)], _class(kind, part))
            parts.append(element("g", element("title", told), bead))
    quantities = ", ".join(str(each["quantity"]) for each in drawn)
    says = f"Which part of the net price goes where at {quantities} units; the table has all of it."
    return drawing("Where the price goes", says, (WIDTH, HEAD + len(rows) * ROW), *parts)


def _is_drawn(columns: Sequence[Column], figure: str, _: str, role: str) -> bool:
    is_sum = role == "total" or figure == "order_tax"
    return not is_sum and any(float(figure_of(each, figure)) for each in columns)


def _part(column: Column, figure: str) -> float:
    net = float(column["order_net"])
    return float(figure_of(column, figure)) / net if net else 0.0


def _class(kind: str, part: float) -> str:
    if kind != "profit":
        return "bead"
    return "bead care" if part < 0 else "bead asked"
