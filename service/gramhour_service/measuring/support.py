"""Support: what of each layer stands under what hangs over too far, down to the next surface."""

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from gramhour_service.measuring.areas import shared, within
from gramhour_service.measuring.profile import Profile
from gramhour_service.measuring.sections import EMPTY, Areas

SLIVER_MM2 = 1e-6
"""What is smaller is the rounding of coordinates, not an overhang."""

ROUNDING_MM = 1e-6
BEYOND_MM = 1e-3
"""So much further the reach goes around what is too wide: edges that all but fall on one another
take forty times as long to be cut."""
FLAT_DEG = 90


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
    differ = ~shapely.equals_identical(below, above)
    at = np.flatnonzero(differ)
    at = at[~within(above[at], below[at])]
    margin = reach + ROUNDING_MM
    reached = shapely.buffer(below[at], margin, join_style="mitre")
    leaning = ~within(above[at], reached)
    at, reached = at[leaning], reached[leaning]
    far = shapely.difference(above[at], reached)
    leaning = shapely.area(far) > SLIVER_MM2
    at, far = at[leaning], far[leaning]
    around = shapely.buffer(far, margin + BEYOND_MM, join_style="mitre")
    found[at] = shared(shapely.difference(above[at], below[at]), around)
    return found
