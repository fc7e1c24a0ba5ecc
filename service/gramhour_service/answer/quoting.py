"""From a quote request, as it was sent, to its answer in the cost view."""

from datetime import date
from typing import Any, NamedTuple

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from gramhour.contract import answer
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_request
from gramhour.contract.request import QuoteRequest
from gramhour_service.answer.explanation import explanations, without_working
from gramhour_service.answer.lead_time import with_lead_time
from gramhour_service.calculation.arithmetic import (
    ZERO,
    CannotBePriced,
    as_line,
    costing_arithmetic,
    half_up,
)
from gramhour_service.calculation.breaks import Break, FlaggedBreak, quote
from gramhour_service.calculation.components import Purchase
from gramhour_service.calculation.costs import CostLines, Costs
from gramhour_service.calculation.feedstock import PacksBought
from gramhour_service.calculation.fees import Fees
from gramhour_service.calculation.rules import VERSION
from gramhour_service.calculation.use import Use
from gramhour_service.resolve.days import end_of_validity
from gramhour_service.resolve.lead_time import Outside
from gramhour_service.resolve.measured import OwnPart
from gramhour_service.resolve.members import defaults_of
from gramhour_service.resolve.rates import Kept
from gramhour_service.resolve.request import Resolved, resolve


def answer_quote(
    sent: Any,
    sheet: RateSheet | None = None,
    *,
    revision: int | UnsetType = UNSET,
    on: date | UnsetType = UNSET,
    outside: Outside | None = None,
    explain: bool = False,
) -> answer.Quote:
    """Answer a quote request given as plain values (of JSON or TOML), numbers exact.

    ``sheet`` is a sound rate sheet, for requests without their own ``rates``: the stored one as
    known at ``revision``. ``on`` is today in the shop, if the quote is to say until when it holds;
    a day that the request names goes before it. ``outside`` is the moment and the workload then,
    for the lead time of a request that does not name its own. Raises ``Refused`` with every fault
    found, or with why no price can be given.
    """
    return answer_request(
        read_request(sent, sheet),
        sheet,
        revision=revision,
        on=on,
        outside=outside,
        explain=explain,
    )


def answer_request(  # noqa: PLR0913 - what a quote depends on, each by its name
    request: QuoteRequest,
    sheet: RateSheet | None,
    *,
    revision: int | UnsetType = UNSET,
    on: date | UnsetType = UNSET,
    kept: Kept | None = None,
    outside: Outside | None = None,
    explain: bool = False,
    own: OwnPart | None = None,
) -> answer.Quote:
    """Answer a quote request that was read with the codes of ``sheet``; see ``answer_quote``.

    ``kept`` has what was resolved of ``sheet`` before, and gets more. ``own`` is the measured part
    that the product was made of, where it was made of one.
    """
    try:
        with costing_arithmetic():
            resolved = resolve(request, sheet, kept=kept, explain=explain, own=own)
            figures = _figures_once(resolved, explain=explain)
            told = with_lead_time(
                _answer(resolved, figures),
                request,
                resolved,
                figures.order,
                outside,
                kept,
                is_measured=own is not None,
            )
    except CannotBePriced as error:
        raise Refused("cannot-be-priced", (Fault(error.pointer, error.detail),)) from None
    day = on if request.rates_on is UNSET else request.rates_on
    return told if day is UNSET else _dated(told, request, resolved.sheet, revision, day)


def _dated(
    told: answer.Quote,
    request: QuoteRequest,
    sheet: RateSheet,
    revision: int | UnsetType,
    on: date,
) -> answer.Quote:
    """Add which rates of which day were used, and until when the quote holds."""
    default: int = defaults_of(QuoteRequest)["valid_days"]
    days = default if request.valid_days is UNSET else request.valid_days
    return replace(
        told,
        rates_revision=revision if request.rates is UNSET else UNSET,
        rates_on=on,
        valid_until=end_of_validity(on, days, sheet),
    )


class _Figures(NamedTuple):
    """The figures of an answer, and the order of the asked quantity that they tell."""

    order: Break
    at_quantity: answer.Break
    breaks: tuple[answer.Break, ...]


def _answer(resolved: Resolved, figures: _Figures) -> answer.Quote:
    return answer.Quote(
        currency=resolved.sheet.currency,
        rules=VERSION,
        at_quantity=figures.at_quantity,
        breaks=list(figures.breaks),
        basis=list(resolved.basis),
        cautions=list(resolved.cautions),
    )


def _figures_once(resolved: Resolved, *, explain: bool) -> _Figures:
    """Price a job and tell its figures; who asks the same again is told the same."""
    job = resolved.job
    asked = job.quantity, job.breaks, job.aim, job.discount_share
    figures: _Figures = resolved.orders.told.of(asked, lambda: _figures(resolved, explain=explain))
    return figures


def _figures(resolved: Resolved, *, explain: bool) -> _Figures:
    priced = quote(resolved.job, resolved.orders)
    at_quantity, *breaks = (
        _told_once(resolved, each, explain=explain) for each in (priced.at_quantity, *priced.breaks)
    )
    return _Figures(priced.at_quantity.priced, at_quantity, tuple(breaks))


def _told_once(resolved: Resolved, flagged: FlaggedBreak, *, explain: bool) -> answer.Break:
    """Tell a break; who asks for it among other breaks is told the same, but for its flags."""
    job = resolved.job
    asked = flagged.priced.quantity, job.aim, job.discount_share, flagged.flags
    told: answer.Break = resolved.orders.told.of(
        asked, lambda: _break(flagged, job.rates.minor_digits, explain=explain)
    )
    return told


def _break(flagged: FlaggedBreak, digits: int, *, explain: bool) -> answer.Break:
    each = without_working(flagged.priced) if explain else flagged.priced
    settled = each.priced.settled
    return answer.Break(
        quantity=each.quantity,
        unit_price=settled.unit_price,
        unit_price_net=each.unit_price_net,
        order_goods=settled.goods,
        order_postage=settled.postage_charged,
        order_net=settled.net,
        order_tax=settled.tax,
        order_gross=settled.gross,
        unit_cost=each.unit_cost,
        cost=_cost_lines(each.costs.lines),
        fees=_fees(settled.fees),
        profit=settled.profit,
        margin_pct=each.margin_pct,
        markup_pct=each.markup_pct,
        contribution_per_machine_hour=each.contribution_per_machine_hour,
        contribution_per_labour_hour=each.contribution_per_labour_hour,
        use=_use(each.use),
        purchases=_purchases(each.costs, digits),
        flags=list(flagged.flags),
        explain=explanations(flagged) if explain else UNSET,
    )


def _cost_lines(lines: CostLines) -> answer.CostLines:
    return answer.CostLines(
        feedstock=lines.feedstock,
        components=lines.components,
        machine=lines.machine,
        energy=lines.energy,
        nozzle_wear=lines.nozzle_wear,
        labour=lines.labour,
        scrap=lines.scrap,
        rejects=lines.rejects,
        packaging=lines.packaging,
        design=lines.design,
        material_overhead=lines.material_overhead,
        production_overhead=lines.production_overhead,
        admin_overhead=lines.admin_overhead,
        total=lines.total,
    )


def _fees(fees: Fees) -> answer.Fees:
    return answer.Fees(
        channel=fees.channel,
        payment=fees.payment,
        fixed=fees.fixed,
        postage=fees.postage,
        design_share=fees.design_share,
        total=fees.total,
    )


def _use(use: Use) -> answer.Use:
    return answer.Use(
        feedstock_g={code: float(as_line(grams)) for code, grams in use.feedstock_g.items()},
        machine_h=float(as_line(use.machine_h)),
        machine_h_by={code: float(as_line(hours)) for code, hours in use.machine_h_by.items()},
        builds=use.builds,
        build_starts=float(as_line(use.build_starts)),
        labour_min=float(as_line(use.labour_min)),
        energy_kwh=float(as_line(use.energy_kwh)),
    )


def _purchases(costs: Costs, digits: int) -> list[answer.Purchase]:
    materials = [_material_purchase(bought, digits) for bought in costs.packs_bought]
    return materials + [row for each in costs.purchases for row in _component_rows(each, digits)]


def _material_purchase(bought: PacksBought, digits: int) -> answer.Purchase:
    pack = bought.material.pack
    assert pack is not None
    return answer.Purchase(
        material=bought.material.code,
        pack_quantity=float(pack.pack_g),
        packs=bought.packs,
        price=half_up(bought.price, digits),
        shipping=half_up(ZERO, digits),
        left_over=float(as_line(bought.left_over_g)),
    )


def _component_rows(purchase: Purchase, digits: int) -> list[answer.Purchase]:
    """One row a pack size, largest first; shipping on the first, what is left over on the last."""
    rows = sorted(zip(purchase.packs, purchase.prices, strict=True), reverse=True)
    return [
        answer.Purchase(
            component=purchase.component.code,
            pack_quantity=packs.pack_quantity,
            packs=packs.packs,
            price=half_up(price, digits),
            shipping=half_up(purchase.shipping if n == 0 else ZERO, digits),
            left_over=purchase.left_over if n == len(rows) - 1 else 0,
        )
        for n, (packs, price) in enumerate(rows)
    ]
