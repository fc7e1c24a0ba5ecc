"""Sections: what a level plane cuts out of solids, as polygons.

A triangle whose corners lie on both sides of the plane gives one straight piece, from the edge
where it comes down through the plane to the edge where it goes up. Pieces are chained by the
edges that they share, not by where their ends happen to fall, so a watertight surface always
gives closed rings, and no tolerance is needed.
"""

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from gramhour_service.measuring.mesh import Floats, Indices, Points, Surface

Areas = np.ndarray[Any, np.dtype[np.object_]]
"""Polygons, one geometry for each layer."""

BLOCK = 32
DECIMALS = 6
"""Sections are kept to a nanometre, so that equal layers are equal to the bit."""

CORNERS_AT_LEAST = 3
EMPTY = shapely.Polygon()


def sections(surface: Surface, heights: Floats) -> Areas:
    """Give the polygons that planes at rising heights cut out of a watertight surface."""
    corners = surface.vertices[surface.faces][:, :, 2]
    lowest, highest = corners.min(axis=1), corners.max(axis=1)
    found = np.full(len(heights), EMPTY, dtype=object)
    for start in range(0, len(heights), BLOCK):
        planes = heights[start : start + BLOCK]
        near = np.flatnonzero((lowest < planes[-1]) & (highest >= planes[0]))
        first = np.searchsorted(planes, lowest[near], side="right")
        last = np.searchsorted(planes, highest[near], side="right")
        faces = np.repeat(near, last - first)
        offsets = np.arange(len(faces)) - np.repeat(
            np.cumsum(last - first) - (last - first), last - first
        )
        plane = np.repeat(first, last - first) + offsets
        for number, rings in _rings(surface, planes, faces, plane):
            found[start + number] = polygons_of(rings)
    return found


def _rings(
    surface: Surface, planes: Floats, faces: Indices, plane: Indices
) -> Iterator[tuple[int, list[Points]]]:
    """Give the closed rings of each plane that cuts anything: solid on their left, seen from above.

    ``faces`` and ``plane`` are the pairs of a triangle and the plane that cuts it.
    """
    if not len(faces):
        return
    order = np.argsort(plane.astype(np.int16), kind="stable")  # which is a radix sort
    faces, plane = faces[order], plane[order]
    corners = surface.faces[faces]
    above = surface.vertices[corners][:, :, 2] >= planes[plane][:, None]
    is_one_above = above.sum(axis=1) == 1
    lone = np.where(is_one_above, above.argmax(axis=1), (~above).argmax(axis=1))
    row = np.arange(len(faces))
    here, after, before = (corners[row, (lone + turn) % 3] for turn in range(3))
    # The edge to `after` is passed away from the lone corner, the one from `before` towards it.
    down, up = np.where(is_one_above, after, before), np.where(is_one_above, before, after)
    starts, places = _crossings(surface.vertices, here, down, planes[plane])
    ends, _ = _crossings(surface.vertices, here, up, planes[plane])
    following = _following(plane, starts, ends)
    bounds = np.searchsorted(plane, np.arange(len(planes) + 1))
    for number in range(len(planes)):
        low, high = int(bounds[number]), int(bounds[number + 1])
        if low < high:
            yield number, _cycles(following[low:high] - low, places[low:high])


def _crossings(vertices: Points, a: Indices, b: Indices, height: Floats) -> tuple[Indices, Points]:
    """Give the number of an edge, and where it crosses a height: the same from either end."""
    low, high = np.minimum(a, b), np.maximum(a, b)
    start, end = vertices[low], vertices[high]
    share = (height - start[:, 2]) / (end[:, 2] - start[:, 2])
    places = start[:, :2] + share[:, None] * (end[:, :2] - start[:, :2])
    return low * len(vertices) + high, np.round(places, DECIMALS)


def _following(plane: Indices, starts: Indices, ends: Indices) -> Indices:
    """Give for each piece the one that begins where it ends.

    Where several pieces meet in one edge (bodies that touch), they are paired as they come.
    """
    by_start, by_end = np.lexsort((starts, plane)), np.lexsort((ends, plane))
    assert np.array_equal(starts[by_start], ends[by_end]), "a watertight surface gives closed rings"
    following = np.empty_like(by_start)
    following[by_end] = by_start
    return following


def _cycles(following: Indices, places: Points) -> list[Points]:
    rings, following_list = [], following.tolist()
    is_done = bytearray(len(following_list))
    for first in range(len(following_list)):
        if is_done[first]:
            continue
        ring, at = [], first
        while not is_done[at]:
            is_done[at] = 1
            ring.append(at)
            at = following_list[at]
        if len(ring) >= CORNERS_AT_LEAST:
            rings.append(places[ring])
    return rings


def polygons_of(rings: list[Points]) -> BaseGeometry:
    """What rings enclose is where they wind around more often to the left than to the right.

    So what two overlapping bodies share counts once, a hollow is left out, and a body in a hollow
    counts again.
    """
    if len(rings) == 1:
        alone = shapely.Polygon(rings[0])
        if alone.is_valid:
            return alone if alone.exterior.is_ccw else EMPTY
    lines = shapely.union_all([shapely.LinearRing(ring) for ring in rings])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    if not len(faces):
        return EMPTY
    inside = shapely.get_coordinates(shapely.point_on_surface(faces))
    return shapely.union_all(faces[windings(inside, rings) > 0])


def windings(places: Points, rings: list[Points]) -> Indices:
    """Count how often rings wind around places to the left: pieces that pass east of each place.

    A piece counts 1 if it goes up past the place's latitude, -1 if down.
    """
    start = np.concatenate(rings)
    end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    rising = end[:, 1] - start[:, 1]
    counts = np.zeros(len(places), dtype=np.int64)
    for number, (x, y) in enumerate(places):
        passed = np.flatnonzero((start[:, 1] <= y) != (end[:, 1] <= y))
        share = (y - start[passed, 1]) / rising[passed]
        east = start[passed, 0] + share * (end[passed, 0] - start[passed, 0]) > x
        counts[number] = np.sign(rising[passed[east]]).sum()
    return counts
