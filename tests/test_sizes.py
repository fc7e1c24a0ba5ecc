"""What is probably in another unit is told to the shop, and neither refused nor told to buyers."""

from typing import Any

import pytest

from gramhour_service.answer.price_view import price_view
from tests.orders import price

# Common practice, no source: a spool of 10 kg, a fortnight, 500 g an hour, 1 W to 5 kW.
GRAMS = "Check that these are grams, and of one build."
BOTH = "Check that these are grams and minutes, and both of one full build."


def told(grams: Any, minutes: Any, power_w: Any = 120) -> list[str]:
    """Quote one piece, and say what the cost view cautions; the price view never does."""
    piece = {
        "machine": "m",
        "print_min": minutes,
        "feed": [{"material": "pla", "mass_g": grams}],
    }
    request = {"product": {"pieces": [piece]}, "quantity": 1, "channel": "shop"}
    rates = {
        "currency": "EUR",
        "labour_rate_per_hour": 0,
        "price_per_kwh": 0,
        "materials": {"pla": {"price_per_kg": 20}},
        "machines": {"m": {"rate_per_hour": 1, "power_w": power_w}},
        "channels": {"shop": {"prices_include_tax": False, "aim": {"margin_pct": 40}}},
    }
    quote = price({"request": request, "rates": rates})
    assert {each.hazard for each in quote.cautions} <= {"unlikely size"}
    assert price_view(quote).cautions == []
    return [each.says for each in quote.cautions]


@pytest.mark.parametrize(
    ("grams", "minutes", "says"),
    [
        (
            42_500,
            95,
            "A full build of piece 1 takes 42500 g, more than the largest spools hold (10000 g). "
            + GRAMS,
        ),
        (
            "42.5",
            60_000,
            "A full build of piece 1 prints for 60000 min, longer than a fortnight (20160 min). "
            "Check that these are minutes, and of one build.",
        ),
        (
            "42.5",
            "1.58",
            "42.5 g in 1.6 min of piece 1 are 1613.9 g an hour, more than a filament nozzle melts "
            "(500 g). " + BOTH,
        ),
        (
            "0.0425",
            95,
            "0.0425 g in 95 min of piece 1 are less than 0.1 g an hour, as no printer works. "
            + BOTH,
        ),
    ],
    ids=["grams", "seconds", "hours", "kilograms"],
)
def test_grams_and_minutes_in_another_unit_are_told(grams: Any, minutes: Any, says: str) -> None:
    assert told(grams, minutes) == [says]


def test_watts_in_kilowatts_are_told() -> None:
    assert told("42.5", 95, "0.12") == [
        "Piece 1 prints with 0.12 W, where desktop printers draw 1 to 5000 W. "
        "Check that power_w is in watts."
    ]
    assert told("42.5", 95, "0.000001")[0].startswith("Piece 1 prints with 0.000001 W, where")


def test_what_is_just_within_the_limits_is_not_told() -> None:
    assert told(10_000, 20_160, 5_000) == told(500, 60, 1) == told("0.1", 60, 0) == []
    assert told(0, 95) == told("42.5", 0) == []
