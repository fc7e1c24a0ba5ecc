"""Which services are open to a caller, and what fits them."""

from collections.abc import Collection
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.noting import shown
from gramhour.contract.rates import RateSheet
from gramhour.contract.service import Service
from gramhour_service.measuring.profile import Profile
from gramhour_service.measuring.size import Box, Plate, Warned, fits, size_of
from gramhour_service.resolve.own_parts import room_of


class Caller(NamedTuple):
    """Who asks: the channels open to them (none for all), and whether they have no key."""

    channels: Collection[str] | None = None
    is_public: bool = False


def open_services(sheet: RateSheet, caller: Caller) -> dict[str, Service]:
    """List the services that are open to a caller, by their codes."""
    services = {} if sheet.services is UNSET else sheet.services
    return {
        code: service
        for code, service in services.items()
        if (caller.channels is None or service.channel in caller.channels)
        and (not caller.is_public or service.public is True)
    }


def not_open(code: str, services: Collection[str]) -> str:
    """Say that a service is not open to a caller, and which are."""
    there_are = f"there are: {', '.join(services)}" if services else "there are none"
    return f"there is no service {shown(code)} open to you; {there_are}"


def room_for_parts(service: Service, sheet: RateSheet) -> Plate:
    """Say how large parts may be: as the service says, else as the machine's plate leaves."""
    if service.largest_box is not UNSET:
        largest = service.largest_box
        return Plate(largest.x_mm, largest.y_mm, largest.z_mm)
    assert sheet.machines is not UNSET, "the sheet is sound"
    room = room_of(sheet.machines[service.machine])
    assert room is not None, "the sheet is sound"
    return room


def rooms_of(sheet: RateSheet) -> list[Plate]:
    """List the rooms of all machines of which one is told."""
    machines = {} if sheet.machines is UNSET else sheet.machines
    return [room for each in machines.values() if (room := room_of(each)) is not None]


def too_large(box: Box, service: Service, sheet: RateSheet) -> Warned | None:
    """Warn of a part that is larger than a service takes."""
    room = room_for_parts(service, sheet)
    if fits(box, room):
        return None
    return Warned(
        "larger_than_every_machine",
        f"{size_of(box)} is larger than the service takes ({size_of(room)}): split the part, or "
        "lay it down",
    )


def too_small(box: Box, profile: Profile) -> Warned | None:
    """Warn of a part that no bead can make: narrower than one both ways, or too low for a layer.

    A layer is laid where its middle lies within the part's height.
    """
    widest, lowest = max(box.x, box.y), profile.layer_mm / 2
    if widest >= profile.bead_width_mm and box.z >= lowest:
        return None
    return Warned(
        "too_small_to_print",
        f"{size_of(box)} is too small to be printed in beads {_mm(profile.bead_width_mm)} wide and "
        f"{_mm(profile.layer_mm)} high: were its numbers in cm, inches or metres? Export it in mm",
    )


def _mm(length: Decimal) -> str:
    return f"{length.normalize():f} mm"
