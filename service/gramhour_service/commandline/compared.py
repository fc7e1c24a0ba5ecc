"""A comparison as a person reads it: the ways by quantity, the best first; intervals in words."""

from typing import Any

from msgspec import UNSET
from rich.console import Console

from gramhour.contract.compared import (
    Compared,
    ComparedAlternative,
    Comparison,
    Interval,
    Payback,
    Ranking,
)
from gramhour_service.commandline.remarks import show_cautions
from gramhour_service.commandline.screen import (
    Row,
    heading,
    money,
    paragraph,
    physical,
    show_table,
)
from gramhour_service.commandline.words import counted
from gramhour_service.comparing.evaluating import THE_LOWEST

CRITERIA = {
    "unit_cost": "the lowest cost of a unit",
    "unit_price": "the lowest price of a unit",
    "margin": "the highest margin at the market price",
    "contribution_per_machine_hour": "the highest contribution per machine hour",
    "contribution_per_labour_hour": "the highest contribution per labour hour",
}
SPENT = (
    "What is owned counts as spent, its depreciation too: machine hours that are saved gain "
    "nothing here, unless they are sold."
)
FIRST, OTHERS = "  ", "    "


def show_comparison(console: Console, comparison: Comparison, request: dict[str, Any]) -> None:
    """Show a whole comparison."""
    _show_heading(console, comparison, request)
    for ranking in comparison.rankings:
        _show_ranking(console, comparison, ranking)
    if comparison.intervals is not UNSET:
        _show_intervals(console, comparison.intervals)
    for alternative in comparison.alternatives:
        _show_payback(console, comparison, alternative)
    if any(each.payback is not UNSET for each in comparison.alternatives):
        paragraph(console, SPENT)
    show_cautions(console, comparison.cautions)


def _show_heading(console: Console, comparison: Comparison, request: dict[str, Any]) -> None:
    paragraph(console, request["product"].get("name", "Product without a name"), style="bold")
    revision = comparison.rates_revision
    known = "" if revision is UNSET else f", revision {revision}"
    paragraph(
        console,
        f"{request['channel']} | {comparison.currency} | rates of {comparison.rates_on}{known} | "
        f"rules version {comparison.rules}",
    )
    price = comparison.market_price
    sold = "each sold at its own price" if price is UNSET else f"all sold at {money(price)}"
    best = CRITERIA.get(comparison.criterion, comparison.criterion)
    paragraph(console, f"Best is {best}; {sold}.")


def _show_ranking(console: Console, comparison: Comparison, ranking: Ranking) -> None:
    """Show the ways at one quantity, the best first."""
    at = {
        alternative.label: next(e for e in alternative.at if e.quantity == ranking.quantity)
        for alternative in comparison.alternatives
    }
    has_market = comparison.market_price is not UNSET
    rows = [
        Row((ranked.label, *_cells(at[ranked.label], has_market=has_market)), style)
        for ranked, style in zip(
            ranking.alternatives, ("bold", *[""] * len(ranking.alternatives)), strict=False
        )
    ]
    heading(console, f"{counted(ranking.quantity, 'unit')}, the best first")
    price = "Own\nprice" if has_market else "\nPrice"
    header = ("", "Unit\ncost", price, "Margin\n%", "\nProfit", "Machine\nh", "Work\nmin",
              "a machine\nhour", "a labour\nhour")  # fmt: skip
    show_table(console, header, rows)
    _show_losing(console, comparison, ranking)
    _show_ready(console, ranking, at)


def _show_losing(console: Console, comparison: Comparison, ranking: Ranking) -> None:
    """Say that even the best way loses money; by the hour its rank is no reason to take it."""
    best = ranking.alternatives[0].value
    if comparison.criterion in THE_LOWEST or best is None or best >= 0:
        return
    price = "its own price" if comparison.market_price is UNSET else "this price"
    units = counted(ranking.quantity, "unit")
    by_hour = " A loss over more hours is less an hour: look at the profit."
    paragraph(
        console,
        f"At {units} none earns anything: each loses money at {price}."
        + by_hour * comparison.criterion.endswith("_hour"),
    )


def _show_ready(console: Console, ranking: Ranking, at: dict[str, Compared]) -> None:
    """Say when each way is ready, where the sheet has staffed hours."""
    days = {each.label: at[each.label].ready_on for each in ranking.alternatives}
    told = [
        f"{label} {'cannot be scheduled' if day is None else day}"
        for label, day in days.items()
        if day is not UNSET
    ]
    if told:
        paragraph(console, f"Ready on: {'; '.join(told)}.", style="dim")


def _cells(each: Compared, *, has_market: bool) -> tuple[str, ...]:
    margin = each.market_margin_pct if has_market else each.margin_pct
    return (
        money(each.unit_cost),
        money(each.unit_price),
        "none" if margin is UNSET else money(margin),
        money(each.profit),
        physical(each.machine_h),
        physical(each.labour_min, 1),
        money(each.contribution_per_machine_hour),
        money(each.contribution_per_labour_hour),
    )


def _show_intervals(console: Console, intervals: list[Interval]) -> None:
    heading(console, "Which is best at how many")
    for each in intervals:
        only = each.from_quantity == each.to_quantity
        units = f"{each.from_quantity}" if only else f"{each.from_quantity} to {each.to_quantity}"
        best = "none has a value to compare" if each.label is None else each.label
        paragraph(console, f"{units}: {best}", first=FIRST, others=OTHERS)


def _show_payback(
    console: Console, comparison: Comparison, alternative: ComparedAlternative
) -> None:
    if alternative.payback is UNSET:
        return
    first = comparison.alternatives[0].label
    heading(console, f"When has it paid for itself: {alternative.label}, against {first}")
    for each in alternative.payback:
        orders = f"In orders of {each.quantity}"
        paragraph(console, f"{orders}: {_paid(each)} {_full(each)}", first=FIRST, others=OTHERS)


def _paid(each: Payback) -> str:
    gain = f"a unit brings {money(abs(each.gain_per_unit))}"
    if each.units is None:
        less = f"{gain} less" if each.gain_per_unit < 0 else "a unit brings no more"
        return f"never; {less}."
    months = each.months
    time = "" if months is UNSET or months is None else f", {physical(months, 1)} months"
    return f"after {counted(each.units, 'unit')}{time}; {gain} more."


def _full(each: Payback) -> str:
    if each.machine_h_when_full is None:
        return ""
    hours = physical(each.machine_h_when_full, 1)
    return f"Where every machine hour is sold: after {hours} machine hours."
