"""Welding: corners at one place become one vertex, so that it can be seen which triangles meet."""

import numpy as np

from gramhour_service.measuring.mesh import Flags, Indices, Points, Surface, Triples

MIXERS = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], dtype=np.uint64)
STEPS_OF_BOX = 2.0**-20
"""Corners that should be one differ by the last bits of single precision: the box over 2^20."""


def welded(surface: Surface) -> Surface:
    """Corners at exactly one place become one vertex; triangles without area are dropped."""
    vertices, number_of = _distinct(surface.vertices)
    faces = number_of[surface.faces]
    return Surface(vertices, faces[~_collapsed(faces)])


def welded_closely(surface: Surface) -> Surface:
    """Corners less than the noise of single precision apart become one vertex.

    The noise is taken as a quarter step, a step being the box's largest side over 2^20. Places are
    compared on four grids a quarter apart: each of a near pair's three coordinates has a grid line
    between the two on one of them at most, so there is one on which none has.
    """
    step = float(np.ptp(surface.vertices, axis=0).max()) * STEPS_OF_BOX
    for shift in (0.0, 0.25, 0.5, 0.75):
        cells = np.floor(surface.vertices / step + shift)
        _, number_of = _distinct(cells)
        first = np.zeros(number_of.max() + 1, dtype=np.int64)
        first[number_of[::-1]] = np.arange(len(number_of))[::-1]
        faces = number_of[surface.faces]
        surface = Surface(surface.vertices[first], faces[~_collapsed(faces)])
    return surface


def joined(surfaces: tuple[Surface, ...]) -> Surface:
    """Put surfaces side by side into one, without welding them to each other."""
    starts = np.cumsum([0] + [len(each.vertices) for each in surfaces])
    vertices = np.concatenate([each.vertices for each in surfaces])
    faces = [each.faces + start for each, start in zip(surfaces, starts[:-1], strict=True)]
    return Surface(vertices, np.concatenate(faces))


def _collapsed(faces: Triples) -> Flags:
    a, b, c = faces.T
    collapsed: Flags = (a == b) | (b == c) | (c == a)
    return collapsed


def _distinct(places: Points) -> tuple[Points, Indices]:
    """Give the distinct rows, and for each row the number of the one that it equals.

    Rows are sorted by a hash of their bits (a tenth of the time of sorting rows); equal hashes of
    unequal rows, which would weld what is apart, are looked for, and then rows are sorted.
    """
    bits = np.ascontiguousarray(places + 0.0).view(np.uint64).reshape(-1, 3)
    keys = ((bits ^ (bits >> np.uint64(29))) * MIXERS).sum(axis=1, dtype=np.uint64)
    keys ^= keys >> np.uint64(32)
    order = np.argsort(keys, kind="stable")
    in_order = places[order]
    differs = (in_order[1:] != in_order[:-1]).any(axis=1)
    if (differs != (keys[order[1:]] != keys[order[:-1]])).any():
        order = np.lexsort(places.T)
        in_order = places[order]
        differs = (in_order[1:] != in_order[:-1]).any(axis=1)
    is_first = np.concatenate([[True], differs])
    number_of = np.empty(len(places), dtype=np.int64)
    number_of[order] = np.cumsum(is_first) - 1
    return in_order[is_first], number_of
