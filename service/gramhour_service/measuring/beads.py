"""Beads by layers: what is laid down to print solids, from their sections.

Each layer is a ring along the section's edge, solid where a surface of the part is near above or
below, and filled in part elsewhere; what hangs over is supported down to the next surface.
"""

from typing import NamedTuple

import numpy as np
import shapely

from gramhour_service.measuring.areas import distinct_layers, shared, smoothed
from gramhour_service.measuring.bounds import Refused
from gramhour_service.measuring.mesh import Surface
from gramhour_service.measuring.profile import Profile
from gramhour_service.measuring.sections import EMPTY, Areas, sections
from gramhour_service.measuring.size import Warned
from gramhour_service.measuring.support import supported_areas

MOST_LAYERS = 20_000
BELOW_MIDDLE_MM = 1e-6
"""Sections are cut a nanometre below the middle of a layer, so that a surface exactly there falls
on the same side wherever the part stands."""

CORNER_SEGMENTS = 16
"""Quarter turns of an offset are drawn with so many straight pieces: 0.16 % of a corner."""

DECIMALS_OF_COUNT = 6
"""A number of layers is rounded so before it is made whole: 20 mm are 100 layers, never 101."""

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
    layers = smoothed(sections(surface, heights))
    distinct, number_of = distinct_layers(layers)
    width = float(profile.bead_width_mm)
    inner = shapely.buffer(distinct, -profile.outlines * width, quad_segs=CORNER_SEGMENTS)
    ring = (shapely.area(distinct) - shapely.area(inner))[number_of]
    inside = inner[number_of]
    covered = shapely.area(shared(inside, _covers(layers, profile.solid_layers)))
    solid = shapely.area(inside) - covered
    support = supported_areas(layers, profile)
    edges = inner if profile.outlines else None
    layer, fill = float(profile.layer_mm), float(profile.fill_pct) / FULL
    return Beads(
        ring_mm3=layer * float(ring.sum()),
        solid_mm3=layer * float(solid.sum()),
        fill_mm3=layer * fill * float(covered.sum()),
        support_mm3=layer * fill * float(support.sum()),
        layers=len(heights),
        warnings=tuple(_thin_walls(distinct, edges, number_of, width)),
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
            f"{height:,.0f} mm in layers of {layer_mm} mm are more than {MOST_LAYERS:,} layers; "
            "if the file is in another unit than mm, export it in mm",
        )
    count = max(1, int(np.floor(round(height / layer_mm, DECIMALS_OF_COUNT) + 0.5)))
    if count == 1:
        return np.array([bottom + min(height, layer_mm) / 2])
    return bottom + (np.arange(count) + 0.5) * layer_mm - BELOW_MIDDLE_MM


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
        run = shared(run[:-step], run[step:])
        length += step
    count = len(layers)
    return shared(run[:count], run[solid_layers + 1 :][:count])


def _thin_walls(
    layers: Areas, inner: Areas | None, number_of: np.ndarray, width: float
) -> list[Warned]:
    """Warn of parts of sections that are nowhere as wide as one bead, but for mere tips.

    ``inner`` is what lies within the outlines, if there are any: a section in one piece that has
    an inside is wide enough.
    """
    uses = np.bincount(number_of, minlength=len(layers))
    doubtful = np.ones(len(layers), dtype=bool)
    if inner is not None:
        doubtful = shapely.is_empty(inner) | (shapely.get_num_geometries(layers) > 1)
    parts, of_layer = shapely.get_parts(layers[doubtful], return_index=True)
    vanish = shapely.is_empty(shapely.buffer(parts, BELOW_MIDDLE_MM - width / 2))
    thin = shapely.area(parts[vanish]) * uses[doubtful][of_layer[vanish]]
    if thin.sum() <= SHARE_OF_TIPS * (shapely.area(layers) * uses).sum():
        return []
    return [
        Warned(
            "walls_thinner_than_bead",
            f"some walls are thinner than one bead of {width:g} mm: they may not be printed at all",
        )
    ]
