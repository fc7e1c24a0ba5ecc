"""What every reader of a mesh gives."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gramhour_service.measuring.bounds import unreadable
from gramhour_service.measuring.size import Warned

Points = NDArray[np.float64]
Triples = NDArray[np.int64]
Indices = NDArray[np.int64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]

FARTHEST_MM = 1e6
"""No coordinate is farther from the origin: beyond a kilometre it is no part for a printer."""


class Surface(NamedTuple):
    """Triangles as a file gave them: ``vertices`` (n, 3) in mm, ``faces`` (m, 3) of their rows."""

    vertices: Points
    faces: Triples


class FileRead(NamedTuple):
    """The surfaces of a file, each an object of its own, and what was odd about the file."""

    surfaces: tuple[Surface, ...]
    has_unit: bool
    warnings: tuple[Warned, ...] = ()


def checked_coordinates(vertices: NDArray[Any], what: str) -> Points:
    """Give coordinates as they are computed with. Raises ``Refused`` where one is no length."""
    points = vertices.astype(np.float64)
    bad = ~np.isfinite(points).all(axis=1)
    if bad.any():
        raise unreadable(
            f"{int(bad.sum())} of {len(points)} {what} have a coordinate that is no finite "
            f"number, the first is number {int(bad.argmax()) + 1}; export the file again"
        )
    if len(points) and np.abs(points).max() > FARTHEST_MM:
        raise unreadable(
            f"a coordinate is {np.abs(points).max():.6g} mm from the origin; check the unit, "
            "and move the part to the origin"
        )
    return points + 0.0  # minus zero and zero are one place
