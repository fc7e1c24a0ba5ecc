"""Checks a rate sheet as a whole: what its members say together.

Shapes, bounds and codes were checked when it was read; here is what needs two members or
the currency to tell.
"""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from msgspec import UNSET

from gramhour.contract.channel import Channel
from gramhour.contract.hours import WEEKDAYS, StaffedHours
from gramhour.contract.machine import Machine
from gramhour.contract.material import Material
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.rates import RateSheet
from gramhour.contract.reading import read_sheet
from gramhour_service.resolve.currency import UnknownCurrency, minor_digits
from gramhour_service.resolve.days import is_time_zone
from gramhour_service.resolve.own_parts import faults_of_own_parts
from gramhour_service.resolve.staffed_days import seconds_of_shift

Place = tuple[str | int, ...]
Placed = Callable[..., Place]

NO_TIME_ZONE = "'{}' is no time zone of the tz database; write one such as Europe/Vienna, or UTC"


def sound_sheet(sent: Any) -> RateSheet:
    """Read a rate sheet and check it as a whole. Raises ``Refused`` with every fault found."""
    sheet = read_sheet(sent)
    faults = faults_of_sheet(sheet)
    if faults:
        raise Refused("invalid-rates", tuple(faults))
    return sheet


def faults_of_sheet(sheet: RateSheet, placed: Placed = lambda *at: at) -> list[Fault]:
    """Find what the members of a sheet contradict each other in.

    ``placed`` says where a rate of a kind and code, or a sheet-wide member, stands in what was
    sent.
    """
    faults: list[Fault] = []
    try:
        digits = minor_digits(sheet.currency)
    except UnknownCurrency as error:
        return [Fault(pointer(*placed("currency")), str(error))]
    if sheet.time_zone is not UNSET and not is_time_zone(sheet.time_zone):
        faults.append(Fault(pointer(*placed("time_zone")), NO_TIME_ZONE.format(sheet.time_zone)))
    if sheet.staffed_hours is not UNSET:
        _check_hours(sheet.staffed_hours, placed("staffed_hours"), faults)
    for code, material in _entries(sheet.materials):
        _check_material(material, placed("materials", code), faults)
    for code, machine in _entries(sheet.machines):
        _check_machine(machine, placed("machines", code), faults)
    pieces = {code for code, part in _entries(sheet.components) if part.measure in (UNSET, "piece")}
    for code, channel in _entries(sheet.channels):
        at = placed("channels", code)
        _check_money(channel, at, digits, faults)
        _check_lists(channel, at, faults)
        _check_packing(channel.packing, at, pieces, faults)
    for code, service in _entries(sheet.services):
        _check_packing(service.packing, placed("services", code), pieces, faults)
    return faults + faults_of_own_parts(sheet, placed)


def _check_packing(rows: Any, place: Place, pieces: set[str], faults: list[Fault]) -> None:
    for n, packing in enumerate(_listed(rows)):
        if packing.component in pieces:
            check_whole(packing.count, (*place, "packing", n, "count"), faults)


def check_whole(count: object, place: Place, faults: list[Fault]) -> None:
    """Refuse a fraction of a part that is counted in pieces."""
    if isinstance(count, Decimal) and count % 1:
        faults.append(
            Fault(
                pointer(*place),
                f"must be whole, not {count}: the part is counted in pieces "
                "(give it a measure of m, g or ml if it is cut or poured)",
            )
        )


def check_minor_unit(amount: object, place: Place, digits: int, faults: list[Fault]) -> None:
    """Refuse a price that is finer than the currency's minor unit."""
    if isinstance(amount, Decimal) and amount % Decimal(1).scaleb(-digits):
        faults.append(
            Fault(
                pointer(*place),
                f"must have at most {digits} decimals, not {amount}: buyers see it as it stands",
            )
        )


def _check_hours(hours: StaffedHours, place: Place, faults: list[Fault]) -> None:
    for weekday in WEEKDAYS:
        shifts = enumerate(_listed(getattr(hours, weekday)))
        before = None
        for (start, end), n, shift in sorted((seconds_of_shift(s), n, s) for n, s in shifts):
            if start >= end:
                detail = f"must end after it begins, not {shift}; after 24:00 comes the next day"
                faults.append(Fault(pointer(*place, weekday, n), detail))
            elif before is not None and start < before:
                detail = f"{shift} overlaps the hours before it; write them as one"
                faults.append(Fault(pointer(*place, weekday, n), detail))
            before = end if before is None else max(before, end)


def _check_material(material: Material, place: Place, faults: list[Fault]) -> None:
    offer = material.offer
    if offer is not UNSET and offer.tail_g is not UNSET and offer.tail_g >= offer.pack_g:
        faults.append(
            Fault(
                pointer(*place, "offer", "tail_g"),
                f"must be below pack_g ({offer.pack_g}), not {offer.tail_g}: nothing would be left",
            )
        )


def _check_machine(machine: Machine, place: Place, faults: list[Fault]) -> None:
    price, residual = machine.replacement_price, machine.residual_value
    if price is not UNSET and residual is not UNSET and residual > price:
        faults.append(
            Fault(
                pointer(*place, "residual_value"),
                f"must not be above replacement_price ({price}), not {residual}",
            )
        )


def _check_money(channel: Channel, place: Place, digits: int, faults: list[Fault]) -> None:
    step, ending = channel.price_step, channel.price_ending
    for name in ("price_step", "price_ending", "minimum_order"):
        check_minor_unit(getattr(channel, name), (*place, name), digits, faults)
    for n, row in enumerate(_listed(channel.postage)):
        check_minor_unit(row.charged, (*place, "postage", n, "charged"), digits, faults)
    if channel.aim is not UNSET:
        check_minor_unit(channel.aim.unit_price, (*place, "aim", "unit_price"), digits, faults)
    if ending is not UNSET and ending:
        if step is UNSET:
            detail = "needs a price_step that it ends, such as 1 for prices like 12.90"
            faults.append(Fault(pointer(*place, "price_ending"), detail))
        elif ending >= step:
            detail = f"must be below price_step ({step}), not {ending}"
            faults.append(Fault(pointer(*place, "price_ending"), detail))


def _check_lists(channel: Channel, place: Place, faults: list[Fault]) -> None:
    for name, member in (("postage", "up_to_units"), ("margin_breaks", "from_quantity")):
        seen: set[int] = set()
        for n, row in enumerate(_listed(getattr(channel, name))):
            value = getattr(row, member)
            if value in seen:
                detail = f"{value} stands twice in {name}; keep one row"
                faults.append(Fault(pointer(*place, name, n, member), detail))
            seen.add(value)


def _entries(kind: Any) -> Any:
    return () if kind is UNSET else kind.items()


def _listed(rows: Any) -> Any:
    return () if rows is UNSET else rows
