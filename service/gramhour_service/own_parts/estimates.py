"""What a measured part takes by a profile, on a machine, in a material: for who sees costs."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET
from msgspec.structs import replace

from gramhour.contract.measurement import Estimate
from gramhour.contract.noting import nearest, shown
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.product import Piece
from gramhour.contract.rates import KINDS, RateSheet
from gramhour_service.calculation.arithmetic import costing_arithmetic, half_even
from gramhour_service.measuring.estimate import Laid, grams_of
from gramhour_service.measuring.size import Box
from gramhour_service.resolve.estimated import Shape, full_build
from gramhour_service.resolve.members import Members, Notes
from gramhour_service.resolve.rates import Rates

CM3 = 1000
DECIMALS = 4


class Wish(NamedTuple):
    """What a part is to be estimated for: codes of a sheet, the profile at least."""

    profile: str
    machine: str | None = None
    nozzle: str | None = None
    materials: Sequence[str] = ()


def check_codes(named: dict[str, str | None], sheet: RateSheet) -> None:
    """Refuse codes that a sheet does not have, by the parameters that name them."""
    faults = []
    for name, code in named.items():
        kind = f"{name}s"
        assert kind in KINDS
        known = getattr(sheet, kind)
        known = {} if known is UNSET else known
        if code is not None and code not in known:
            near = nearest(code, known)
            detail = f"the rates have no {name} {shown(code)}{near}"
            faults.append(Fault(UNSET, detail, parameter=name))
    if faults:
        raise Refused("invalid-request", tuple(faults))


def estimates(wish: Wish, box: Box, laid: Laid, sheet: RateSheet) -> list[Estimate]:
    """Estimate a part in each of the wished materials, or in none."""
    with costing_arithmetic():
        return list(_estimates(wish, Shape(box, laid), sheet))


def _estimates(wish: Wish, shape: Shape, sheet: RateSheet) -> Iterator[Estimate]:
    for material in wish.materials or (None,):
        yield _estimate(wish, material, shape, sheet)


def _estimate(wish: Wish, material: str | None, shape: Shape, sheet: RateSheet) -> Estimate:
    laid = shape.laid
    rates = Rates(sheet, Notes(explain=False))
    told = Estimate(
        basis="estimated",
        profile=wish.profile,
        machine=wish.machine or UNSET,
        nozzle=wish.nozzle or UNSET,
        material=material or UNSET,
        volume_cm3=_number(laid.volume_mm3 / CM3),
        support_cm3=_number(laid.support_mm3 / CM3),
        layers=laid.layers,
    )
    if material is None:
        return told
    density = rates.members("materials", material).optional_amount("density_g_cm3")
    grams = None if density is None else _number(grams_of(laid.volume_mm3, density))
    members = {} if grams is None else {"piece_g": grams}
    if wish.machine is not None and grams is not None:
        members |= _on_machine(wish, wish.machine, material, shape, rates)
    return replace(told, **members)


def _on_machine(
    wish: Wish, machine: str, material: str, shape: Shape, rates: Rates
) -> dict[str, float]:
    """Estimate a full build; nothing of a part that does not fit."""
    piece = Piece(
        machine=machine, nozzle=wish.nozzle or UNSET, profile=wish.profile, material=material
    )
    build = full_build(Members(piece, (), rates.notes), rates, shape)
    if rates.notes.faults:
        return {}
    return {
        "pieces_per_build": build.pieces,
        "build_g": _number(build.grams),
        "print_min": _number(build.print_min),
        "per_build_min": _number(build.per_build_min),
    }


def _number(amount: Decimal) -> float:
    return float(half_even(amount, DECIMALS))
