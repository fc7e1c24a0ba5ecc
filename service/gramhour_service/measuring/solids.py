"""Solids: which bodies a surface bounds, which are hollows in others, and how much they hold."""

from typing import NamedTuple

import numpy as np

from gramhour_service.measuring.meeting import bodies_of
from gramhour_service.measuring.mesh import Flags, Floats, Indices, Points, Surface

FULL_TURN = 4 * np.pi
MOST_BODIES_COMPARED = 2_000


class Solids(NamedTuple):
    """The bodies of a surface, outsides out.

    ``body`` gives for each triangle the number of its body; ``volumes`` are mm³ with hollows below
    0; ``turned`` tells which bodies were inside out, ``overlapping`` whether boxes of bodies do.
    """

    surface: Surface
    body: Indices
    volumes: Floats
    turned: Flags
    overlapping: bool


def areas_of(surface: Surface) -> Floats:
    """A triangle's area is half the length of the cross product of two sides."""
    a, b, c = (surface.vertices[surface.faces[:, corner]] for corner in range(3))
    doubled: Floats = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return doubled / 2


def volumes_of(surface: Surface, body: Indices, bodies: int) -> Floats:
    """A closed surface holds the sum of the signed tetrahedra from one point to its triangles.

    The point is the middle of each body's box, so that a part far from the origin loses no digits.
    """
    lows, highs = boxes_of(surface, body, bodies)
    middles = (lows + highs)[body] / 2
    a, b, c = (surface.vertices[surface.faces[:, corner]] - middles for corner in range(3))
    signed = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6
    held: Floats = np.bincount(body, weights=signed, minlength=bodies).astype(np.float64)
    return held


def boxes_of(surface: Surface, body: Indices, bodies: int) -> tuple[Points, Points]:
    """Give the lowest and the highest corner of each body's box."""
    if bodies == 1:  # as most files have it, and many times as fast
        used = surface.vertices[surface.faces.reshape(-1)]
        return used.min(axis=0)[None], used.max(axis=0)[None]
    lows, highs = np.full((bodies, 3), np.inf), np.full((bodies, 3), -np.inf)
    for corner in range(3):
        places = surface.vertices[surface.faces[:, corner]]
        np.minimum.at(lows, body, places)
        np.maximum.at(highs, body, places)
    return lows, highs


def solids_of(surface: Surface) -> Solids:
    """Find the bodies of a watertight surface and turn those that are inside out.

    A body wound inward is a hollow if it lies within another one that is wound outward, else it
    is inside out.
    """
    bodies, body = bodies_of(surface)
    volumes = volumes_of(surface, body, bodies)
    lows, highs = boxes_of(surface, body, bodies)
    outward = np.flatnonzero(volumes > 0)
    turned = np.zeros(bodies, dtype=bool)
    for number in np.flatnonzero(volumes < 0):
        around = outward[
            (lows[outward] <= lows[number]).all(axis=1)
            & (highs[outward] >= highs[number]).all(axis=1)
        ]
        place = surface.vertices[surface.faces[body == number][0, 0]]
        turned[number] = not any(
            is_within(place, surface, surface.faces[body == each]) for each in around
        )
    faces = np.where(turned[body][:, None], surface.faces[:, ::-1], surface.faces)
    volumes = np.where(turned, -volumes, volumes)
    solid = volumes > 0
    overlapping = _any_overlap(lows[solid], highs[solid])
    return Solids(Surface(surface.vertices, faces), body, volumes, turned, overlapping)


def is_within(place: Floats, surface: Surface, faces: Indices) -> bool:
    """A place is within a closed surface if the triangles seen from it fill a full turn.

    Solid angle of a triangle: Van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125.
    """
    a, b, c = (surface.vertices[faces[:, corner]] - place for corner in range(3))
    of_a, of_b, of_c = (np.linalg.norm(side, axis=1) for side in (a, b, c))
    above = np.einsum("ij,ij->i", a, np.cross(b, c))
    below = (
        of_a * of_b * of_c
        + np.einsum("ij,ij->i", a, b) * of_c
        + np.einsum("ij,ij->i", b, c) * of_a
        + np.einsum("ij,ij->i", c, a) * of_b
    )
    return bool(abs(2 * np.arctan2(above, below).sum()) > FULL_TURN / 2)


def _any_overlap(lows: Points, highs: Points) -> bool:
    """Say whether any two boxes share space; boxes that only touch do not."""
    if len(lows) > MOST_BODIES_COMPARED:
        return True
    order = np.argsort(lows[:, 0])
    lows, highs = lows[order], highs[order]
    return any(
        bool(((lows[at + 1 :] < highs[at]) & (highs[at + 1 :] > lows[at])).all(axis=1).any())
        for at in range(len(lows) - 1)
    )
