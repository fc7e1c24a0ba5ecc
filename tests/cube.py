"""A cube of 20 mm as binary STL, written out by hand: four corners of each side, two triangles."""

import struct
from itertools import product

CORNERS = [tuple(20.0 * c for c in corner) for corner in product((0, 1), repeat=3)]
SIDES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
TRIANGLES = [part for a, b, c, d in SIDES for part in ((a, b, c), (a, c, d))]
CUBE = (
    bytes(80)
    + struct.pack("<I", 12)
    + b"".join(
        struct.pack("<12fH", 0, 0, 0, *(x for corner in corners for x in CORNERS[corner]), 0)
        for corners in TRIANGLES
    )
)
