"""Tax inside and on top of prices, and currencies' minor units, against their authorities."""

from decimal import Decimal

import pytest
from babel.numbers import get_currency_precision, list_currencies
from iso4217 import Currency

from gramhour.contract.problem import Refused
from gramhour_service.resolve.currency import UnknownCurrency, minor_digits
from tests.published.small_sheets import as_printed, costing, priced


@pytest.mark.parametrize(
    ("rate", "gross", "tax"),
    [
        # HMRC, VAT fractions (gov.uk): 20 % → 1/6, 5 % → 1/21, 15 % → 3/23.
        ("20", "60.00", "10.00"),
        ("5", "80.00", "3.81"),
        ("15", "115.00", "15.00"),
        # Inland Revenue of New Zealand, "Calculating GST" (ird.govt.nz, 2010): 3/23 of 1 725.
        ("15", "1725.00", "225.00"),
    ],
    ids=["1/6", "1/21", "3/23", "3/23 New Zealand"],
)
def test_the_tax_in_a_price_is_the_published_fraction(rate: str, gross: str, tax: str) -> None:
    channel = {"prices_include_tax": True, "tax_rate_pct": rate}
    sold = priced(costing("1"), aim={"unit_price": gross}, channel=channel)
    assert (sold.order_gross, sold.order_tax) == (Decimal(gross), Decimal(tax))
    assert sold.order_net + sold.order_tax == Decimal(gross)


@pytest.mark.parametrize(
    ("rate", "net", "tax", "gross"),
    [
        # Inland Revenue of New Zealand, the same page: 1 500 and 15 %.
        ("15", "1500.00", "225.00", "1725.00"),
        # Government of Canada, Budget 2012, "Rounding": 1.83 and 2.86 and 5 % are 4.92.
        ("5", "4.69", "0.23", "4.92"),
    ],
    ids=["New Zealand", "Canada"],
)
def test_the_tax_on_top_of_a_price_is_the_published_one(
    rate: str, net: str, tax: str, gross: str
) -> None:
    channel = {"prices_include_tax": False, "tax_rate_pct": rate}
    sold = priced(costing("1"), aim={"unit_price": net}, channel=channel)
    assert (sold.order_net, sold.order_tax, sold.order_gross) == (
        Decimal(net),
        Decimal(tax),
        Decimal(gross),
    )


@pytest.mark.parametrize(
    ("net", "tax"),
    # HMRC VATREC12030 (gov.uk): half a penny and more rounds up, less rounds down. At 5 % these
    # are 0.4, 0.5, 1.45, 2.5 and 4.5 pence; half even would give 0, 0, 1, 2 and 4.
    [("0.08", "0.00"), ("0.10", "0.01"), ("0.29", "0.01"), ("0.50", "0.03"), ("0.90", "0.05")],
)
def test_half_a_penny_of_tax_rounds_up(net: str, tax: str) -> None:
    channel = {"prices_include_tax": False, "tax_rate_pct": 5}
    sold = priced(costing("1"), aim={"unit_price": net}, channel=channel, currency="GBP")
    assert sold.order_tax == Decimal(tax)


def test_tax_taken_out_of_a_price_need_not_give_it_back_when_put_on() -> None:
    # justlocal.blogspot.com, November 2016, on Australian GST (10 %): 1.04 holds 0.09, leaving
    # 0.95; on 0.95 the tax is 9.5 cents, rounded to 0.10, and the price 1.05.
    inside = {"prices_include_tax": True, "tax_rate_pct": 10}
    held = priced(costing("1"), aim={"unit_price": "1.04"}, channel=inside, currency="AUD")
    assert (held.order_net, held.order_tax) == (Decimal("0.95"), Decimal("0.09"))
    on_top = {"prices_include_tax": False, "tax_rate_pct": 10}
    put_on = priced(costing("1"), aim={"unit_price": "0.95"}, channel=on_top, currency="AUD")
    assert (put_on.order_tax, put_on.order_gross) == (Decimal("0.10"), Decimal("1.05"))


# Government of Québec, consumer protection office (opc.gouv.qc.ca, "Phasing out the penny"): cash
# is rounded to the nearest 0.05, 5.98 → 6.00 and 5.97 → 5.95; payment by card is not rounded.
# We price, and do not round cash: a price never falls below its aim, so five-cent prices go up.
FIVE_CENTS = {"prices_include_tax": True, "price_step": "0.05"}


@pytest.mark.parametrize(
    ("cost", "price"),
    [
        ("5.98", "6.00"),  # as rounded in Québec
        ("5.97", "6.00"),  # rounded to 5.95 in Québec, which would be below cost
        ("5.95", "5.95"),  # a multiple stays
    ],
)
def test_five_cent_prices_are_the_next_multiple_that_meets_the_aim(cost: str, price: str) -> None:
    sold = priced(costing(cost), channel=FIVE_CENTS, currency="CAD")
    assert sold.unit_price == Decimal(price)


@pytest.mark.parametrize("amount", ["5.98", "5.97"])
def test_what_a_buyer_pays_by_card_is_not_rounded_to_five_cents(amount: str) -> None:
    sold = priced(costing("1"), aim={"unit_price": amount}, channel=FIVE_CENTS, currency="CAD")
    assert sold.order_gross == Decimal(amount)


@pytest.mark.parametrize(
    ("currency", "digits", "price"),
    # ISO 4217: JPY 0, EUR 2, KWD 3, CLF 4. A cost of 20 and a margin of 40 % ask for 33 and a
    # third, shown as the next minor unit above.
    [("JPY", 0, "34"), ("EUR", 2, "33.34"), ("KWD", 3, "33.334"), ("CLF", 4, "33.3334")],
)
def test_prices_have_the_decimals_of_their_currency(currency: str, digits: int, price: str) -> None:
    assert minor_digits(currency) == digits
    sold = priced(costing("20"), aim={"margin_pct": 40}, currency=currency)
    assert str(sold.unit_price) == price


# Where the CLDR, which Babel carries, shows other decimals than ISO 4217 lists, because no one
# pays in such small money any more: (ISO 4217, CLDR). We follow ISO 4217, by the iso4217 package.
OTHERWISE_IN_CLDR = {
    "AFN": (2, 0),
    "ALL": (2, 0),
    "IQD": (3, 0),
    "IRR": (2, 0),
    "KPW": (2, 0),
    "LAK": (2, 0),
    "LBP": (2, 0),
    "MGA": (2, 0),
    "MMK": (2, 0),
    "RSD": (2, 0),
    "SOS": (2, 0),
    "SYP": (2, 0),
    "YER": (2, 0),
}
IN_BOTH = sorted({each.code for each in Currency} & list_currencies())
WITH_MINOR_UNIT = [code for code in IN_BOTH if Currency(code).exponent is not None]


def test_minor_units_are_those_of_iso_4217_where_cldr_says_otherwise() -> None:
    differing = {
        code: (minor_digits(code), get_currency_precision(code))
        for code in WITH_MINOR_UNIT
        if minor_digits(code) != get_currency_precision(code)
    }
    assert differing == OTHERWISE_IN_CLDR


def test_minor_units_agree_with_cldr_for_all_other_currencies() -> None:
    agreeing = [code for code in WITH_MINOR_UNIT if code not in OTHERWISE_IN_CLDR]
    assert len(agreeing) > 140
    assert [minor_digits(code) for code in agreeing] == [
        get_currency_precision(code) for code in agreeing
    ]


@pytest.mark.parametrize("code", ["XAU", "XDR", "XXX"], ids=["gold", "drawing right", "none"])
def test_a_code_without_a_minor_unit_is_no_currency_to_price_in(code: str) -> None:
    # ISO 4217 lists these with "N.A." for the minor unit (from memory, as the package has it).
    with pytest.raises(UnknownCurrency, match="no minor unit"):
        minor_digits(code)
    with pytest.raises(Refused):
        priced(costing("1"), currency=code)


@pytest.mark.parametrize(
    ("rate", "gross"), [("20", "60.00"), ("5", "80.00"), ("15", "115.00"), ("10", "1.04")]
)
def test_tax_by_a_fraction_and_by_division_come_to_the_same_cent(rate: str, gross: str) -> None:
    # HMRC, VAT fractions: the fraction of a rate r is r/(100 + r), of the price with tax.
    fraction = Decimal(rate) / (100 + Decimal(rate))
    channel = {"prices_include_tax": True, "tax_rate_pct": rate}
    sold = priced(costing("1"), aim={"unit_price": gross}, channel=channel)
    assert sold.order_tax == as_printed(Decimal(gross) * fraction, 2)
