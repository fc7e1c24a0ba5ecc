"""Fees that are a share of the price they are part of, against published amounts."""

from decimal import Decimal
from typing import Any

import pytest

from tests.published.small_sheets import costing, priced

# Card fees of 2.9 % + 0.30, (net + fixed)/(1 − share): worked for a net of 100 in the article
# "Passing on processing fees to customers" of a payment processor (jupiter.helpdocs.io,
# 540evg41v3), which charges 103.30. For 1 000 by the same form 1 030.18 (computed); help pages are
# found that have the wrong one, 1 000/0.971 + 0.30 = 1 030.17.
CARD = {"payment_pct": "2.9", "fee_per_order": "0.30"}


@pytest.mark.parametrize(
    ("net", "charge", "fee"), [("100", "103.30", "3.30"), ("1000", "1030.18", "30.18")]
)
def test_a_charge_covers_its_own_percentage_and_fixed_fee(net: str, charge: str, fee: str) -> None:
    sold = priced(costing(net), channel=CARD)
    assert sold.unit_price == Decimal(charge)
    assert sold.fees.total == Decimal(fee)
    assert sold.order_net - sold.fees.total == Decimal(net)


def test_the_fixed_fee_is_inside_the_percentage_too() -> None:
    # The common wrong form's 1 030.17 leaves 999.995. Rounded to cents its fees would hide the
    # half cent (29.87 for 29.87493), yet we do not come down to it.
    wrong = Decimal("1030.17")
    assert priced(costing("1000"), channel=CARD).unit_price > wrong
    given = priced(costing("1000"), aim={"unit_price": wrong}, channel=CARD)
    assert (given.fees.payment, given.fees.fixed) == (Decimal("29.87"), Decimal("0.30"))


# US payroll gross-up leaflet "PS 3.4-11": net 5 000, shares of 25, 6, 6.2 and 1.45 %.
GROSSED_UP = "8149.96"


def test_shares_of_a_gross_amount_leave_the_published_net() -> None:
    # The same leaflet: 38.65 % in all → 8 149.96.
    sold = priced(costing("5000"), channel={"fee_pct": "38.65"})
    assert sold.unit_price == Decimal(GROSSED_UP)
    assert sold.order_net - sold.fees.total == Decimal(5_000)


def test_shares_taken_by_different_hands_are_solved_together() -> None:
    # The same leaflet: 2 037.49, 489.00, and 505.30 + 118.17 (the designer's share, 7.65 %).
    product = {"design_fee": {"per_unit": "5000", "share_pct": "7.65"}}
    sold = priced(product, channel={"fee_pct": "25", "payment_pct": "6"})
    fees = sold.fees
    assert sold.unit_price == Decimal(GROSSED_UP)
    assert (fees.channel, fees.payment) == (Decimal("2037.49"), Decimal("489.00"))
    assert fees.design_share == Decimal("505.30") + Decimal("118.17")
    assert sold.profit == 0


@pytest.mark.parametrize(
    ("share", "amount"),
    [("25", "2037.49"), ("6", "489.00"), ("6.2", "505.30"), ("1.45", "118.17")],
)
@pytest.mark.parametrize("taken_as", ["channel", "payment", "design_share"])
def test_each_share_of_the_published_gross_is_the_published_part(
    share: str, amount: str, taken_as: str
) -> None:
    channel: dict[str, Any] = {}
    product: dict[str, Any] = {"design_fee": {}}
    match taken_as:
        case "channel":
            channel["fee_pct"] = share
        case "payment":
            channel["payment_pct"] = share
        case _:
            product["design_fee"]["share_pct"] = share
    sold = priced(product, aim={"unit_price": GROSSED_UP}, channel=channel)
    assert getattr(sold.fees, taken_as) == Decimal(amount)


@pytest.mark.parametrize(
    ("net", "price", "tax"),
    [
        # HMRC, VAT fractions: 60.00 with 20 % inside holds 10.00. The card takes 2.9 % of all 60
        # and 0.30, 2.04 (computed), so 47.96 is left of the 50.00.
        ("47.96", "60.00", "10.00"),
        # Computed: (50 + 0.30)·1.2/(1 − 0.029·1.2) = 62.5363; fees on the net alone would ask
        # for 62.1627, and rounded fees would let 62.53 pass.
        ("50", "62.54", "10.42"),
    ],
)
def test_a_card_takes_its_share_of_the_tax_too(net: str, price: str, tax: str) -> None:
    channel = {**CARD, "prices_include_tax": True, "tax_rate_pct": 20}
    sold = priced(costing(net), channel=channel)
    assert (sold.unit_price, sold.order_tax) == (Decimal(price), Decimal(tax))
