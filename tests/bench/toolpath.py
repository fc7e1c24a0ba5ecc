"""Times the reading of a toolpath of 50 MB, beside a loop that only splits its lines.

From the repository's root: python -m tests.bench.toolpath. It takes about a minute.
Goal: under 60 s and 1 GiB. ``--megabytes`` makes another size.
"""

import math
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from gramhour_service.toolpath.measured import Filament
from gramhour_service.toolpath.motion import Motion
from gramhour_service.toolpath.reading import read_toolpath

MEGABYTES = 50
CHUNK = 1 << 16
MOTION = Motion(
    speed_mm_s=200, acceleration_mm_s2=2000, corner_speed_change_mm_s=10, vertical_speed_mm_s=12
)


def layer(height: float) -> Iterator[str]:
    """Lines of a layer: rings of short moves, a fill of long ones, retractions between them."""
    yield f"G1 Z{height:.2f} F720 ; the next height"
    for ring in range(4):
        radius = 20 - 0.45 * ring
        yield "G1 E-0.8 F2100"
        yield f"G0 X{100 + radius:.3f} Y100.000 F9000"
        yield "G1 E0.8 F2100"
        yield "G1 F1800"
        for k in range(1, 241):
            angle = math.tau * k / 240
            x, y = 100 + radius * math.cos(angle), 100 + radius * math.sin(angle)
            yield f"G1 X{x:.3f} Y{y:.3f} E{radius * math.tau / 240 * 0.0333:.5f}"
    for k in range(60):
        y = 87 + 0.45 * k
        for x in (87, 113) if k % 2 else (113, 87):
            yield f"G1 X{x:.3f} Y{y:.3f} E{0.866 if x == 113 else 0.015:.5f} F3000"


def write(path: Path, megabytes: int) -> None:
    with path.open("w") as file:
        file.write("G21\nG90\nM83\nG28\n")
        height = 0.0
        while file.tell() < megabytes * 1_000_000:
            height += 0.2
            file.write("\n".join(layer(height)) + "\n")


def chunks(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while chunk := file.read(CHUNK):
            yield chunk


def bare(path: Path) -> str:
    lines = words = 0
    with path.open("rb") as file:
        for line in file:
            lines += 1
            words += len(line.split())
    return f"{lines:,} lines, {words:,} words"


def measured(path: Path) -> str:
    toolpath = read_toolpath(chunks(path), MOTION, {0: Filament(1.75, 1.24)})
    return f"{toolpath.moves:,} moves, {toolpath.layers:,} layers, {toolpath.minutes:,.0f} min"


def timed(what: str, path: Path) -> None:
    """In a process of its own, for the memory is a process's peak."""
    start, cpu = time.perf_counter(), time.process_time()
    found = {"bare": bare, "measured": measured}[what](path)
    took, cpu = time.perf_counter() - start, time.process_time() - cpu
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(f"{what:9}{took:7.2f} s  (cpu {cpu:.2f} s)  {peak:6.1f} MiB   {found}\n")


def main() -> None:
    if len(sys.argv) > 1 and sys.argv[1] != "--megabytes":
        timed(sys.argv[1], Path(sys.argv[2]))
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "toolpath.gcode"
        write(path, int(sys.argv[2]) if len(sys.argv) > 1 else MEGABYTES)
        sys.stdout.write(f"{path.stat().st_size / 1e6:.1f} MB\n")
        sys.stdout.flush()
        for what in ("bare", "measured", "bare", "measured"):
            subprocess.run(
                [sys.executable, "-m", "tests.bench.toolpath", what, str(path)], check=True
            )


if __name__ == "__main__":
    main()
