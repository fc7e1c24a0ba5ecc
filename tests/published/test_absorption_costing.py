"""Absorption costing and the way from cost to price, against published schemes.

The schemes are worked by hand with every step rounded to cents. A price of ours is never below
the one that meets the aim exactly, so where they round down it is a cent more.
"""

from decimal import Decimal
from typing import Any

import pytest

from gramhour_service.calculation.price import cost_with_markup
from tests.published.small_sheets import as_printed, costing, priced

CENT = Decimal("0.01")


def bought_for(price: str) -> dict[str, Any]:
    return {"components": {"part": {"offers": [{"price": price}]}}}


PART = {"components": [{"component": "part"}]}

# Trading scheme in Deitermann/Schmolke/Rückwart, Rechnungswesen des Groß- und Außenhandels
# (8th ed., 1990, p. 328) as worked at skontoberechnung.de.
CASH_PRICE = "131.11"
SHARES_OF_THE_PRICE = {"fee_pct": 15, "payment_pct": 2}


def test_overhead_is_on_what_is_bought_in() -> None:
    # Trading scheme: 93.00 and 33 % are 123.69.
    cost = priced(PART, material_overhead_pct=33, **bought_for("93.00")).cost
    assert cost.material_overhead == Decimal("30.69")
    assert cost.total == Decimal("123.69")


def test_profit_is_a_markup_on_the_cost() -> None:
    # Trading scheme: 123.69 and 6 % are 131.11 (131.1114); the first cent that brings them is
    # 131.12.
    assert as_printed(cost_with_markup(Decimal("123.69"), Decimal(6)), 2) == Decimal(CASH_PRICE)
    sold = priced(PART, aim={"markup_pct": 6}, material_overhead_pct=33, **bought_for("93.00"))
    assert sold.unit_price == Decimal(CASH_PRICE) + CENT


def test_shares_of_the_price_are_divided_out_of_it() -> None:
    # Trading scheme: 131.11/0.83 is 157.96 (157.9639); the first cent not below it is 157.97.
    sold = priced(costing(CASH_PRICE), channel=SHARES_OF_THE_PRICE)
    assert sold.unit_price == Decimal("157.96") + CENT


def test_the_published_price_gives_the_published_cash_price_back() -> None:
    # Trading scheme, backwards: 157.96 less 15 % (23.69) and 2 % (3.16) is 131.11, to the cent.
    sold = priced(costing(CASH_PRICE), aim={"unit_price": "157.96"}, channel=SHARES_OF_THE_PRICE)
    assert (sold.fees.channel, sold.fees.payment) == (Decimal("23.69"), Decimal("3.16"))
    assert sold.order_net - sold.fees.total == Decimal(CASH_PRICE)
    assert sold.profit == 0


@pytest.mark.parametrize("list_price", ["185.84", "185.83"], ids=["rounded", "as truncated"])
def test_a_rebate_of_the_list_price_leaves_the_price_before_it(list_price: str) -> None:
    # Trading scheme: 157.96/0.85 is 185.84, which the page truncates to 185.83. We do not solve
    # for a price before rebate; taken off, both give 157.96 back.
    sold = priced(costing(CASH_PRICE), aim={"unit_price": list_price}, discount_pct=15)
    assert sold.unit_price == Decimal("157.96")


@pytest.mark.parametrize(
    ("list_price", "gross"),
    [
        ("185.83", "221.14"),  # the page's own figures
        ("185.84", "221.15"),  # without its truncation, a cent more
    ],
)
def test_tax_comes_on_top_of_the_list_price(list_price: str, gross: str) -> None:
    # Trading scheme: and 19 % tax are 221.14.
    channel = {"prices_include_tax": False, "tax_rate_pct": 19}
    sold = priced(costing(CASH_PRICE), aim={"unit_price": list_price}, channel=channel)
    assert sold.order_gross == Decimal(gross)


# Manufacturing scheme worked at kommundsieh.de/zuschlag.html. We have one wage and one production
# overhead, so each of its three shops is asked on a sheet of its own.
SHOPS = [(34, "14.00", 60, "761.60"), (28, "12.50", 70, "595.00"), (15, "18.00", 85, "499.50")]


@pytest.mark.parametrize(("hours", "wage", "overhead", "cost"), SHOPS)
def test_production_overhead_is_on_labour(hours: int, wage: str, overhead: int, cost: str) -> None:
    # Manufacturing scheme: hours at a wage with the shop's overhead (shops' sums computed; the
    # page adds them up to the manufacturing cost of 3 176.10).
    work = {"work": {"order_min": hours * 60}}
    made = priced(work, labour_rate_per_hour=wage, production_overhead_pct=overhead)
    assert made.cost.total == Decimal(cost)


def test_material_overhead_and_the_shops_add_to_the_published_manufacturing_cost() -> None:
    # Manufacturing scheme: 1 200 and 10 %, and the three shops, are 3 176.10.
    material = priced(PART, material_overhead_pct=10, **bought_for("1200")).cost
    assert material.total == Decimal(1_320)
    shops = [
        priced(
            {"work": {"order_min": hours * 60}},
            labour_rate_per_hour=wage,
            production_overhead_pct=overhead,
        ).cost.total
        for hours, wage, overhead, _ in SHOPS
    ]
    assert material.total + sum(shops) == Decimal("3176.10")


def test_administration_is_on_the_manufacturing_cost() -> None:
    # Manufacturing scheme: 3 176.10 and 20 % and 8 % of it are 4 065.41. Material stands as bought
    # in, the three shops' sum, which we cannot hold apart, as a fee that has no other overhead.
    product = {**PART, **costing("1856.10")}
    cost = priced(
        product, material_overhead_pct=10, admin_overhead_pct=20 + 8, **bought_for("1200")
    ).cost
    assert as_printed(cost.total, 2) == Decimal("4065.41")


@pytest.mark.parametrize(
    ("margin", "markup"), [("20", "25.00"), ("33.33", "50.00"), ("50", "100.00"), ("75", "300.00")]
)
def test_a_margin_on_price_is_the_published_markup_on_cost(margin: str, markup: str) -> None:
    # Margin to markup, m/(1 − m): 20 → 25, 33.33 → 50, 50 → 100, 75 → 300 %. A cost of 100 has
    # prices fine enough (33.33 asks for 149.9925, sold at 150.00).
    sold = priced(costing("100"), aim={"margin_pct": margin})
    assert (sold.margin_pct, sold.markup_pct) == (Decimal(margin), Decimal(markup))


@pytest.mark.parametrize(
    ("markup", "margin"), [("25", "20.00"), ("100", "50.00"), ("300", "75.00")]
)
def test_a_markup_on_cost_is_the_published_margin_on_price(markup: str, margin: str) -> None:
    sold = priced(costing("100"), aim={"markup_pct": markup})
    assert (sold.margin_pct, sold.markup_pct) == (Decimal(margin), Decimal(markup))
