"""A quote set out to be read: its lines from cost to price, at each quantity, with their reasons.

Every figure is the answer's own text. That the lines add up is the calculation's doing: total
costs, fees and profit make the net of the order, and with tax what the buyer pays.
"""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from gramhour_service.pages.desk.words import FEES, LINES

MOST_SHOWN = 8


class Line(NamedTuple):
    """A row of the table: what it is, its figure at each quantity, how the first came about."""

    figure: str
    label: str
    amounts: tuple[str, ...]
    role: str
    why: Mapping[str, Any] | None


class Shown(NamedTuple):
    """A quote's columns (the asked quantity first) and rows."""

    columns: tuple[Mapping[str, Any], ...]
    lines: tuple[Line, ...]
    left_out: int

    @property
    def across(self) -> int:
        """Say how many columns the table has, with that of the labels."""
        return len(self.columns) + 1


def shown_quote(quote: Mapping[str, Any]) -> Shown:
    """Set out a quote."""
    asked = quote["at_quantity"]
    others = [each for each in quote["breaks"] if each["quantity"] != asked["quantity"]]
    columns = (asked, *others[: MOST_SHOWN - 1])
    reasons = {each["figure"]: each for each in asked.get("explain", [])}
    lines = [_line(columns, reasons, *each) for each in ROWS]
    return Shown(columns, tuple(lines), len(others) + 1 - len(columns))


ROWS: Sequence[tuple[str, str, str]] = (
    *((f"cost.{name}", label, "part") for name, label in LINES.items()),
    ("cost.total", "cost of the order", "total"),
    *((f"fees.{name}", label, "part") for name, label in FEES.items()),
    ("fees.total", "fees", "total"),
    ("profit", "profit", "profit"),
    ("order_net", "net of the order", "total"),
    ("order_tax", "tax", "part"),
    ("order_gross", "the buyer pays", "total"),
)


def _line(
    columns: Sequence[Mapping[str, Any]],
    reasons: Mapping[str, Any],
    figure: str,
    label: str,
    role: str,
) -> Line:
    amounts = tuple(figure_of(column, figure) for column in columns)
    return Line(figure, label, amounts, role, reasons.get(figure))


def figure_of(column: Mapping[str, Any], figure: str) -> str:
    """Take a figure of a break by its name."""
    value: Any = column
    for step in figure.split("."):
        value = value[step]
    return str(value)
