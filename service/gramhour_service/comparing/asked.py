"""From a comparison as it was sent to what is computed: a job for each alternative."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any, NamedTuple

from msgspec import UNSET, UnsetType

from gramhour.contract.answer import Caution
from gramhour.contract.channel import Aim
from gramhour.contract.comparison import ComparisonRequest, Criterion
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.product import Product
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_comparison
from gramhour.contract.request import QuoteRequest
from gramhour.contract.workload import Workload
from gramhour_service.calculation.aim import aim_at
from gramhour_service.calculation.arithmetic import costing_arithmetic, half_up
from gramhour_service.calculation.job import GivenPrice, Job
from gramhour_service.comparing.alternatives import Changed, changed, faults_of_labels, placed
from gramhour_service.comparing.purchase import Bought, bought_of
from gramhour_service.comparing.ready import Scheduling
from gramhour_service.resolve.days import day_at
from gramhour_service.resolve.lead_time import Outside
from gramhour_service.resolve.members import defaults_of
from gramhour_service.resolve.rates import Kept
from gramhour_service.resolve.request import Resolved, resolve
from gramhour_service.resolve.sheet import check_minor_unit
from gramhour_service.sheets.asked import Asked, FindSheet, sheet_asked
from gramhour_service.sheets.workload import outside_of


class Way(NamedTuple):
    """An alternative as it is computed.

    ``job`` has the alternative's own price, ``at_market`` the market's where one was given.
    """

    label: str
    job: Job
    at_market: Job
    bought: Bought | None
    scheduling: Scheduling


class Sought(NamedTuple):
    """A comparison as it is computed. ``scanned`` are the quantities to find intervals over."""

    ways: tuple[Way, ...]
    criterion: Criterion
    quantities: tuple[int, ...]
    scanned: range
    market_price: Decimal | None
    demand_per_month: Decimal | None
    currency: str
    revision: int | UnsetType
    on: date
    cautions: tuple[Caution, ...]


def sought(
    find: FindSheet, now: datetime, sent: Any, read: Callable[[], Workload | None] = lambda: None
) -> Sought:
    """Read a comparison with the sheet that it is to be priced by, and resolve it.

    ``read`` reads the stored workload, where ready dates need it. Raises ``Refused`` with every
    fault found.
    """
    found, faults = sheet_asked(find, sent)
    sheet = None if found is None else found.in_force.sheet
    try:
        request = read_comparison(sent, sheet)
    except Refused as refused:
        raise Refused(refused.type, (*faults, *refused.faults)) from None
    _raise_if([*faults])
    kept = None if found is None else found.in_force.kept
    outside = _outside(request, sheet, now, read)
    ways, resolved = _ways(request, sheet, kept, outside)
    asked_on = request.rates_on
    if found is not None:
        on = found.on
    else:
        on = day_at(now, resolved.sheet) if asked_on is UNSET else asked_on
    return Sought(
        ways=ways,
        criterion=_criterion(request),
        quantities=tuple(sorted(set(request.quantities))),
        scanned=_scanned(request, resolved),
        market_price=_market_price(request, resolved),
        demand_per_month=None if request.demand_per_month is UNSET else request.demand_per_month,
        currency=resolved.sheet.currency,
        revision=UNSET if found is None else found.in_force.revision,
        on=on,
        cautions=resolved.cautions,
    )


def _criterion(request: ComparisonRequest) -> Criterion:
    if request.criterion is not UNSET:
        return request.criterion
    default: Criterion = defaults_of(ComparisonRequest)["criterion"]
    return default


def _raise_if(faults: list[Fault]) -> None:
    if faults:
        raise Refused("invalid-request", tuple(dict.fromkeys(faults)))


def _outside(
    request: ComparisonRequest,
    sheet: RateSheet | None,
    now: datetime,
    read: Callable[[], Workload | None],
) -> Outside:
    """Say what ready dates depend on outside, as those of a quote do."""
    return outside_of(Asked(_quote_of(request, request.product), sheet, UNSET, UNSET), now, read)


def _ways(
    request: ComparisonRequest, sheet: RateSheet | None, kept: Kept | None, outside: Outside
) -> tuple[tuple[Way, ...], Resolved]:
    """Resolve every alternative as the quote that it is."""
    faults = [*faults_of_labels(request.alternatives)]
    if _criterion(request) == "margin" and request.market_price is UNSET:
        detail = "the margin is that at a market price: give market_price, or another criterion"
        faults.append(Fault("/criterion", detail))
    made = [changed(request, n, faults) for n in range(len(request.alternatives))]
    quotes = [_quote_of(request, each.product) for each in made]
    resolved: list[Resolved] = []
    with costing_arithmetic():
        for n, quote in enumerate(quotes):
            try:
                found = resolve(quote, sheet, kept=kept)
                resolved.append(found._replace(job=_with_own_aim(request, found.job)))
            except Refused as refused:
                faults += _placed(refused, request, n, made[n])
        if resolved:
            faults += _faults_of_numbers(request, resolved[0])
        _raise_if(faults)
        ways = tuple(
            _way(request, n, Scheduling(quote, each, outside, kept), faults)
            for n, (quote, each) in enumerate(zip(quotes, resolved, strict=True))
        )
    _raise_if(faults)
    return ways, resolved[0]._replace(cautions=_cautions(ways, resolved))


def _cautions(ways: Sequence[Way], resolved: Sequence[Resolved]) -> tuple[Caution, ...]:
    """Tell those of the first way, and what others have beside them, with their labels."""
    first = resolved[0].cautions
    others = (
        Caution(hazard=each.hazard, says=f"{way.label}: {each.says}")
        for way, found in zip(ways, resolved, strict=True)
        for each in found.cautions
        if each not in first
    )
    return (*first, *others)


def _placed(
    refused: Refused, request: ComparisonRequest, number: int, made: Changed
) -> Iterator[Fault]:
    for fault in refused.faults:
        told = placed(fault, request, number, made)
        if told is not None:
            yield told


def _quote_of(request: ComparisonRequest, product: Product) -> QuoteRequest:
    return QuoteRequest(
        product=product,
        quantity=request.quantities[0],
        breaks=request.quantities,
        channel=request.channel,
        aim=_stand_in(request) or request.aim,
        rates=request.rates,
        rate_overrides=request.rate_overrides,
        from_=request.from_,
        workload=request.workload,
    )


def _stand_in(request: ComparisonRequest) -> Aim | None:
    """Let the market price be the own one where neither request nor channel has an aim."""
    if request.aim is not UNSET or request.market_price is UNSET:
        return None
    return Aim(unit_price=request.market_price)


def _with_own_aim(request: ComparisonRequest, job: Job) -> Job:
    """Put what stands in for an aim where it counts last: behind the channel's own."""
    if _stand_in(request) is None:
        return job
    return replace(job, aim=None, channel=replace(job.channel, aim=job.channel.aim or job.aim))


def _faults_of_numbers(request: ComparisonRequest, resolved: Resolved) -> Iterator[Fault]:
    """Find what the numbers asked for contradict the channel in."""
    faults: list[Fault] = []
    digits = resolved.job.rates.minor_digits
    check_minor_unit(request.market_price, ("market_price",), digits, faults)
    yield from faults
    if request.up_to is UNSET:
        return
    quantities = _scanned(request, resolved)
    if not quantities:
        yield Fault("/up_to", f"this channel sells multiples of {quantities.step}; ask for more")
    elif aim_at(resolved.job.aim, resolved.job.channel, quantities[0]) is None:
        detail = f"nothing says what the price of {quantities[0]} is to reach; give an aim here"
        yield Fault("/aim", detail)


def _scanned(request: ComparisonRequest, resolved: Resolved) -> range:
    """List the quantities that the channel sells, up to the one asked."""
    channels = resolved.sheet.channels
    assert channels is not UNSET, "the reader lets only codes through that the sheet has"
    sold = channels[request.channel].multiple_of
    multiple = 1 if sold is UNSET else sold
    up_to = 0 if request.up_to is UNSET else request.up_to
    return range(multiple, up_to + 1, multiple)


def _market_price(request: ComparisonRequest, resolved: Resolved) -> Decimal | None:
    """Write the market price with the decimals that buyers see."""
    if request.market_price is UNSET:
        return None
    return half_up(request.market_price, resolved.job.rates.minor_digits)


def _way(
    request: ComparisonRequest, number: int, scheduling: Scheduling, faults: list[Fault]
) -> Way:
    resolved = scheduling.resolved
    alternative, job = request.alternatives[number], resolved.job
    price = _market_price(request, resolved)
    at_market = job if price is None else replace(job, aim=GivenPrice(price))
    bought = None
    if alternative.purchase is not UNSET:
        place = pointer("alternatives", number, "purchase", "machine")
        bought = bought_of(alternative.purchase, resolved.sheet, place, faults)
    return Way(alternative.label, job, at_market, bought, scheduling)
