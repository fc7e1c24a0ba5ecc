"""A solid cube of 10 mm as a toolpath: 50 layers of 0.2 mm, each of 20 beads 10 mm × 0.5 mm.

A bead holds 1 mm³, so the cube holds 1,000 mm³ whatever the filament: what is fed is that volume
over the cross-section of a filament of 1.75 mm, π/4 · 1.75² mm².
"""

import math

AREA_MM2 = math.pi / 4 * 1.75**2
LAYERS, BEADS = 50, 20


def _lines() -> list[str]:
    lines = ["G21", "G90", "M83", "M104 S210 ; the heater is nobody's business here", "G28"]
    for layer in range(1, LAYERS + 1):
        lines.append(f"G1 Z{0.2 * layer:.1f} F600")
        for bead in range(BEADS):
            y, ends = 0.25 + 0.5 * bead, (0, 10) if bead % 2 == 0 else (10, 0)
            lines.append(f"G0 X{ends[0]} Y{y:.2f} F9000")
            lines.append(f"G1 X{ends[1]} E{1 / AREA_MM2:.7f} F3000")
    return lines


CUBE_GCODE = "\n".join(_lines()).encode() + b"\n"
