"""From a shape and a profile to the grams and minutes of a full build, each said to be estimated.

What a shape takes is known from typed geometry by its shell, or from a mesh that was measured.
"""

from decimal import Decimal
from typing import NamedTuple

from gramhour.contract.answer import Basis
from gramhour.contract.problem import pointer
from gramhour_service.calculation.arithmetic import ZERO, as_line
from gramhour_service.calculation.worked import called, computed
from gramhour_service.measuring.estimate import (
    Laid,
    flow_mm3_s,
    grams_of,
    layer_change_minutes,
    printing_minutes,
    shell_form,
)
from gramhour_service.measuring.plate import DoesNotFit, pieces_per_build
from gramhour_service.measuring.profile import Profile
from gramhour_service.measuring.size import Box, Plate
from gramhour_service.resolve.members import Members
from gramhour_service.resolve.rates import Rates

CM3, CM2 = 1000, 100
"""How many mm³ and mm² they are."""

UPRIGHT = Decimal(90)
"""The lean at which nothing is supported."""


class EstimatedBuild(NamedTuple):
    """A full build as it is estimated; ``per_build_min`` are those that it takes however full."""

    material: str
    grams: Decimal
    print_min: Decimal
    per_build_min: Decimal
    pieces: int


class Bed(NamedTuple):
    """What an estimate needs of a machine: its room, if one is told, what stays free, its pace."""

    room: Plate | None
    spacing_mm: Decimal
    edge_mm: Decimal
    pace: Decimal


class Shape(NamedTuple):
    """A piece's box, and what is laid down for one."""

    box: Box
    laid: Laid


def full_build(piece: Members, rates: Rates, shape: Shape | None = None) -> EstimatedBuild:
    """Estimate a full build of a piece that has a profile, of its geometry unless ``shape`` is
    known from a mesh. Faults are noted, and stand-ins used in their place.
    """
    code = piece.word("profile")
    profile = rates.also("estimate", "profiles", code, profile_of)
    box, laid = shape or typed_shape(piece.part("geometry"), profile)
    material = piece.word("material")
    bed = rates.also("estimate", "machines", piece.word("machine"), _bed_of)
    pieces = _pieces(piece, bed, box)
    number = _numbered(piece)
    volume = called(laid.volume_mm3 * pieces, "volume_mm3", *number)
    told = "max(1, round_half_up(round({} / {}, 6), 0))"
    layers = computed(Decimal(laid.layers), told, box.z, profile.layer_mm)
    layers = called(layers, "layers", *number)
    nozzle = piece.word("nozzle") if piece.has("nozzle") else None
    flow = called(
        flow_mm3_s(profile, flow_limit(rates.members("profiles", code), nozzle, material)),
        "flow_mm3_s",
        *number,
    )
    minutes = called(
        printing_minutes(volume, layers, flow, bed.pace, profile.layer_change_s),
        "print_min",
        *number,
    )
    build = EstimatedBuild(
        material=material,
        grams=_grams(piece, rates.members("materials", material), volume),
        print_min=minutes,
        per_build_min=layer_change_minutes(layers, profile.layer_change_s),
        pieces=pieces,
    )
    _say_estimated(piece, build)
    return build


def _numbered(piece: Members) -> list[int]:
    """Number a piece as all its other amounts are called, the first by 1."""
    return [int(step) + 1 for step in piece.place[-1:]]


def profile_of(members: Members) -> Profile:
    """Read how layers of a shape are laid that has no mesh; so it knows of no support."""
    return Profile(
        layer_mm=members.amount("layer_mm"),
        bead_width_mm=members.amount("bead_width_mm"),
        outlines=members.whole("outlines"),
        solid_layers=members.whole("solid_layers"),
        fill_pct=members.amount("fill_pct"),
        support_angle_deg=UPRIGHT,
        speed_mm_s=members.amount("speed_mm_s"),
        layer_change_s=members.amount("layer_change_s"),
    )


def typed_shape(geometry: Members, profile: Profile) -> Shape:
    """Take a shape as it was typed: a shell of all outlines, the rest filled."""
    volume, area = geometry.amount("volume_cm3") * CM3, geometry.amount("area_cm2") * CM2
    box = box_of(geometry.part("box"))
    if volume > box.x * box.y * box.z:
        geometry.refuse("volume_cm3", "is more than its box holds: look at the units (cm3, mm)")
    return Shape(box, shell_form(volume, area, box.z, profile))


def box_of(size: Members) -> Box:
    """Read a size."""
    return Box(size.amount("x_mm"), size.amount("y_mm"), size.amount("z_mm"))


def flow_limit(profile: Members, nozzle: str | None, material: str) -> Decimal | None:
    """Find the least of the flow limits that hold for a nozzle and a material; none if none."""
    limits = [
        limit.amount("flow_mm3_s")
        for limit in profile.parts("flow_limits")
        if (not limit.has("nozzle") or limit.word("nozzle") == nozzle)
        and (not limit.has("material") or limit.word("material") == material)
    ]
    return min(limits, default=None)


def _bed_of(machine: Members) -> Bed:
    pace = machine.amount("pace")
    if not machine.has("build_volume"):
        return Bed(None, ZERO, ZERO, pace)
    room = Plate(*box_of(machine.part("build_volume")))
    return Bed(room, machine.amount("spacing_mm"), machine.amount("edge_mm"), pace)


def _pieces(piece: Members, bed: Bed, box: Box) -> int:
    """Say how many a full build holds: as given, else as many as fit, else one."""
    if bed.room is None:
        return piece.whole("pieces_per_build")
    try:
        fit = pieces_per_build(box, bed.room, bed.spacing_mm, bed.edge_mm)
    except DoesNotFit as error:
        piece.refuse("geometry", str(error))
        return 1
    if piece.has("pieces_per_build"):
        return piece.whole("pieces_per_build")
    _estimated(piece, "pieces_per_build", str(fit))
    return fit


def _grams(piece: Members, material: Members, volume: Decimal) -> Decimal:
    if material.has("density_g_cm3"):
        return grams_of(volume, material.amount("density_g_cm3"))
    code = piece.word("material")
    piece.refuse("material", f"the material '{code}' has no density_g_cm3, which grams need")
    return volume


def _say_estimated(piece: Members, build: EstimatedBuild) -> None:
    _estimated(piece, "print_min", f"{as_line(build.print_min):f}")
    _estimated(piece, "per_build_min", f"{as_line(build.per_build_min):f}")
    _estimated(piece, "mass_g", f"{as_line(build.grams):f}")


def _estimated(piece: Members, name: str, value: str) -> None:
    basis = Basis(
        pointer=pointer(*piece.place, name),
        basis="estimated",
        value=value,
        profile=piece.word("profile"),
    )
    piece.notes.basis.append(basis)
