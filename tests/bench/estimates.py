"""Estimated grams and minutes beside toolpaths that were written for the same shapes.

``python -m tests.bench.estimates`` prints signed differences (estimate less toolpath) for five
shapes. Estimate and toolpath are both from our own hand, so this tests consistency, not truth:
whether layers, beads, flow and pace add up to what a nozzle that follows them does. How long a real
printer takes, only a clock tells; ``POST /v1/calibrations`` is for what it told.

The toolpath lays outlines and lines side by side so that their beads, which are round at the edge,
fill a layer: A/h apart. The estimate takes outlines as wide as they are said to be.
"""

import sys
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, NamedTuple

import numpy as np
import shapely
import trimesh

from gramhour_service.measuring.beads import beads_by_layers, layer_heights
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


def toolpath(layers: Any) -> str:
    """Write a toolpath: outlines, then lines side by side, solid or as far apart as the fill is."""
    lines = ["G21", "G90", "M83"]
    count = PROFILE.solid_layers
    inside = [
        shapely.buffer(each, -(WIDTH / 2 + (PROFILE.outlines - 0.5) * APART)) for each in layers
    ]
    for number, section in enumerate(layers):
        lines.append(f"G1 Z{(number + 1) * LAYER:.3f} F600")
        for outline in range(PROFILE.outlines):
            rings = shapely.get_parts(shapely.buffer(section, -(WIDTH / 2 + outline * APART)))
            for polygon in rings[~shapely.is_empty(rings)]:
                for ring in (polygon.exterior, *polygon.interiors):
                    lines += _moves(ring.coords)
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


def _moves(points: Any) -> Iterator[str]:
    (x, y), *rest = [point[:2] for point in points]
    yield f"G0 X{x:.4f} Y{y:.4f} F9000"
    for to_x, to_y in rest:
        fed = float(np.hypot(to_x - x, to_y - y)) * PER_MM
        yield f"G1 X{to_x:.4f} Y{to_y:.4f} E{fed:.6f} F{float(PROFILE.speed_mm_s) * 60:.0f}"
        x, y = to_x, to_y


def main() -> None:
    """Print a row a shape."""
    out = sys.stdout.write
    out(f"profile fine-04 on {MACHINE} in {MATERIAL}; both are ours: consistency, not truth\n")
    out(f"{'shape':28} {'g est.':>8} {'g path':>8} {'diff':>7} {'min est.':>9} {'min path':>9}")
    out(f" {'diff':>7} {'at pace 1':>9}\n")
    setup = setup_of(MACHINE, MATERIAL, SHEET)
    assert isinstance(SHEET.machines, dict)
    pace = SHEET.machines[MACHINE].pace
    assert pace
    assert isinstance(SHEET.materials, dict)
    density = float(SHEET.materials[MATERIAL].density_g_cm3 or 0)
    for shape in shapes():
        surface = solid(shape.mesh)
        beads = beads_by_layers(surface, PROFILE)
        layers = sections(surface, layer_heights(surface, LAYER))
        path = read_toolpath([toolpath(layers).encode()], setup.motion, setup.filaments)
        (fed,) = path.fed
        flow = flow_mm3_s(PROFILE, None)
        minutes, at_speed = (
            float(printing_minutes(*_amounts(beads), flow, each, PROFILE.layer_change_s))
            for each in (pace, type(pace)(1))
        )
        grams = beads.volume_mm3 * density / 1000
        out(f"{shape.name:28} {grams:8.2f} {fed.grams:8.2f} {_less(grams, fed.grams)}")
        out(f" {minutes:9.2f} {path.minutes:9.2f} {_less(minutes, path.minutes)}")
        out(f" {_less(at_speed, path.minutes):>9}\n")


def _amounts(beads: Any) -> tuple[Any, Any]:
    return Decimal(repr(beads.volume_mm3)), Decimal(beads.layers)


def _less(estimate: float, path: float) -> str:
    return f"{(estimate / path - 1) * 100:+6.1f}%"


if __name__ == "__main__":
    main()
