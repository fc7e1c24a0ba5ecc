"""Times measuring beside the bare library's load of the same file, each in a fresh process.

``python -m tests.bench.measuring``: STL of about 10^4, 10^5 and 10^6 triangles, 3MF of 10^5.
Goal: STL of 10^5 in under 1 s, under 1 GiB each. Best of three, by the clock and by what the
process and those it started took of a processor, their start and all that they load included; peak
memory of the process that reads. Files are made in a process too, for a process inherits the peak
of the one that starts it.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

RUNS = 3
SHAPES = {"stl": (50, 158, 500), "3mf": (158,)}
"""Parallels of a globe of 30 mm: four times their square is about the number of triangles."""

MADE = """
import sys, trimesh
n = int(sys.argv[2])
trimesh.creation.uv_sphere(radius=30, count=[n, n]).export(sys.argv[1])
"""

BARE = """
import trimesh, sys
trimesh.load_mesh(sys.argv[1]).is_watertight
"""
OURS = """
import sys
from pathlib import Path
from typing import NamedTuple
from gramhour_service.measuring.apart import measure_apart
from gramhour_service.measuring.bounds import Limits
from gramhour_service.measuring.profile import Profile
from decimal import Decimal as D
usual = Profile(D("0.2"), D("0.45"), 3, 4, D(20), D(45), D(60), D(1))
path = Path(sys.argv[1])
most = Limits()._replace(seconds=600)
measure_apart(path.read_bytes(), "model/" + path.suffix[1:], most, [usual] if {layers} else [])
"""
WAYS = {
    "bare load": BARE,
    "measured": OURS.format(layers=False),
    "and beads": OURS.format(layers=True),
}


class Took(NamedTuple):
    """What a run took: seconds by the clock and of a processor, and peak MB."""

    clock: float
    cpu: float
    peak: float


def measured(code: str, path: Path) -> Took:
    """Run code on a file; the peak is that of it or of what it started."""
    watched = (
        "import resource, runpy, sys\n"
        f"exec({code!r})\n"
        "kinds = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)\n"
        "used = [resource.getrusage(kind) for kind in kinds]\n"
        "print(sum(each.ru_utime + each.ru_stime for each in used))\n"
        "print(max(each.ru_maxrss for each in used) / 1024)\n"
    )
    start = time.perf_counter()
    said = subprocess.run(
        [sys.executable, "-c", watched, str(path)], capture_output=True, text=True, check=True
    )
    cpu, peak = map(float, said.stdout.split())
    return Took(time.perf_counter() - start, cpu, peak)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for ending, sizes in SHAPES.items():
            for parallels in sizes:
                path = Path(folder) / f"globe-{parallels}.{ending}"
                made = [sys.executable, "-c", MADE, str(path), str(parallels)]
                subprocess.run(made, check=True)
                for name, code in WAYS.items():
                    runs = [measured(code, path) for _ in range(RUNS)]
                    clock, cpu = min(each.clock for each in runs), min(each.cpu for each in runs)
                    peak = statistics.median(each.peak for each in runs)
                    sys.stdout.write(
                        f"{ending}, some {4 * parallels**2:,} triangles, {name}: {clock:.2f} s "
                        f"(cpu {cpu:.2f} s), peak {peak:.0f} MB\n"
                    )
                    sys.stdout.flush()


if __name__ == "__main__":
    main()
