"""Estimated grams and minutes, each in a cell of its own: no formula estimates them anew."""

from decimal import Decimal
from typing import Any

from gramhour.contract.problem import pointer
from gramhour_service.resolve import estimated
from gramhour_service.resolve.estimated import EstimatedBuild, Shape
from gramhour_service.resolve.members import Members, Notes
from gramhour_service.resolve.rates import Rates
from gramhour_service.workbook.figures import Figure, cell

ESTIMATED = "estimated"
SAYS = {
    "mass_g": "grams of one full build, estimated from its shape and profile",
    "print_min": "minutes of one full build, estimated from its shape and profile",
    "per_build_min": "part of them that a build needs however full it is",
    "pieces_per_build": "pieces on a full build",
}


def full_build(piece: Members, rates: Rates, shape: Shape | None = None) -> EstimatedBuild:
    """Take a full build as it is estimated, and let its numbers be edited."""
    notes = Notes(explain=False)
    plain = Members(piece.struct, piece.place, notes)
    build = estimated.full_build(plain, Rates(rates.sheet, notes), shape)

    place = piece.place if piece.place[0] == "product" else ("measurement",)

    def edited(name: str, value: Decimal | int) -> Figure:
        return cell(value, pointer(*place, name), SAYS[name], ESTIMATED)

    pieces: Any = edited("pieces_per_build", build.pieces)
    return build._replace(
        grams=edited("mass_g", build.grams),
        print_min=edited("print_min", build.print_min),
        per_build_min=edited("per_build_min", build.per_build_min),
        pieces=pieces,
    )
