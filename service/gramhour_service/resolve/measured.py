"""A measured part as a product: made by a service, with its work, rejects and packing.

What stands in no request is placed where it comes from: the service in the sheet, or the
measurement. So an answer's basis and its faults never point at a product that nobody sent.
"""

from dataclasses import replace
from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.answer import Basis
from gramhour.contract.problem import Fault, pointer
from gramhour.contract.product import Piece, Product
from gramhour.contract.service import Service
from gramhour_service.calculation.job import Channel
from gramhour_service.calculation.job import Product as ResolvedProduct
from gramhour_service.resolve.estimated import Shape
from gramhour_service.resolve.members import Members
from gramhour_service.resolve.product import resolve_product
from gramhour_service.resolve.rates import Rates, need_of

MEASUREMENT = "/measurement"


class OwnPart(NamedTuple):
    """A part that was measured, and the service that is to make it."""

    code: str
    service: Service
    shape: Shape


def product_of(service: Service, material: str) -> Product:
    """Describe the product that a service makes of a part, but for the part's shape."""
    piece = Piece(
        machine=service.machine,
        nozzle=service.nozzle,
        profile=service.profile,
        material=material,
    )
    return Product(pieces=[piece], work=service.work, reject_pct=service.reject_pct)


def resolve_part(own: OwnPart, product: Product, rates: Rates) -> ResolvedProduct:
    """Resolve what a service makes of a part."""
    place = rates.placed("services", own.code)
    notes = rates.notes
    before = len(notes.basis), len(notes.faults)
    resolved = resolve_product(Members(product, place, notes), rates, own.shape)
    notes.basis[before[0] :] = _placed_basis(notes.basis[before[0] :], pointer(*place))
    notes.faults[before[1] :] = _placed_faults(notes.faults[before[1] :], pointer(*place))
    return resolved


def packed(own: OwnPart, channel: Channel, rates: Rates) -> Channel:
    """Take the service's packing in place of the channel's, where it has one."""
    if own.service.packing is UNSET:
        return channel
    rows = Members(own.service, rates.placed("services", own.code), rates.notes).parts("packing")
    needs = tuple(need_of(row, rates.component(row.word("component"))) for row in rows)
    return replace(channel, packing=needs)


def _placed_basis(basis: list[Basis], place: str) -> list[Basis]:
    """Place estimates at the measurement; members that a service does not have say nothing."""
    piece = f"{place}/pieces/0"
    told = []
    for each in basis:
        if not each.pointer.startswith((piece, f"{place}/design_fee", f"{place}/components")):
            told.append(each)
        elif each.basis == "estimated":
            at = MEASUREMENT + each.pointer.removeprefix(piece)
            told.append(Basis(pointer=at, basis=each.basis, value=each.value, profile=each.profile))
    return told


def _placed_faults(faults: list[Fault], place: str) -> list[Fault]:
    """Place what the rates do not allow of a part at its service: it is not for buyers to read."""
    piece = f"{place}/pieces/0"
    return [
        Fault(place, fault.detail) if (fault.pointer or "").startswith(piece) else fault
        for fault in faults
    ]
