"""Grams of a description, against data sheets and worked conversions."""

from decimal import Decimal

import pytest

from gramhour_service.calculation.feedstock import filament_area, grams_of_length
from tests.published.small_sheets import as_printed, on_machine, priced, printed

# g/cm³, each from the data sheet of one grade. Grades differ: the sheet of the grade decides.
DENSITIES = {
    "PLA": "1.24",  # NatureWorks Ingeo 4043D, ASTM D792
    "PETG": "1.27",  # Eastar GN046, ASTM D792
    "ABS": "1.04",  # Terluran GP-35, ISO 1183
    "ASA": "1.07",  # Luran S 778T, ISO 1183
    "TPU": "1.23",  # Elastollan S90A, ISO 1183
    "PC": "1.20",  # Makrolon 2405, ISO 1183
}


def grams_charged(density: str, diameter: str = "1.75", **feed: str) -> Decimal:
    """Ask what one build weighs: at 1 000 a kilogram a gram costs one."""
    rates = on_machine()
    rates["materials"]["fil"] = {
        "price_per_kg": 1000,
        "density_g_cm3": density,
        "diameter_mm": diameter,
    }
    made = priced(printed(60, **feed), **rates)
    assert as_printed(made.use.feedstock_g["fil"], 4) == made.cost.feedstock
    return made.cost.feedstock


@pytest.mark.parametrize("material", DENSITIES)
def test_a_hundred_cubic_centimetres_weigh_what_the_data_sheet_says(material: str) -> None:
    density = DENSITIES[material]
    assert grams_charged(density, volume_cm3="100") == 100 * Decimal(density)


def test_a_metre_of_filament_holds_its_published_volume() -> None:
    # fabbaloo.com 2018-12-19: 1 m of 1.75 mm filament is 2.405 cm³ (3 decimals).
    area = filament_area(Decimal("1.75"))
    assert as_printed(grams_of_length(Decimal(1), area, Decimal(1)), 3) == Decimal("2.405")
    assert as_printed(grams_charged("1", length_m="1"), 3) == Decimal("2.405")


def test_a_volume_of_thicker_filament_has_its_published_length() -> None:
    # The same article: 11.4 cm³ of 2.85 mm filament are 1.787 m (178.7 cm).
    assert as_printed(Decimal("11.4") / filament_area(Decimal("2.85")), 3) == Decimal("1.787")
    # A millimetre more or less would not weigh as much.
    shorter, longer = (grams_charged("1", "2.85", length_m=m) for m in ("1.7865", "1.7875"))
    assert shorter <= Decimal("11.4") < longer


@pytest.mark.parametrize(
    ("material", "metres"), [("PLA", "335.28"), ("PETG", "327.36"), ("ABS", "399.76")]
)
def test_a_kilogram_has_so_many_metres(material: str, metres: str) -> None:
    # Metres per kilogram at 1.75 mm, computed on the densities above, 2 decimals: half a
    # centimetre less and more weigh just under and over a kilogram.
    half = Decimal("0.005")
    less, more = (
        grams_charged(DENSITIES[material], length_m=str(length))
        for length in (Decimal(metres) - half, Decimal(metres) + half)
    )
    assert less <= 1000 < more


def test_the_cross_section_of_a_filament_is_that_of_a_circle() -> None:
    # Archimedes' bounds, 3 10/71 < π < 3 1/7 (Measurement of a Circle, from memory), on a quarter
    # of the diameter squared.
    for diameter in (Decimal("1.75"), Decimal("2.85")):
        quarter = diameter**2 / 4
        assert quarter * (3 + Decimal(10) / 71) < filament_area(diameter)
        assert filament_area(diameter) < quarter * (3 + Decimal(1) / 7)
