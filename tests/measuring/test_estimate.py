"""From what is laid down to grams and minutes, against published values and by hand."""

from decimal import Decimal
from math import pi

import pytest

from gramhour_service.calculation.feedstock import filament_area
from gramhour_service.measuring.estimate import (
    bead_area,
    flow_mm3_s,
    grams_of,
    layers_of,
    printing_minutes,
    shell_form,
)
from tests.measuring.shapes import USUAL, block, measured, stl_of


def d(amount: str) -> Decimal:
    return Decimal(amount)


def test_a_bead_of_0_45_by_0_2_has_its_published_area() -> None:
    # π(h/2)² + h(w − h): form as in Comminal et al. 2018.
    assert str(bead_area(d("0.45"), d("0.2"))) == "0.081416"


def test_a_bead_as_high_as_wide_is_round() -> None:
    assert float(bead_area(d("0.4"), d("0.4"))) == pytest.approx(pi * 0.2**2, abs=5e-7)


def test_a_bead_higher_than_wide_is_refused() -> None:
    with pytest.raises(ValueError, match="at least as wide as it is high"):
        bead_area(d("0.3"), d("0.31"))


def test_twice_the_nozzle_at_equal_proportions_lays_four_times_the_volume() -> None:
    # Common practice, no source.
    small = USUAL._replace(bead_width_mm=d("0.4"), layer_mm=d("0.2"))
    large = USUAL._replace(bead_width_mm=d("0.8"), layer_mm=d("0.4"))
    ratio = flow_mm3_s(large, None) / flow_mm3_s(small, None)
    assert float(ratio) == pytest.approx(4, rel=2e-5)


def test_two_layers_of_two_lines_fill_what_one_layer_of_one_line_of_twice_the_size_fills() -> None:
    # Common practice, no source.
    assert float(4 * bead_area(d("0.4"), d("0.2"))) == pytest.approx(
        float(bead_area(d("0.8"), d("0.4"))), abs=3e-6
    )


def test_the_hot_end_decides_where_it_cannot_melt_what_the_bead_asks() -> None:
    assert flow_mm3_s(USUAL, None) == d("0.081416") * 60
    assert flow_mm3_s(USUAL, d("3.5")) == d("3.5")
    assert flow_mm3_s(USUAL, d("30")) == d("0.081416") * 60


def test_a_build_of_the_costing_rules_cube_takes_its_minutes() -> None:
    # (3,594.45/(4.88496 · 0.8) + 100 · 1.5)/60 = (919.78… + 150)/60.
    minutes = printing_minutes(d("3594.45"), d("100"), d("4.88496"), d("0.8"), d("1.5"))
    assert float(minutes) == pytest.approx((3594.45 / (4.88496 * 0.8) + 150) / 60, rel=1e-12)
    assert round(minutes, 3) == d("17.830")


def test_layers_are_counted_once_for_all_pieces_of_a_build() -> None:
    one = printing_minutes(d("1000"), d("50"), d("5"), d("1"), d("6"))
    nine = printing_minutes(d("9000"), d("50"), d("5"), d("1"), d("6"))
    assert one == d("1000") / 5 / 60 + 5
    assert nine == d("9000") / 5 / 60 + 5


@pytest.mark.parametrize(
    # g/cm³ and metres per kilogram at 1.75 mm (computed from densities of data sheets: Ingeo
    # 4043D, Eastar GN046, Terluran GP-35).
    ("density", "metres"),
    [("1.24", "335.28"), ("1.27", "327.36"), ("1.04", "399.76")],
)
def test_a_kilogram_laid_down_was_so_many_metres_of_filament(density: str, metres: str) -> None:
    volume = 1_000_000 / d(density)  # mm³ of a kilogram
    assert round(grams_of(volume, d(density)), 6) == 1000
    assert round(volume / filament_area(d("1.75")) / 1000, 2) == d(metres)


def test_a_metre_of_filament_lays_its_published_volume() -> None:
    # 1 m of 1.75 mm is 2.405 cm³ (trade news, 2018-12-19).
    assert round(grams_of(1000 * filament_area(d("1.75")), d("1")), 3) == d("2.405")


def test_of_typed_geometry_the_shell_comes_first_and_the_rest_is_filled() -> None:
    # 8,000 in a surface of 2,400 · 1.35 = 3,240 of shell, 20 % of 4,760.
    laid = shell_form(d("8000"), d("2400"), d("20"), USUAL)
    assert (laid.volume_mm3, laid.support_mm3, laid.layers) == (d("4192"), d("0"), 100)


def test_of_a_thin_shape_the_shell_is_all_there_is() -> None:
    laid = shell_form(d("1000"), d("2100"), d("100"), USUAL)
    assert laid.volume_mm3 == 1000


def test_the_shell_form_overstates_a_cube_beside_its_layers() -> None:
    # 3,594.45 by layers: a shell does not shrink towards the inside, and counts edges twice.
    cube = measured(stl_of(block(20, 20, 20)))
    assert cube.volume_mm3 is not None
    laid = shell_form(cube.volume_mm3, cube.area_mm2, cube.box.z, USUAL)
    assert laid.volume_mm3 == d("4192.00000")


@pytest.mark.parametrize(
    ("height", "layer", "layers"),
    [("20", "0.2", 100), ("20", "0.3", 67), ("0.1", "0.2", 1), ("1.1", "0.2", 6), ("1", "3", 1)],
)
def test_layers_of_a_height_are_rounded_half_up(height: str, layer: str, layers: int) -> None:
    assert layers_of(d(height), d(layer)) == layers
