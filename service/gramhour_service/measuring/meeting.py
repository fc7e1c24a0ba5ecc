"""How triangles meet: which hang together, where a surface is open, which way they are wound."""

from typing import NamedTuple

import numpy as np

from gramhour_service.measuring.mesh import Flags, Indices, Surface, Triples


class Meeting(NamedTuple):
    """What the edges of a surface say.

    ``holes`` counts edges that an odd number of triangles share, ``wound`` tells whether each
    edge is passed as often one way as the other: both together mean watertight.
    """

    holes: int
    wound: bool

    @property
    def watertight(self) -> bool:
        """A surface is watertight if it has no holes, and an outside all over."""
        return not self.holes and self.wound


def directed_edges(faces: Triples) -> tuple[Indices, Indices]:
    """Give the edges of triangles as they are passed: all first, all second, all third ones."""
    return faces.T.reshape(-1), faces[:, [1, 2, 0]].T.reshape(-1)


def meeting_of(surface: Surface) -> Meeting:
    """Look at every edge of a welded surface."""
    count = len(surface.vertices)
    start, end = directed_edges(surface.faces)
    forth, back = np.sort(start * count + end), np.sort(end * count + start)
    if np.array_equal(forth, back):
        return Meeting(0, wound=True)
    low, high = np.minimum(start, end), np.maximum(start, end)
    _, uses = np.unique(low * count + high, return_counts=True)
    return Meeting(int((uses % 2).sum()), wound=False)


def components(count: int, a: Indices, b: Indices) -> Indices:
    """Number things that pairs join: each gets the least member of its component.

    Every round hooks roots to smaller neighbouring ones and shortens all ways to the root.
    """
    root = np.arange(count)
    while True:
        of_a, of_b = root[a], root[b]
        if np.array_equal(of_a, of_b):
            return root
        np.minimum.at(root, np.maximum(of_a, of_b), np.minimum(of_a, of_b))
        while not np.array_equal(root, nearer := root[root]):
            root = nearer


def bodies_of(surface: Surface) -> tuple[int, Indices]:
    """Number the bodies of a surface: how many there are, and for each triangle which is its own.

    A body is what hangs together; what touches at a vertex does.
    """
    start, end = directed_edges(surface.faces)
    root = components(len(surface.vertices), start, end)
    roots, numbers = np.unique(root[surface.faces[:, 0]], return_inverse=True)
    return len(roots), numbers


def wound_alike(surface: Surface) -> Surface | None:
    """Turn triangles so that neighbours have their outside on one side; nothing if none can be.

    Every triangle stands twice, as it is and turned; neighbours that agree join as they are,
    others crosswise. A triangle that comes to hang together with its own turned self is on a
    surface with one side only. Edges of more than two triangles tell nothing of neighbours.
    """
    count, faces = len(surface.vertices), surface.faces
    start, end = directed_edges(faces)
    of_edge = np.tile(np.arange(len(faces)), 3)
    keys = np.minimum(start, end) * count + np.maximum(start, end)
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    same = keys[1:] == keys[:-1]
    alone_before = np.concatenate([[True], ~same[:-1]])
    alone_after = np.concatenate([~same[1:], [True]])
    pairs = np.flatnonzero(same & alone_before & alone_after)
    left, right = order[pairs], order[pairs + 1]
    agree = start[left] == end[right]
    return _turned(surface, of_edge[left], of_edge[right], agree)


def _turned(surface: Surface, left: Indices, right: Indices, agree: Flags) -> Surface | None:
    many = len(surface.faces)
    other = np.where(agree, right, right + many)
    turned_other = np.where(agree, right + many, right)
    root = components(
        2 * many, np.concatenate([left, left + many]), np.concatenate([other, turned_other])
    )
    as_is, turned = root[:many], root[many:]
    if (as_is == turned).any():
        return None
    faces = np.where((turned < as_is)[:, None], surface.faces[:, ::-1], surface.faces)
    found = Surface(surface.vertices, faces)
    return found if meeting_of(found).wound else None
