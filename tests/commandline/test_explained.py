"""The explanation of each figure, for a person to read."""

from decimal import Decimal
from pathlib import Path

import pytest

from gramhour_service.commandline.explained import on_screen, readable
from tests.commandline.conftest import RATES, Run

QUOTE = ("quote", "stake.toml", "--rates", "rates.toml", "--explain")


@pytest.mark.usefixtures("shop")
def test_a_figure_has_its_rule_its_working_and_where_its_numbers_stand(run: Run) -> None:
    shown = run(*QUOTE).stdout
    assert (
        """
Feedstock: 15.0000
  Feedstock: the grams of all builds times the price of a gram, plus what whole packs add.
  = feedstock_consumed, rounded to 4 decimals
  price_per_g_pla: 0.03
    = 30.00 ÷ 1000
  feedstock_consumed: 15.00
    = 10 × 50 × price_per_g_pla
    50     /product/pieces/0/feed/0/mass_g
    30.00  /rates/materials/pla/price_per_kg
"""
        in shown
    )
    assert (
        """
Profit: 39.4000
  Profit is what cost and fees leave of the net.
  = 100.00 - 60.6000
"""
        in shown
    )


def test_what_no_sign_of_arithmetic_makes_is_a_formula_or_words_with_its_inputs(
    run: Run, shop: Path
) -> None:
    rates = RATES.replace('charging = "order"', 'charging = "order"\nspare_pct = 20')
    rates = rates.replace("power_w = 100", "power_w = 100\nhours_between_failures = 200")
    (shop / "rates.toml").write_text(rates)
    request = (shop / "stake.toml").read_text()
    (shop / "stake.toml").write_text(
        request.replace("unit_min = 2", "unit_min = 2, learning_pct = 80, made_before = 5")
    )
    shown = run(*QUOTE).stdout
    for told in (
        # 1/5 of 10 are 2 spares: 12 tags, three packs of five
        "  beyond_the_need_tag: 2.000000\n    = 10 × (1 + 20 ÷ 100) - 10, rounded to 6 decimals\n"
        "  needed_tag: 12\n    = 10 + round_half_up(beyond_the_need_tag, 0)\n"
        "  packs_of_5_tag: 3\n"
        "    = packs of 5 in the cheapest set of whole packs that holds needed_tag\n"
        "    20     /rates/components/tag/spare_pct\n",
        "    = sum(k^log2(80 ÷ 100) for k = 5 + 1 to 5 + 10), rounded to 6 decimals\n",
        "     5     /product/work/made_before\n",
        "  failures_expected_1_full: 0.01\n    = 120 ÷ (60 × 200)\n",
        "exp(-failures_expected_1_full)",
        "    = (exp(failures_expected_1_full) - 1) ÷ failures_expected_1_full - 1, rounded to 12",
        "/rates/machines/printer/hours_between_failures\n",
    ):
        assert told in shown, told


@pytest.mark.usefixtures("shop")
def test_figures_that_nothing_was_asked_of_are_named_and_not_explained(run: Run) -> None:
    shown = run(*QUOTE).stdout
    assert "\nNot explained, for nothing was asked of them: nozzle wear, scrap (failed" in shown
    assert "\nNozzle wear: " not in shown


@pytest.mark.usefixtures("shop")
def test_the_members_taken_by_default_are_listed_with_their_values(run: Run) -> None:
    shown = run(*QUOTE).stdout
    assert "\nNot given, so taken by default\n" in shown
    assert "\n    0            /rates/components/tag/spare_pct\n" in shown
    assert "\n    consumption  /product/pieces/0/feed/0/charge\n" in shown
    listed = shown.partition("\nNot given, so taken by default\n")[2].rstrip("\n").split("\n")
    assert len(listed) == 40


def test_the_sheet_is_named_once(run: Run, shop: Path) -> None:
    (shop / "mine.toml").write_text(RATES)
    shown = run("quote", "stake.toml", "--rates", "mine.toml", "--explain").stdout
    assert (
        "\nNumbers under /rates are those of mine.toml, all others the request's, unless" in shown
    )


@pytest.mark.parametrize(
    ("expression", "shown"),
    [
        ("2 * 3 / 4", "2 × 3 ÷ 4"),
        ("round((2 + 3) / 4, 4)", "(2 + 3) ÷ 4, rounded to 4 decimals"),
        ("round_half_up(2 * 3, 1)", "2 × 3, rounded to 1 decimal, half up"),
        ("round(2, 1) + round(3, 1)", "round(2, 1) + round(3, 1)"),
    ],
)
def test_expressions_are_shown_with_the_signs_of_print(expression: str, shown: str) -> None:
    assert on_screen(expression, "utf-8") == shown


def test_where_the_screen_has_no_such_signs_the_plain_ones_stay() -> None:
    assert on_screen("round(2 * 3 / 4, 2)", "ascii") == "2 * 3 / 4, rounded to 2 decimals"


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("0.02", "0.02"),
        ("0.02508004060913705583756345177664974619289", "about 0.02508004"),
        ("82.78272844670050761421319796954314720811", "about 82.782728"),
        ("-82.78272844670050761421319796954314720811", "about -82.782728"),
        ("123456789012.3333333333333333333333333333", "about 123456789012"),
        ("123456789012", "123456789012"),
        ("0", "0"),
    ],
)
def test_long_numbers_are_shortened_and_say_so(value: str, shown: str) -> None:
    assert readable(Decimal(value)) == shown
