"""Pieces per build: how many boxes lie side by side on a machine's plate.

Pieces stand as in the file and are turned by quarter turns about the upright only. Both plain
grids are tried, plates cut straight through into two or three parts, each filled on its own, and
where few pieces leave room for one more a packing library, which needs no straight cuts.
"""

from collections.abc import Sequence
from decimal import Decimal
from functools import cache, lru_cache

from rectpack import SORT_NONE, MaxRectsBlsf, PackingMode, newPacker

from gramhour_service.measuring.size import Box, Plate, Warned, fits, size_of

MANY, VERY_MANY = 64, 1_000
MICROMETRES = 1_000
"""The packing library is handed whole ones: room rounded down, pieces up."""


class DoesNotFit(Exception):
    """A piece is larger than the machine's room; the words name both sizes."""


@lru_cache(maxsize=4_096)
def pieces_per_build(box: Box, plate: Plate, spacing_mm: Decimal, edge_mm: Decimal) -> int:
    """Count the pieces that one build holds, spaced from each other and from the plate's edge.

    Raises ``DoesNotFit``.
    """
    # With the spacing added to piece and plate alike, pieces lie without any.
    wide, deep = (side - 2 * edge_mm + spacing_mm for side in (plate.x, plate.y))
    count = 0
    if box.z <= plate.z:
        x, y = box.x + spacing_mm, box.y + spacing_mm
        likely = max(_grid(wide, deep, x, y), _grid(wide, deep, y, x))
        cuts = 3 if likely < MANY else 2 if likely < VERY_MANY else 1
        count = _most(wide, deep, x, y, cuts)
        if 0 < count < (room := int(wide * deep / (x * y))) <= MANY:
            count = max(count, *(_packed(wide, deep, *way, room) for way in ((x, y), (y, x))))
    if not count:
        raise DoesNotFit(
            f"the piece is {size_of(box)}, the machine's room {size_of(plate)}, of which "
            f"{edge_mm} mm along the edge stay free; split the piece, or choose a larger machine"
        )
    return count


def size_warning(box: Box, plates: Sequence[Plate]) -> Warned | None:
    """Warn of a piece that is larger than every machine, however it is turned about the upright."""
    if not plates or any(fits(box, plate) for plate in plates):
        return None
    rooms = ", ".join(size_of(plate) for plate in plates)
    return Warned(
        "larger_than_every_machine",
        f"{size_of(box)} is larger than every machine ({rooms}): split the part, or lay it down",
    )


def _grid(wide: Decimal, deep: Decimal, x: Decimal, y: Decimal) -> int:
    """Count a plain grid."""
    return max(0, int(wide // x)) * max(0, int(deep // y))


def _packed(wide: Decimal, deep: Decimal, x: Decimal, y: Decimal, most: int) -> int:
    """Count what a library packs of at most so many pieces, by the best short side."""
    packer = newPacker(
        mode=PackingMode.Offline, pack_algo=MaxRectsBlsf, sort_algo=SORT_NONE, rotation=True
    )
    packer.add_bin(int(wide * MICROMETRES), int(deep * MICROMETRES))
    for _ in range(most):
        packer.add_rect(-int(-x * MICROMETRES // 1), -int(-y * MICROMETRES // 1))
    packer.pack()
    return len(packer.rect_list())


def _most(wide: Decimal, deep: Decimal, x: Decimal, y: Decimal, cuts: int) -> int:
    """Try both grids, and every straight cut that leaves a whole number of rows on one side."""

    @cache
    def most(wide: Decimal, deep: Decimal, cuts: int) -> int:
        found = max(_grid(wide, deep, x, y), _grid(wide, deep, y, x))
        if not cuts or not found or found == int(wide * deep / (x * y)):
            return found
        for side in (x, y):
            for rows in range(1, int(wide // side) + 1):
                at = rows * side
                found = max(found, most(at, deep, cuts - 1) + most(wide - at, deep, cuts - 1))
            for rows in range(1, int(deep // side) + 1):
                at = rows * side
                found = max(found, most(wide, at, cuts - 1) + most(wide, deep - at, cuts - 1))
        return found

    return most(wide, deep, cuts)
