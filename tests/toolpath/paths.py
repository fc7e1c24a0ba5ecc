"""Files and machines that the tests of toolpaths share."""

from collections.abc import Iterable

from gramhour_service.toolpath.measured import Filament, Toolpath
from gramhour_service.toolpath.motion import Motion
from gramhour_service.toolpath.reading import read_toolpath

MOTION = Motion(
    speed_mm_s=300,
    acceleration_mm_s2=1500,
    deceleration_mm_s2=2500,
    corner_speed_change_mm_s=12,
    vertical_speed_mm_s=15,
    vertical_acceleration_mm_s2=200,
    filament_speed_mm_s=45,
    filament_acceleration_mm_s2=900,
)
FILAMENT = Filament(diameter_mm=1.75, density_g_cm3=1.24)


def read(
    lines: Iterable[str], motion: Motion = MOTION, filaments: dict[int, Filament] | None = None
) -> Toolpath:
    content = "\n".join(lines).encode()
    return read_toolpath([content], motion, filaments or {0: FILAMENT})


def seconds(lines: Iterable[str], motion: Motion = MOTION) -> float:
    return 60 * read(lines, motion).minutes
