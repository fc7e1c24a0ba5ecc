"""A quote in figures: every column of the workbook priced by the calculation's own functions."""

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any, NamedTuple

from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.job import GivenPrice, Job
from gramhour_service.resolve.measured import OwnPart
from gramhour_service.resolve.members import Notes
from gramhour_service.resolve.request import Resolved
from gramhour_service.workbook.calculating import bound
from gramhour_service.workbook.figures import (
    Condition,
    Figure,
    cell,
    conditions_kept,
    figures_shared,
    formula,
    named,
    plain,
    rely,
)
from gramhour_service.workbook.flags import flags_of
from gramhour_service.workbook.layout import in_words
from gramhour_service.workbook.members import FigureMembers
from gramhour_service.workbook.pricing import priced
from gramhour_service.workbook.purchases import Bought, bought_for
from gramhour_service.workbook.rates import FigureRates

ASKED = "/quantity"
Told = tuple[str, str, Decimal]
"""A figure's dotted name, the name of its rule, and its number."""


class Column(NamedTuple):
    """What is told of one quantity, in the order in which it is computed."""

    quantity: Figure
    figures: tuple[Told, ...]
    bought: tuple[tuple[Bought, Decimal], ...]


class InFigures(NamedTuple):
    """A quote in figures, and what it relies on that no formula sees."""

    job: Job
    columns: tuple[Column, ...]
    conditions: tuple[Condition, ...]


def in_figures(request: QuoteRequest, resolved: Resolved, own: OwnPart | None) -> InFigures:
    """Compute a quote in figures. Call it within ``costing_arithmetic``."""
    conditions: list[Condition] = []
    with figures_shared(), conditions_kept(conditions):
        job, multiple = _job(request, resolved, own)
        made = bound.builds_of_product(job.product, job.rates)
        quantities = [cell(resolved.job.quantity, ASKED, "units asked for")]
        quantities += [
            cell(quantity, f"/breaks/{n}", "units to be priced as well")
            for n, quantity in enumerate(resolved.job.breaks)
        ]
        breaks = [priced(job, made, quantity) for quantity in quantities]
        flags = [flags_of(each, job.channel, breaks[1:]) for each in breaks]
        _rely_on_quantities(quantities, multiple)
        _rely_on_prices(job)
        _rely_on_rows(job)
        columns = tuple(
            Column(
                quantity,
                (*_told(each), *[(f"flags.{name}", name, v) for name, v in raised.items()]),
                tuple(bought_for(each, resolved.sheet, job.rates.minor_digits)),
            )
            for quantity, each, raised in zip(quantities, breaks, flags, strict=True)
        )
    return InFigures(job, columns, tuple(conditions))


def _job(request: QuoteRequest, resolved: Resolved, own: OwnPart | None) -> tuple[Job, Decimal]:
    """Read the job again, its numbers as figures."""
    notes = Notes(explain=False)
    members = FigureMembers(request, (), notes)
    rates = FigureRates(resolved.sheet, notes, request.rate_overrides)
    channel = rates.channel(request.channel)
    if own is None:
        product = bound.resolve_product(members.part("product"), rates)
    else:
        product = bound.resolve_part(own, request.product, rates)
        channel = bound.packed(own, channel, rates)
    job = Job(
        product=product,
        quantity=resolved.job.quantity,
        breaks=resolved.job.breaks,
        channel=channel,
        rates=rates.shop(),
        aim=bound.aim_of(members.part("aim")) if members.has("aim") else None,
        discount_share=members.share("discount_pct"),
    )
    return job, rates.members("channels", request.channel).amount("multiple_of")


def _told(each: object) -> list[Told]:
    figures = (*bound.figures_of_break(each), *bound.figures_of_use(each.use))  # type: ignore[attr-defined]
    return [told for told in figures if told[2] is not None]


def _rely_on_quantities(quantities: Sequence[Figure], multiple: Decimal) -> None:
    """Note that quantities are what the channel sells, and that breaks rise."""
    for quantity in quantities:
        left = quantity % multiple
        says = f"{in_words(quantity)} is a multiple of how many are sold at once (multiple of)"
        rely("=", left, 0, outcome=not plain(left), says=says)
    for smaller, larger in pairwise(quantities[1:]):
        rely("<", smaller, larger, outcome=True)


def _rely_on_prices(job: Job) -> None:
    """Note what the resolving of a sheet refuses: prices that no buyer could be shown."""
    channel, digits = job.channel, job.rates.minor_digits
    step, ending = channel.price_step, channel.price_ending
    fits = formula("IF({0}=0;1;IF({0}<{1};1;0))", 1, ending, step)
    says = "price ending is less than price step"
    rely("=", named(fits, "the ending is below the step"), 1, outcome=True, says=says)
    shown = [step, ending, channel.minimum_order, *(row.charged for row in channel.postage)]
    shown += [each.unit_price for each in (job.aim, channel.aim) if isinstance(each, GivenPrice)]
    for amount in shown:
        rounded = formula(f"ROUND({{0}};{digits})", amount, amount)
        name = in_words(amount) if isinstance(amount, Figure) else "a price"
        says = f"{name} has at most {digits} decimals, as prices have"
        rely("=", rounded, amount, outcome=True, says=says)


def _rely_on_rows(job: Job) -> None:
    """Note that rows of postage and of margins rise: two of the same size are refused."""
    postage: list[Any] = [row.up_to_units for row in job.channel.postage]
    margins: list[Any] = [start for start, _ in job.channel.margin_breaks]
    for smaller, larger in (*pairwise(postage), *pairwise(margins)):
        rely("<", smaller, larger, outcome=True)
