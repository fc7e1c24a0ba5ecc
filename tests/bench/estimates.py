"""Estimated grams and minutes beside toolpaths that were written for the same shapes.

``python -m tests.bench.estimates`` prints signed differences (estimate less toolpath) for five
shapes. Estimate and toolpath are both from our own hand, so this tests consistency, not truth:
whether layers, beads, flow and pace add up to what a nozzle that follows them does. How long a real
printer takes, only a clock tells; ``POST /v1/calibrations`` is for what it told.

The toolpath lays outlines and lines side by side so that their beads, which are round at the edge,
fill a layer: A/h apart. The estimate takes outlines as wide as they are said to be. A wall that is
no whole number of beads wide is filled by beads laid wider or narrower, as is common practice (no
source): with beads of one width it would keep a gap, of 0.17 mm in the tube's 1.8.

At each layer it stands for as long as the profile says that a change takes. Until it did, and with
the gap, the tube's estimate was 10.5 % of the grams and 32 % of the minutes above its toolpath: of
the minutes 28 were changes of layer that the toolpath did not make.

Minutes are shown three times: at the sheet's pace, at pace 1, and by the pace and the change of
layer that a calibration finds from the five toolpaths (their own minutes, so these are residuals).
"""

import sys
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, NamedTuple

import numpy as np
import shapely
import trimesh

from gramhour_service.measuring.beads import beads_by_layers, layer_heights
from gramhour_service.measuring.calibration import Timed, calibrate
from gramhour_service.measuring.estimate import bead_area, flow_mm3_s, printing_minutes
from gramhour_service.measuring.sections import sections
from gramhour_service.own_parts.profiles import laid_by
from gramhour_service.resolve.toolpath import setup_of
from gramhour_service.toolpath.reading import read_toolpath
from tests import demo
from tests.measuring.shapes import block, solid

SHEET = demo.sheet()
PROFILE = laid_by("fine-04", SHEET)
MACHINE, MATERIAL = "small-1", "pla-chalk"
LAYER, WIDTH = float(PROFILE.layer_mm), float(PROFILE.bead_width_mm)
AREA = float(bead_area(PROFILE.bead_width_mm, PROFILE.layer_mm))
APART = AREA / LAYER
CHANGE_MS = int(PROFILE.layer_change_s * 1000)
FLOW = flow_mm3_s(PROFILE, None)
PER_MM = AREA / (np.pi / 4 * 1.75**2)
"""Filament fed for each millimetre of a bead."""


class Shape(NamedTuple):
    """A shape, and what it is called."""

    name: str
    mesh: Any


def shapes() -> list[Shape]:
    """Give five shapes: compact, flat, round, stepped, thin-walled."""
    tube = trimesh.creation.annulus(r_min=18.2, r_max=20, height=25, sections=96)
    round_one = trimesh.creation.cylinder(radius=15, height=20, sections=96)
    steps = [block(40, 30, 10), block(20, 30, 10, at=(0, 0, 10))]
    stepped = trimesh.boolean.union(steps)
    return [
        Shape("cube of 20 mm", block(20, 20, 20)),
        Shape("plate of 80 × 50 × 3 mm", block(80, 50, 3)),
        Shape("cylinder of 30 mm, 20 high", round_one),
        Shape("block with a step", stepped),
        Shape("tube with a wall of 1.8 mm", tube),
    ]


class Outlines(NamedTuple):
    """How many outlines, how deep the first one's middle lies, how far apart they are."""

    how_many: int
    first: float
    apart: float
    depth: float
    """Where the last one ends."""


def outlines_of(section: Any) -> Outlines:
    """Lay outlines as the profile says; where they meet, so many that they fill the wall."""
    count = PROFILE.outlines
    depth = shapely.maximum_inscribed_circle(section).length
    if depth >= WIDTH / 2 + (count - 0.5) * APART:
        return Outlines(count, WIDTH / 2, APART, WIDTH / 2 + (count - 0.5) * APART)
    fewer = max(1, round(depth / APART))
    return Outlines(fewer, depth / fewer / 2, depth / fewer, depth)


def toolpath(layers: Any) -> str:
    """Write a toolpath: outlines, then lines side by side, solid or as far apart as the fill is."""
    lines = ["G21", "G90", "M83"]
    count = PROFILE.solid_layers
    outlines = [outlines_of(each) for each in layers]
    inside = [shapely.buffer(each, -by.depth) for each, by in zip(layers, outlines, strict=True)]
    for number, (section, by) in enumerate(zip(layers, outlines, strict=True)):
        lines += [f"G1 Z{(number + 1) * LAYER:.3f} F600", f"G4 P{CHANGE_MS}"]
        for outline in range(by.how_many):
            rings = shapely.get_parts(shapely.buffer(section, -(by.first + outline * by.apart)))
            for polygon in rings[~shapely.is_empty(rings)]:
                for ring in (polygon.exterior, *polygon.interiors):
                    lines += _moves(ring.coords, by.apart / APART)
        around = [layers[at] if 0 <= at < len(layers) else shapely.Polygon()
                  for at in range(number - count, number + count + 1)]  # fmt: skip
        covered = shapely.intersection(inside[number], shapely.intersection_all(around))
        solid_part = shapely.difference(inside[number], covered)
        across = number % 2 == 0
        lines += _filled(solid_part, APART, across=across)
        lines += _filled(covered, APART / (float(PROFILE.fill_pct) / 100), across=across)
    return "\n".join(lines) + "\n"


def _filled(area: Any, apart: float, *, across: bool) -> Iterator[str]:
    """Fill an area with lines, back and forth."""
    if area.is_empty:
        return
    left, low, right, high = area.bounds
    begin, end = (low, high) if across else (left, right)
    for number, at in enumerate(np.arange(begin + apart / 2, end, apart)):
        ends = ((left, at), (right, at)) if across else ((at, low), (at, high))
        crossed = shapely.intersection(area, shapely.LineString(ends))
        for part in shapely.get_parts(crossed):
            if part.geom_type == "LineString" and part.length > WIDTH:
                yield from _moves(part.coords if number % 2 == 0 else part.coords[::-1])


def _moves(points: Any, wider: float = 1) -> Iterator[str]:
    (x, y), *rest = [point[:2] for point in points]
    yield f"G0 X{x:.4f} Y{y:.4f} F9000"
    for to_x, to_y in rest:
        fed = float(np.hypot(to_x - x, to_y - y)) * PER_MM * wider
        yield f"G1 X{to_x:.4f} Y{to_y:.4f} E{fed:.6f} F{float(PROFILE.speed_mm_s) * 60:.0f}"
        x, y = to_x, to_y


class Compared(NamedTuple):
    """A shape, what is estimated for it, and what its toolpath takes."""

    name: str
    grams: float
    path_grams: float
    volume_mm3: Decimal
    layers: int
    path_minutes: float

    def minutes(self, pace: Decimal, layer_change_s: Decimal) -> float:
        """Estimate a build's minutes."""
        amounts = (self.volume_mm3, self.layers, FLOW, pace, layer_change_s)
        return float(printing_minutes(*amounts))


def compared(shape: Shape) -> Compared:
    """Estimate a shape, and write and read its toolpath."""
    setup = setup_of(MACHINE, MATERIAL, SHEET)
    assert isinstance(SHEET.materials, dict)
    density = float(SHEET.materials[MATERIAL].density_g_cm3 or 0)
    surface = solid(shape.mesh)
    beads = beads_by_layers(surface, PROFILE)
    layers = sections(surface, layer_heights(surface, LAYER))
    path = read_toolpath([toolpath(layers).encode()], setup.motion, setup.filaments)
    (fed,) = path.fed
    return Compared(
        name=shape.name,
        grams=beads.volume_mm3 * density / 1000,
        path_grams=fed.grams,
        volume_mm3=Decimal(repr(beads.volume_mm3)),
        layers=beads.layers,
        path_minutes=path.minutes,
    )


def main() -> None:
    """Print a row a shape."""
    out = sys.stdout.write
    assert isinstance(SHEET.machines, dict)
    pace, change = SHEET.machines[MACHINE].pace, PROFILE.layer_change_s
    assert pace
    rows = [compared(shape) for shape in shapes()]
    one = Decimal(1)
    timed = [
        Timed(
            printing_minutes(each.volume_mm3, 0, FLOW, one, change),
            each.layers,
            Decimal(repr(each.path_minutes)),
        )
        for each in rows
    ]
    fit = calibrate(timed, change)
    out(f"profile fine-04 on {MACHINE} in {MATERIAL}; both are ours: consistency, not truth\n")
    out(f"sheet: pace {pace}, {change} s a layer; fitted to the toolpaths: pace {fit.pace}, ")
    out(f"{fit.layer_change_s} s a layer\n")
    out(f"{'shape':28} {'g est.':>8} {'g path':>8} {'diff':>7} {'min est.':>9} {'min path':>9}")
    out(f" {'diff':>7} {'pace 1':>7} {'fitted':>7}\n")
    for each in rows:
        minutes = [
            each.minutes(*by)
            for by in ((pace, change), (one, change), (fit.pace, fit.layer_change_s))
        ]
        out(f"{each.name:28} {each.grams:8.2f} {each.path_grams:8.2f} ")
        out(f"{_less(each.grams, each.path_grams)} {minutes[0]:9.2f} {each.path_minutes:9.2f}")
        out("".join(f" {_less(each_by, each.path_minutes)}" for each_by in minutes) + "\n")


def _less(estimate: float, path: float) -> str:
    return f"{(estimate / path - 1) * 100:+6.1f}%"


if __name__ == "__main__":
    main()
