"""Checks what profiles, services and the machines that they name say together.

Shapes, bounds and codes were checked when the sheet was read.
"""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from msgspec import UNSET

from gramhour.contract.machine import Machine
from gramhour.contract.problem import Fault, pointer
from gramhour.contract.profile import Profile
from gramhour.contract.rates import RateSheet
from gramhour.contract.service import Service
from gramhour_service.measuring.size import Box, Plate, fits

Place = tuple[str | int, ...]
Placed = Callable[..., Place]


def faults_of_own_parts(sheet: RateSheet, placed: Placed) -> list[Fault]:
    """Find what profiles, services and rooms of machines contradict each other in."""
    faults: list[Fault] = []
    for code, machine in _entries(sheet.machines):
        _check_room(machine, placed("machines", code), faults)
    for code, profile in _entries(sheet.profiles):
        _check_profile(profile, placed("profiles", code), faults)
    for code, service in _entries(sheet.services):
        place = placed("services", code)
        _check_materials(service, place, faults)
        _check_sizes(service, sheet, place, faults)
    return faults


def _check_room(machine: Machine, place: Place, faults: list[Fault]) -> None:
    room, edge = machine.build_volume, machine.edge_mm
    if room is UNSET or edge is UNSET:
        return
    narrow = min(room.x_mm, room.y_mm)
    if 2 * edge >= narrow:
        detail = f"{edge} mm along each side leave nothing of {narrow} mm; name a smaller edge"
        faults.append(Fault(pointer(*place, "edge_mm"), detail))


def _check_profile(profile: Profile, place: Place, faults: list[Fault]) -> None:
    if profile.bead_width_mm < profile.layer_mm:
        detail = (
            f"must be at least layer_mm ({profile.layer_mm}), not {profile.bead_width_mm}: a bead "
            "that is higher than wide is not laid flat"
        )
        faults.append(Fault(pointer(*place, "bead_width_mm"), detail))
    seen = set()
    limits = () if profile.flow_limits is UNSET else profile.flow_limits
    for n, limit in enumerate(limits):
        of = (limit.nozzle, limit.material)
        if of in seen:
            detail = "the same nozzle and material stand twice; keep one limit of them"
            faults.append(Fault(pointer(*place, "flow_limits", n), detail))
        seen.add(of)


def _check_materials(service: Service, place: Place, faults: list[Fault]) -> None:
    for n, code in enumerate(service.materials):
        if code in service.materials[:n]:
            detail = f"'{code}' stands twice; keep one"
            faults.append(Fault(pointer(*place, "materials", n), detail))


def _check_sizes(service: Service, sheet: RateSheet, place: Place, faults: list[Fault]) -> None:
    assert sheet.machines is not UNSET, "the reader lets only codes through that the sheet has"
    machine = sheet.machines[service.machine]
    room, largest = machine.build_volume, service.largest_box
    if room is UNSET:
        detail = (
            f"the machine '{service.machine}' has no build_volume, without which nothing says "
            "which parts fit; add it there"
        )
        faults.append(Fault(pointer(*place, "machine"), detail))
        return
    if largest is UNSET:
        return
    edge = 0 if machine.edge_mm is UNSET else machine.edge_mm
    free = room_of(machine)
    assert free is not None, "it has one"
    if not fits(Box(largest.x_mm, largest.y_mm, largest.z_mm), free):
        detail = (
            f"{largest.x_mm} × {largest.y_mm} × {largest.z_mm} mm do not fit the machine "
            f"'{service.machine}', which has {room.x_mm} × {room.y_mm} × {room.z_mm} mm and keeps "
            f"{edge} mm free along each side; name a smaller box"
        )
        faults.append(Fault(pointer(*place, "largest_box"), detail))


def room_of(machine: Machine) -> Plate | None:
    """Say what a machine's plate leaves for parts, its edge kept free; none if it is not told."""
    room = machine.build_volume
    if room is UNSET:
        return None
    edge = Decimal(0) if machine.edge_mm is UNSET else machine.edge_mm
    return Plate(room.x_mm - 2 * edge, room.y_mm - 2 * edge, room.z_mm)


def _entries(kind: Any) -> Any:
    return () if kind is UNSET else kind.items()
