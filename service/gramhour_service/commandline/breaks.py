"""Quantities side by side: what the buyer pays, what the shop keeps, and what an hour earns."""

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from rich.console import Console

from gramhour.contract.answer import Break
from gramhour_service.answer.words import FEES
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.remarks import marks_of_flags
from gramhour_service.commandline.screen import (
    GAP,
    Row,
    aligned,
    heading,
    money,
    paragraph,
    physical,
    show_table,
)


class Line(NamedTuple):
    """A line of the table: its label and what it shows of a break; a heading shows nothing."""

    label: str
    shows: Callable[[Break], str] | None = None
    style: str = ""


def all_breaks(quoted: Quoted) -> list[Break]:
    """List the breaks with the asked quantity among them, smallest first."""
    breaks = {each.quantity: each for each in quoted.answer.breaks}
    asked = quoted.answer.at_quantity
    return [each for _, each in sorted({**breaks, asked.quantity: asked}.items())]


def show_breaks(console: Console, quoted: Quoted) -> None:
    """Show all quantities side by side, in several tables where the screen is too narrow."""
    breaks = all_breaks(quoted)
    heading(console, f"By quantity, {quoted.answer.currency}")
    lines = list(_lines(quoted, breaks))
    asked = quoted.answer.at_quantity.quantity
    for n, group in enumerate(_groups(lines, breaks, console.width)):
        if n:
            console.print()
        rows = [
            Row(
                (line.label, *(line.shows(each) if line.shows else "" for each in group)),
                line.style,
            )
            for line in lines
        ]
        quantities = [f"{each.quantity}{'*' if each.quantity == asked else ''}" for each in group]
        show_table(console, ["Units", *quantities], rows, point_under_header=True)
    absent = [name for fee, name in FEES.items() if _is_absent(fee, breaks)]
    nothing = f" Zero at each of these: {', '.join(absent).lower()}." if absent else ""
    paragraph(console, f"* asked for.{nothing}", style="dim")


def _lines(quoted: Quoted, breaks: Sequence[Break]) -> Iterator[Line]:
    inside = quoted.channel["prices_include_tax"]
    marks = marks_of_flags(breaks)
    yield Line("One unit", style="bold")
    yield Line(
        f"  Price {'with' if inside else 'without'} tax", lambda b: money(b.unit_price), "bold"
    )
    yield Line("  Price net of tax", lambda b: money(b.unit_price_net))
    yield Line("  Cost", lambda b: money(b.unit_cost))
    yield Line("The buyer pays", style="bold")
    yield Line("  Goods", lambda b: money(b.order_goods))
    yield Line("  Postage", lambda b: money(b.order_postage))
    yield Line(f"  Tax, {'included' if inside else 'added'}", lambda b: money(b.order_tax))
    yield Line("  Total to pay", lambda b: money(b.order_gross))
    yield Line("The shop keeps", style="bold")
    yield Line("  Net of tax", lambda b: money(b.order_net))
    yield Line("  Cost of the order", lambda b: money(b.cost.total))
    for fee, name in FEES.items():
        if not _is_absent(fee, breaks):
            yield _fee_line(fee, name)
    yield Line("  Fees together", lambda b: money(b.fees.total))
    yield Line("  Profit", lambda b: money(b.profit), "bold")
    yield Line("  Margin, % of net", lambda b: money(b.margin_pct))
    yield Line("  Markup, % of cost", lambda b: money(b.markup_pct))
    yield Line("Contribution an hour", style="bold")
    yield Line("  of machine time", lambda b: money(b.contribution_per_machine_hour))
    yield Line("  of labour", lambda b: money(b.contribution_per_labour_hour))
    yield Line("Machine hours", lambda b: physical(b.use.machine_h))
    if marks:
        yield Line("Look at", lambda b: " ".join(marks[flag] for flag in b.flags) or "-", "bold")


def _fee_line(fee: str, name: str) -> Line:
    return Line(f"  {name}", lambda b: money(getattr(b.fees, fee)))


def _is_absent(fee: str, breaks: Sequence[Break]) -> bool:
    return not any(getattr(each.fees, fee) for each in breaks)


def _groups(lines: Sequence[Line], breaks: Sequence[Break], width: int) -> list[Sequence[Break]]:
    """Split the breaks into as few tables as the width allows, about equally long."""
    label = max(len(line.label) for line in lines)
    widest = max(
        len(aligned([line.shows(each) for line in lines if line.shows])[0]) for each in breaks
    )
    most = max(1, (width - label) // (GAP + widest))
    tables = -(-len(breaks) // most)
    each_holds = -(-len(breaks) // tables)
    return [breaks[n : n + each_holds] for n in range(0, len(breaks), each_holds)]
