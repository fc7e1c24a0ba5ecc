"""The measurement: what a mesh holds, how large it is, and what a person should look at."""

from collections.abc import Callable
from decimal import ROUND_HALF_EVEN, Decimal
from typing import NamedTuple

import numpy as np

from gramhour_service.measuring.bounds import MESHES, Limits, Refused, too_many_bytes, unreadable
from gramhour_service.measuring.meeting import Meeting, bodies_of, meeting_of, wound_alike
from gramhour_service.measuring.mesh import FileRead, Surface
from gramhour_service.measuring.size import Box, Measured, Warned
from gramhour_service.measuring.solids import Solids, areas_of, solids_of
from gramhour_service.measuring.stl import read_stl
from gramhour_service.measuring.welding import joined, welded, welded_closely

SMALLEST_LIKELY_MM = 5.0
LARGEST_LIKELY_MM = 2_000.0
CUBIC_MM = Decimal(1).scaleb(-3)
NO_AREA = "the triangles of the file have no area, less than 0.001 mm² in all; check its unit"


def _read_threemf(content: bytes, limits: Limits) -> FileRead:
    # The library is loaded by whom it serves: it takes as long as the rest of a small STL.
    from gramhour_service.measuring.threemf import read_threemf  # noqa: PLC0415

    return read_threemf(content, limits)


READERS: dict[str, Callable[[bytes, Limits], FileRead]] = dict(
    zip(MESHES, (read_stl, _read_threemf), strict=True)
)


class Found(NamedTuple):
    """A measurement, and the solids that estimates are made from (none of an open surface)."""

    measured: Measured
    solids: Solids | None


def read_mesh(content: bytes, media_type: str, limits: Limits) -> FileRead:
    """Read a mesh file of a media type. Raises ``Refused``."""
    if media_type not in READERS:
        raise Refused(
            "other-media-type", f"can measure {' and '.join(READERS)}, not {media_type[:80]}"
        )
    if len(content) > limits.file_bytes:
        raise too_many_bytes(len(content), limits)
    return READERS[media_type](content, limits)


def measure(read: FileRead) -> Found:
    """Measure what a file holds: all of its objects together. Raises ``Refused``."""
    warnings = list(read.warnings)
    surface = joined(tuple(welded(each) for each in read.surfaces))
    meeting = meeting_of(surface) if len(surface.faces) else None
    if meeting is not None and meeting.holes:
        surface = joined(tuple(welded_closely(welded(each)) for each in read.surfaces))
        meeting = meeting_of(surface) if len(surface.faces) else None
    if meeting is None:
        raise unreadable(NO_AREA)
    if not meeting.holes and not meeting.wound and (alike := wound_alike(surface)) is not None:
        surface, meeting = alike, Meeting(0, wound=True)
        warnings.append(
            Warned("winding_mixed", "some triangles faced the other way; they were turned")
        )
    warnings += _of_meeting(meeting)
    warnings += _of_size(surface, has_unit=read.has_unit)
    solids = solids_of(surface) if meeting.watertight else None
    if solids is not None:
        warnings += _of_solids(solids)
    triangles = sum(len(each.faces) for each in read.surfaces)
    measured = _measured(surface, solids)
    return Found(measured._replace(triangles=triangles, warnings=tuple(warnings)), solids)


def _measured(surface: Surface, solids: Solids | None) -> Measured:
    """Measure a surface. Raises ``Refused`` if all its triangles come to less than is measured."""
    area = float(areas_of(surface).sum())
    if not _rounded(area):
        raise unreadable(NO_AREA)
    volume = float(solids.volumes.sum()) if solids is not None else None
    used = surface.vertices[surface.faces].reshape(-1, 3)
    x, y, z = (_rounded(side) for side in np.ptp(used, axis=0))
    bodies = bodies_of(surface)[0] if solids is None else int((solids.volumes > 0).sum())
    return Measured(
        volume_mm3=None if volume is None else _rounded(volume),
        area_mm2=_rounded(area),
        box=Box(x, y, z),
        triangles=len(surface.faces),
        bodies=bodies,
        hollows=0 if solids is None else int((solids.volumes < 0).sum()),
        watertight=solids is not None,
        mean_wall_mm=None if volume is None else _rounded(2 * volume / area),
        warnings=(),
    )


def _rounded(amount: float) -> Decimal:
    return Decimal(repr(float(amount))).quantize(CUBIC_MM, ROUND_HALF_EVEN)


def _of_meeting(meeting: Meeting) -> list[Warned]:
    if meeting.holes:
        return [
            Warned(
                "holes",
                f"the surface is open along {meeting.holes:,} edges, so it holds no volume; "
                "repair the mesh and export it again",
            )
        ]
    if not meeting.wound:
        return [
            Warned(
                "no_outside",
                "triangles disagree on which side is outside and cannot be turned to agree, so "
                "there is no volume; repair the mesh and export it again",
            )
        ]
    return []


def _of_size(surface: Surface, *, has_unit: bool) -> list[Warned]:
    largest = float(np.ptp(surface.vertices, axis=0).max())
    if SMALLEST_LIKELY_MM <= largest <= LARGEST_LIKELY_MM:
        return []
    size, units = ("large", "micrometres")
    if largest < SMALLEST_LIKELY_MM:
        size, units = ("small", "inches, cm or metres")
    hint = f"; the format has no unit, and the numbers were taken as mm (were they {units}?)"
    if has_unit:
        hint = "; is it in another unit than the file says?"
    plain = f"{Decimal(f'{largest:.4g}'):,f}"
    return [Warned("unit_suspicious", f"{plain} mm at most is very {size}{hint}")]


def _of_solids(solids: Solids) -> list[Warned]:
    warnings = []
    if solids.turned.any():
        count = int(solids.turned.sum())
        warnings.append(
            Warned("inside_out", f"{count} of the bodies had the outside inside; turned")
        )
    if solids.overlapping:
        warnings.append(
            Warned(
                "bodies_may_overlap",
                "boxes of bodies overlap: where the bodies themselves do, the volume counts that "
                "twice (an estimate by layers does not)",
            )
        )
    return warnings
