"""Resolves a whole quote request."""

from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.answer import Basis, Caution
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet, overridden
from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.aim import aim_at
from gramhour_service.calculation.job import Job
from gramhour_service.calculation.orders import Orders
from gramhour_service.resolve.described import Described, described
from gramhour_service.resolve.kinds import aim_of
from gramhour_service.resolve.measured import OwnPart
from gramhour_service.resolve.members import Members, Notes, place_of_rate
from gramhour_service.resolve.rates import Kept, Rates
from gramhour_service.resolve.sheet import check_minor_unit, faults_of_sheet
from gramhour_service.resolve.unlikely import unlikely_in_request


class Resolved(NamedTuple):
    """A job, the orders of its product, and what the answer says beside its numbers."""

    job: Job
    orders: Orders
    sheet: RateSheet
    basis: tuple[Basis, ...]
    cautions: tuple[Caution, ...]


def resolve(
    request: QuoteRequest,
    sheet: RateSheet | None,
    *,
    kept: Kept | None = None,
    explain: bool = False,
    own: OwnPart | None = None,
) -> Resolved:
    """Resolve a request against its own rates, else against ``sheet``, which must be sound.

    ``own`` is the measured part that its product was made of, where it was made of one.
    ``kept`` has what was resolved of ``sheet`` before, and gets more. With ``explain`` all
    numbers remember where they came from. Call it within ``costing_arithmetic``. Raises
    ``Refused`` with every fault found.
    """
    kept = kept if request.rates is UNSET else None
    sheet = _sheet_of(request, sheet)
    notes = Notes(explain)
    rates = Rates(sheet, notes, request.rate_overrides, kept)
    found = described(request, rates, own)
    job = _job(Members(request, (), notes), rates, found)
    _raise_if(notes.faults)
    cautions = (*found.cautions, *unlikely_in_request(request))
    return Resolved(job, found.orders, sheet, tuple(notes.basis), cautions)


def _sheet_of(request: QuoteRequest, sheet: RateSheet | None) -> RateSheet:
    """Take the request's own rates, else the sheet, with the request's overrides in place."""
    faults: list[Fault] = []
    if request.rates is not UNSET:
        sheet = request.rates
        faults = faults_of_sheet(sheet, place_of_rate(UNSET))
    assert sheet is not None, "the reader asks for rates"
    if request.rate_overrides is UNSET:
        _raise_if(faults)
        return sheet
    sheet = overridden(sheet, request.rate_overrides)
    _raise_if(faults_of_sheet(sheet, place_of_rate(request.rate_overrides)))
    return sheet


def _raise_if(faults: list[Fault]) -> None:
    if faults:
        raise Refused("invalid-request", tuple(faults))


def _job(request: Members, rates: Rates, found: Described) -> Job:
    asked = request.struct
    assert isinstance(asked, QuoteRequest)
    if asked.aim is not UNSET:
        check_minor_unit(
            asked.aim.unit_price, ("aim", "unit_price"), rates.digits, request.notes.faults
        )
    job = Job(
        product=found.product,
        quantity=asked.quantity,
        breaks=_breaks(request, rates.sheet, found.multiple),
        channel=found.channel,
        rates=found.shop,
        aim=aim_of(request.part("aim")) if request.has("aim") else None,
        discount_share=request.share("discount_pct"),
    )
    _check_aims(request, job)
    return job


def _breaks(request: Members, sheet: RateSheet, multiple: int) -> tuple[int, ...]:
    """Sort the asked breaks; default ones are rounded up to multiples that the channel sells."""
    asked = request.struct
    assert isinstance(asked, QuoteRequest)
    _check_multiple(request, ("quantity",), asked.quantity, multiple)
    if asked.breaks is UNSET:
        return usual_breaks(sheet, multiple)
    for n, quantity in enumerate(asked.breaks):
        _check_multiple(request, ("breaks", n), quantity, multiple)
    return tuple(sorted(set(asked.breaks)))


def usual_breaks(sheet: RateSheet, multiple: int) -> tuple[int, ...]:
    """List the sheet's default breaks, rounded up to multiples that a channel sells."""
    default = [] if sheet.default_breaks is UNSET else sheet.default_breaks
    return tuple(sorted({-(-quantity // multiple) * multiple for quantity in default}))


def _check_multiple(
    request: Members, place: tuple[str | int, ...], quantity: int, multiple: int
) -> None:
    if quantity % multiple:
        below = quantity // multiple * multiple
        nearest = f"{below} or {below + multiple}" if below else str(multiple)
        request.notes.refuse(
            place, f"this channel sells multiples of {multiple}, not {quantity}; ask for {nearest}"
        )


def _check_aims(request: Members, job: Job) -> None:
    if job.aim or job.channel.aim:
        return
    without = [
        quantity
        for quantity in sorted({*job.breaks, job.quantity})
        if aim_at(job.aim, job.channel, quantity) is None
    ]
    if without:
        request.refuse(
            "aim",
            f"nothing says what the price of {', '.join(map(str, without))} is to reach; give an "
            "aim here or in the channel: margin_pct, markup_pct or unit_price",
        )
