"""Pieces per build: never worse than both grids, never more than there is room for."""

from decimal import Decimal
from random import Random

import pytest

from gramhour_service.measuring.plate import DoesNotFit, pieces_per_build, size_warning
from gramhour_service.measuring.size import Box, Plate

PLATE = Plate(Decimal(250), Decimal(210), Decimal(200))
SPACING, EDGE = Decimal(5), Decimal(4)


def box(x: float, y: float, z: float = 10) -> Box:
    return Box(Decimal(str(x)), Decimal(str(y)), Decimal(str(z)))


def grid(x: Decimal, y: Decimal) -> int:
    across = (PLATE.x - 2 * EDGE + SPACING) // (x + SPACING)
    return int(across * ((PLATE.y - 2 * EDGE + SPACING) // (y + SPACING)))


def test_spacing_lies_between_pieces_and_the_edge_around_them() -> None:
    # 3 pieces of 30 with 2 spaces of 5 and 2 edges of 4 need 108.
    plate = Plate(Decimal(108), Decimal(38), Decimal(50))
    assert pieces_per_build(box(30, 30), plate, SPACING, EDGE) == 3
    assert pieces_per_build(box(30, 30), plate._replace(x=Decimal("107.999")), SPACING, EDGE) == 2


def test_on_two_hundred_drawn_boxes_it_is_never_worse_than_both_grids_nor_over_the_area() -> None:
    random, better = Random(20), 0
    for _ in range(200):
        drawn = box(round(random.uniform(3, 200), 2), round(random.uniform(3, 200), 2))
        count = pieces_per_build(drawn, PLATE, SPACING, EDGE)
        grids = max(grid(drawn.x, drawn.y), grid(drawn.y, drawn.x))
        room = (PLATE.x - 2 * EDGE + SPACING) * (PLATE.y - 2 * EDGE + SPACING)
        assert grids <= count <= room / ((drawn.x + SPACING) * (drawn.y + SPACING))
        better += count > grids
    assert better > 50


def test_pieces_turned_beside_others_fill_what_neither_grid_fills() -> None:
    # 5 × 3 on 8 × 5: one standing beside one lying and … by hand: 5 + 3 = 8 across.
    plate = Plate(Decimal(8), Decimal(5), Decimal(50))
    assert pieces_per_build(box(5, 3), plate, Decimal(0), Decimal(0)) == 2
    # 7 × 4 on 11 × 11: two stand in a row of 7 + 4, two lie in the other way round.
    eleven = Plate(Decimal(11), Decimal(11), Decimal(50))
    assert pieces_per_build(box(7, 4), eleven, Decimal(0), Decimal(0)) >= 3


@pytest.mark.parametrize(
    ("wide", "deep", "x", "y", "count"), [(15, 17, 6, 9, 4), (21, 29, 6, 8, 11)]
)
def test_a_packing_library_finds_what_no_straight_cuts_reach(
    wide: int, deep: int, x: int, y: int, count: int
) -> None:
    plate = Plate(Decimal(wide), Decimal(deep), Decimal(50))
    assert pieces_per_build(box(x, y), plate, Decimal(0), Decimal(0)) == count


def test_one_that_just_fits_fits_also_turned() -> None:
    assert pieces_per_build(box(242, 202), PLATE, SPACING, EDGE) == 1
    assert pieces_per_build(box(202, 242), PLATE, SPACING, EDGE) == 1


@pytest.mark.parametrize("size", [(242.01, 10, 10), (243, 203, 10), (10, 10, 200.5)])
def test_what_does_not_fit_is_told_with_both_sizes(size: tuple[float, float, float]) -> None:
    with pytest.raises(DoesNotFit) as told:
        pieces_per_build(box(*size), PLATE, SPACING, EDGE)
    x, y, z = (f"{side:g}" for side in size)
    assert str(told.value) == (
        f"the piece is {x} × {y} × {z} mm, the machine's room 250 × 210 × 200 mm, of which 4 mm "
        "along the edge stay free; split the piece, or choose a larger machine"
    )


def test_a_piece_larger_than_every_machine_is_told_and_one_that_fits_some_is_not() -> None:
    small = Plate(Decimal(120), Decimal(100), Decimal(90))
    assert size_warning(box(100, 200, 150), [small, PLATE]) is None
    assert size_warning(box(210, 250, 200), [small, PLATE]) is None
    assert size_warning(box(300, 10), []) is None
    told = size_warning(box(211, 250, 10), [small, PLATE])
    assert told is not None
    assert told.word == "larger_than_every_machine"
    assert "(120 × 100 × 90 mm, 250 × 210 × 200 mm)" in told.says


def test_a_thousand_small_pieces_are_counted() -> None:
    assert pieces_per_build(box(1, 1), PLATE, Decimal(1), EDGE) == 121 * 101
