"""Beads by layers: what is laid down to print solids, from their sections.

Each layer is a ring along the section's edge, solid where a surface of the part is near above or
below, and filled in part elsewhere; what hangs over is supported down to the next surface.
"""

from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from gramhour_service.measuring.bounds import Refused
from gramhour_service.measuring.mesh import Surface
from gramhour_service.measuring.profile import Profile
from gramhour_service.measuring.sections import EMPTY, Areas, sections
from gramhour_service.measuring.size import Warned

MOST_LAYERS = 20_000
BELOW_MIDDLE_MM = 1e-6
"""Sections are cut a nanometre below the middle of a layer, so that a surface exactly there falls
on the same side wherever the part stands."""

CORNER_SEGMENTS = 16
"""Quarter turns of an offset are drawn with so many straight pieces: 0.16 % of a corner."""

SLIVER_MM2 = 1e-6
"""What is smaller is the rounding of coordinates, not an overhang."""

DECIMALS_OF_COUNT = 6
"""A number of layers is rounded so before it is made whole: 20 mm are 100 layers, never 101."""

FLAT_DEG = 90
SHARE_OF_TIPS = 0.0005
FULL = 100.0


class Beads(NamedTuple):
    """What is laid down, in mm³ of bead, and in how many layers.

    ``ring``, ``solid`` and ``fill`` are the part's, ``support`` what is broken away after.
    """

    ring_mm3: float
    solid_mm3: float
    fill_mm3: float
    support_mm3: float
    layers: int
    warnings: tuple[Warned, ...]

    @property
    def volume_mm3(self) -> float:
        """The build's volume is all that is laid down."""
        return self.ring_mm3 + self.solid_mm3 + self.fill_mm3 + self.support_mm3


def beads_by_layers(surface: Surface, profile: Profile) -> Beads:
    """Lay beads for watertight solids, standing as in the file. Raises ``Refused``."""
    heights = layer_heights(surface, float(profile.layer_mm))
    layers = sections(surface, heights)
    distinct, number_of = _distinct_layers(layers)
    width = float(profile.bead_width_mm)
    inner = shapely.buffer(distinct, -profile.outlines * width, quad_segs=CORNER_SEGMENTS)
    ring = (shapely.area(distinct) - shapely.area(inner))[number_of]
    inside = inner[number_of]
    covered = shapely.area(shapely.intersection(inside, _covers(layers, profile.solid_layers)))
    solid = shapely.area(inside) - covered
    support = supported_areas(layers, profile)
    layer, fill = float(profile.layer_mm), float(profile.fill_pct) / FULL
    return Beads(
        ring_mm3=layer * float(ring.sum()),
        solid_mm3=layer * float(solid.sum()),
        fill_mm3=layer * fill * float(covered.sum()),
        support_mm3=layer * fill * float(support.sum()),
        layers=len(heights),
        warnings=tuple(_thin_walls(distinct, number_of, width)),
    )


def layer_heights(surface: Surface, layer_mm: float) -> np.ndarray:
    """A layer is laid where its middle lies within the part's height: rounded half up, at least 1.

    Gives the height at which each layer is cut. Raises ``Refused`` for far too many.
    """
    used = surface.vertices[surface.faces][:, :, 2]
    bottom, height = float(used.min()), float(np.ptp(used))
    if height / layer_mm > MOST_LAYERS:
        raise Refused(
            "too-large",
            f"{height:,.0f} mm in layers of {layer_mm} mm are more than {MOST_LAYERS:,} layers",
        )
    count = max(1, int(np.floor(round(height / layer_mm, DECIMALS_OF_COUNT) + 0.5)))
    if count == 1:
        return np.array([bottom + min(height, layer_mm) / 2])
    return bottom + (np.arange(count) + 0.5) * layer_mm - BELOW_MIDDLE_MM


def _distinct_layers(layers: Areas) -> tuple[Areas, np.ndarray]:
    """Give the layers that differ, and for each layer which of them it is."""
    numbers: dict[bytes, int] = {}
    number_of = [numbers.setdefault(each, len(numbers)) for each in shapely.to_wkb(layers)]
    first = {number: at for at, number in reversed(list(enumerate(number_of)))}
    return layers[[first[number] for number in range(len(numbers))]], np.array(number_of)


def _covers(layers: Areas, solid_layers: int) -> Areas:
    """Give for each layer what is covered by all of so many layers below it and above it.

    Beyond the ends there is nothing. Runs of layers are intersected in pairs of half the length;
    that the halves may share layers changes nothing.
    """
    if not solid_layers:
        return layers
    padding = np.full(solid_layers, EMPTY, dtype=object)
    run, length = np.concatenate([padding, layers, padding]), 1
    while length < solid_layers:
        step = min(length, solid_layers - length)
        run = _shared(run[:-step], run[step:])
        length += step
    count = len(layers)
    return _shared(run[:count], run[solid_layers + 1 :][:count])


def _shared(some: Areas, others: Areas) -> Areas:
    """Intersect layers with layers; equal ones are left alone, which is most of many parts."""
    found = some.copy()
    differ = np.flatnonzero(~shapely.equals_identical(some, others))
    found[differ] = shapely.intersection(some[differ], others[differ])
    return found


def supported_areas(layers: Areas, profile: Profile) -> np.ndarray:
    """Give the area of support in each layer.

    From the top down: what leans over too far is added, what the part itself fills is taken away,
    so that a support stands on the next surface below it, or on the plate. What is added lies
    within the layer above, where nothing is supported, so pieces never overlap and their areas add
    up; only those that a layer cuts are computed again.
    """
    areas = np.zeros(len(layers))
    if profile.support_angle_deg >= FLAT_DEG or len(layers) == 1:
        return areas
    reach = float(profile.layer_mm) * np.tan(np.deg2rad(float(profile.support_angle_deg)))
    overhangs = _overhangs(layers, reach)
    pieces = np.array([], dtype=object)
    for number in reversed(range(len(layers))):
        pieces = np.concatenate([_left_of(pieces, layers[number]), _polygons_in(overhangs[number])])
        areas[number] = shapely.area(pieces).sum()
    return areas


def _left_of(pieces: Areas, layer: BaseGeometry) -> Areas:
    """Take away from pieces what a layer fills."""
    shapely.prepare(layer)
    cut = shapely.intersects(layer, pieces)
    rests = [_polygons_in(rest) for rest in shapely.difference(pieces[cut], layer)]
    return np.concatenate([pieces[~cut], *rests])


def _polygons_in(area: BaseGeometry) -> Areas:
    """Give the single polygons of an area, without slivers and without what is only a line."""
    parts = shapely.get_parts(area)
    found: Areas = parts[shapely.area(parts) > SLIVER_MM2]
    return found


def _overhangs(layers: Areas, reach: float) -> Areas:
    """Give for each layer what of the layer above hangs over it by more than ``reach``.

    Of a step that is wider than the reach anywhere all is taken, as far as the reach goes around.
    Corners are reached in full (mitred): where two sides meet, neither leans over any more for it.
    """
    found = np.full(len(layers), EMPTY, dtype=object)
    below, above = layers[:-1], layers[1:]
    differ = np.flatnonzero(~shapely.equals_identical(below, above))
    steps = shapely.difference(above[differ], below[differ])
    wide = shapely.area(steps) > SLIVER_MM2
    at, steps = differ[wide], steps[wide]
    margin = reach + BELOW_MIDDLE_MM
    far = shapely.difference(steps, shapely.buffer(below[at], margin, join_style="mitre"))
    leaning = shapely.area(far) > SLIVER_MM2
    around = shapely.buffer(far[leaning], margin, join_style="mitre")
    found[at[leaning]] = shapely.intersection(steps[leaning], around)
    return found


def _thin_walls(layers: Areas, number_of: np.ndarray, width: float) -> list[Warned]:
    """Warn of parts of sections that are nowhere as wide as one bead, but for mere tips."""
    parts, of_layer = shapely.get_parts(layers, return_index=True)
    uses = np.bincount(number_of, minlength=len(layers))[of_layer]
    vanish = shapely.is_empty(shapely.buffer(parts, BELOW_MIDDLE_MM - width / 2))
    area = shapely.area(parts) * uses
    if area[vanish].sum() <= SHARE_OF_TIPS * area.sum():
        return []
    return [
        Warned(
            "walls_thinner_than_bead",
            f"some walls are thinner than one bead of {width:g} mm: they may not be printed at all",
        )
    ]
