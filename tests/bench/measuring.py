"""Times measuring beside the bare library's load of the same file, each in a fresh process.

``python -m tests.bench.measuring``: STL of about 10^4, 10^5 and 10^6 triangles, 3MF of 10^5.
Goal: STL of 10^5 in under 1 s, under 1 GiB each. Best of three; peak memory of the process that
reads. Files are made in a process too, for a process inherits the peak of the one that starts it.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

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
from gramhour_service.measuring.apart import measure_apart
from gramhour_service.measuring.bounds import Limits
from gramhour_service.measuring.profile import Profile
from decimal import Decimal as D
usual = Profile(D("0.2"), D("0.45"), 3, 4, D(20), D(45), D(60), D(1))
path = Path(sys.argv[1])
measure_apart(path.read_bytes(), "model/" + path.suffix[1:], Limits(), [usual] if {layers} else [])
"""
WAYS = {
    "bare load": BARE,
    "measured": OURS.format(layers=False),
    "and beads": OURS.format(layers=True),
}


def measured(code: str, path: Path) -> tuple[float, float]:
    """Run code on a file: seconds, and the peak MB of it or of what it started."""
    watched = (
        "import resource, runpy, sys\n"
        f"exec({code!r})\n"
        "kinds = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)\n"
        "print(max(resource.getrusage(kind).ru_maxrss for kind in kinds) / 1024)\n"
    )
    start = time.perf_counter()
    said = subprocess.run(
        [sys.executable, "-c", watched, str(path)], capture_output=True, text=True, check=True
    )
    return time.perf_counter() - start, float(said.stdout)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for ending, sizes in SHAPES.items():
            for parallels in sizes:
                path = Path(folder) / f"globe-{parallels}.{ending}"
                made = [sys.executable, "-c", MADE, str(path), str(parallels)]
                subprocess.run(made, check=True)
                for name, code in WAYS.items():
                    runs = [measured(code, path) for _ in range(RUNS)]
                    seconds = min(second for second, _ in runs)
                    peak = statistics.median(mb for _, mb in runs)
                    sys.stdout.write(
                        f"{ending}, some {4 * parallels**2:,} triangles, {name}: {seconds:.2f} s, "
                        f"peak {peak:.0f} MB\n"
                    )


if __name__ == "__main__":
    main()
