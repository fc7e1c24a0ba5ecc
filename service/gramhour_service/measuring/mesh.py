"""What every reader of a mesh gives, and how it says that it cannot."""

from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gramhour_service.measuring.size import Warned

Points = NDArray[np.float64]
Triples = NDArray[np.int64]
Indices = NDArray[np.int64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]

FARTHEST_MM = 1e6
"""No coordinate is farther from the origin: beyond a kilometre it is no part for a printer."""

RefusalKind = Literal["unreadable", "too-large", "takes-too-long", "other-media-type"]


class Refused(Exception):
    """A file cannot be measured: the kind is for programs, the words for people."""

    def __init__(self, kind: RefusalKind, detail: str) -> None:
        """Keep what kind of refusal it is, and why."""
        super().__init__(detail)
        self.kind = kind
        self.detail = detail


class Surface(NamedTuple):
    """Triangles as a file gave them: ``vertices`` (n, 3) in mm, ``faces`` (m, 3) of their rows."""

    vertices: Points
    faces: Triples


class FileRead(NamedTuple):
    """The surfaces of a file, each an object of its own, and what was odd about the file."""

    surfaces: tuple[Surface, ...]
    has_unit: bool
    warnings: tuple[Warned, ...] = ()


class Limits(NamedTuple):
    """How much a file may ask of the machine that measures it."""

    file_bytes: int = 100_000_000
    unpacked_bytes: int = 500_000_000
    triangles: int = 2_000_000
    memory_bytes: int = 1 << 30
    seconds: int = 60


def unreadable(detail: str) -> Refused:
    """Say that a file is not what it should be."""
    return Refused("unreadable", detail)


def too_many_triangles(count: int, limits: Limits) -> Refused:
    """Say that a file has more triangles than are read."""
    return Refused(
        "too-large",
        f"the file has {count:,} triangles, at most {limits.triangles:,} are read; "
        "export it with a coarser resolution",
    )


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


def too_many_bytes(count: int, limits: Limits) -> Refused:
    """Say that a file is larger than what is read."""
    return Refused(
        "too-large",
        f"the file has {count:,} bytes, at most {limits.file_bytes:,} are read; "
        "export it with a coarser resolution",
    )


def takes_too_long(limits: Limits) -> Refused:
    """Say that a file takes more time than there is."""
    return Refused(
        "takes-too-long",
        f"measuring the file takes more than {limits.seconds} s; export it with a coarser "
        "resolution, or split it",
    )
