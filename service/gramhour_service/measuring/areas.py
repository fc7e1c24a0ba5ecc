"""Areas of layers: made plain, compared, intersected, with as little work as most parts need."""

import numpy as np
import shapely
from shapely import GeometryType

from gramhour_service.measuring.sections import Areas

STRAIGHT_MM = 1e-4
AREAL = 2
"""Dimensions of an area."""


def smoothed(layers: Areas) -> Areas:
    """Take out corners that stand out by less than a tenth of a micrometre.

    Half of all corners are where a plane crosses the diagonal of two triangles that lie in one
    plane. A layer that would not be sound without them keeps them.
    """
    found = shapely.simplify(layers, STRAIGHT_MM, preserve_topology=False)
    return np.where(shapely.is_valid(found), found, layers)


def distinct_layers(layers: Areas) -> tuple[Areas, np.ndarray]:
    """Give the layers that differ, and for each layer which of them it is."""
    numbers: dict[bytes, int] = {}
    number_of = [numbers.setdefault(each, len(numbers)) for each in shapely.to_wkb(layers)]
    first = {number: at for at, number in reversed(list(enumerate(number_of)))}
    return layers[[first[number] for number in range(len(numbers))]], np.array(number_of)


def shared(some: Areas, others: Areas) -> Areas:
    """Intersect areas with areas, each with its own.

    Of equal ones, and of one that lies within the other, nothing is computed: that is a tenth of
    the time, and most of many parts.
    """
    found = some.copy()
    at = np.flatnonzero(~shapely.equals_identical(some, others))
    at = at[~within(found[at], others[at])]
    smaller = within(others[at], found[at])
    found[at[smaller]] = others[at[smaller]]
    at = at[~smaller]
    found[at] = _flat(shapely.intersection(found[at], others[at]))
    return found


def _flat(areas: Areas) -> Areas:
    """Leave out the lines and points in which areas touch: no overlay takes them beside areas."""
    for at in np.flatnonzero(shapely.get_type_id(areas) == GeometryType.GEOMETRYCOLLECTION):
        parts = shapely.get_parts(shapely.get_parts(areas[at]))
        areas[at] = shapely.multipolygons(parts[shapely.get_dimensions(parts) == AREAL])
    return areas


def within(some: Areas, others: Areas) -> np.ndarray:
    """Say of each area whether another one covers it."""
    found: np.ndarray = shapely.covers(others, some)
    return found
