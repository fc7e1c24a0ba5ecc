"""A quote as a person reads it: the price, what it costs, the breaks, what to buy, what to know."""

from decimal import ROUND_HALF_EVEN, Decimal

from msgspec import UNSET
from rich.console import Console

from gramhour.contract.answer import Quote
from gramhour_service.answer.words import COST_LINES
from gramhour_service.commandline.breaks import all_breaks, show_breaks
from gramhour_service.commandline.needs import show_needs
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.ready import show_ready
from gramhour_service.commandline.remarks import show_flags, show_remarks
from gramhour_service.commandline.screen import Row, heading, money, paragraph, show_table
from gramhour_service.commandline.words import counted

PER_UNIT = Decimal("0.0001")
PERCENT = Decimal("0.1")


def show_quote(console: Console, quoted: Quoted, *, explained: bool = False) -> None:
    """Show a whole quote."""
    _show_heading(console, quoted)
    _show_cost(console, quoted)
    show_breaks(console, quoted)
    show_flags(console, quoted, all_breaks(quoted))
    show_needs(console, quoted)
    show_ready(console, quoted)
    show_remarks(console, quoted, explained=explained)


def _show_heading(console: Console, quoted: Quoted) -> None:
    answer, asked = quoted.answer, quoted.answer.at_quantity
    channel = quoted.name_of("channels", quoted.request["channel"])
    tax = quoted.channel.get("tax_rate_pct", 0)
    inside = quoted.channel["prices_include_tax"]
    units = counted(asked.quantity, "unit")
    name = quoted.request["product"].get("name", "Product without a name")
    paragraph(console, name, style="bold")
    prices = f"{answer.currency}, {tax} % tax {'inside' if inside else 'on top'}"
    paragraph(console, f"{units} | {channel} | {prices} | rules version {answer.rules}")
    console.print()
    discount = quoted.request.get("discount_pct", 0)
    less = f" after {discount} % discount" if Decimal(str(discount)) else ""
    paid_too = {"postage": asked.order_postage, "tax": asked.order_tax}
    included = " and ".join(word for word, amount in paid_too.items() if amount)
    paragraph(
        console,
        f"{money(asked.unit_price)} a unit{less}{'' if inside else ' before tax'}: the buyer pays "
        f"{money(asked.order_gross)} for {units}{f', {included} included' if included else ''}.",
        style="bold",
    )
    paragraph(
        console,
        f"A unit costs {money(asked.unit_cost)}. {_earned(asked.profit)}: margin "
        f"{_percent(asked.margin_pct)} of the net{_floor(quoted)}, markup "
        f"{_percent(asked.markup_pct)} of the cost.",
    )
    paragraph(console, _held(answer), style="dim")


def _earned(profit: Decimal) -> str:
    """Say what the order leaves, and a loss by that word."""
    if profit < 0:
        return f"The order makes a loss of {money(-profit)}"
    return f"The order's profit is {money(profit)}"


def _floor(quoted: Quoted) -> str:
    """Say of a margin that it is under the channel's floor."""
    is_under = "below_margin_floor" in quoted.answer.at_quantity.flags
    return f" (under the floor of {quoted.channel['margin_floor_pct']} %)" if is_under else ""


def _held(answer: Quote) -> str:
    """Say until when the quote holds, and which rates it was made with."""
    known = "" if answer.rates_revision is UNSET else f", revision {answer.rates_revision}"
    until = "" if answer.valid_until is UNSET else f"Holds until {answer.valid_until:%Y-%m-%d}. "
    return f"{until}Rates of {answer.rates_on}{known}."


def _show_cost(console: Console, quoted: Quoted) -> None:
    """Show the cost lines; those that are zero by name, on one line below."""
    asked = quoted.answer.at_quantity
    total = asked.cost.total
    amounts = {name: getattr(asked.cost, line) for line, name in COST_LINES.items()}
    rows = [
        Row((name, money(amount), _per_unit(amount, asked.quantity), _share(amount, total)))
        for name, amount in amounts.items()
        if amount
    ]
    together = ("Together", money(total), money(asked.unit_cost), _share(total, total))
    heading(console, f"Cost of {counted(asked.quantity, 'unit')}, {quoted.answer.currency}")
    header = ("", "The order", "One unit", "Share, %")
    show_table(console, header, [*rows, Row(together, "bold")])
    nothing = [name.lower() for name, amount in amounts.items() if not amount]
    if nothing:
        paragraph(console, f"No cost: {', '.join(nothing)}.", style="dim")


def _per_unit(amount: Decimal, units: int) -> str:
    """Divide a line by the units, for reading: the answer itself divides the total alone."""
    return money((amount / units).quantize(PER_UNIT, ROUND_HALF_EVEN))


def _share(amount: Decimal, total: Decimal) -> str:
    """Write a line's share of the whole cost in per cent."""
    return money((amount * 100 / total).quantize(PERCENT, ROUND_HALF_EVEN)) if total else "none"


def _percent(ratio: Decimal | None) -> str:
    return "none" if ratio is None else f"{money(ratio)} %"
