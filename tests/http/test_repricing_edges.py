"""Listings whose old rates cannot price what is asked today, and prices that move only net."""

from collections.abc import Iterator
from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from gramhour.contract.rates import RateSheet
from gramhour.contract.repricing import Repricing, RepricingLine
from gramhour.tolerant import convert
from gramhour_service.commandline.repriced import show_repricing
from gramhour_service.http.settings import Settings
from gramhour_service.resolve.sheet import sound_sheet
from tests.desk.at_desk import main_of, signed_in
from tests.http.asking import change
from tests.http.door import NOW, Door, make_shop, opened
from tests.http.repriced import (
    apply,
    describe,
    lines_of,
    list_prices,
    listed,
    minus,
    of_effect,
    only_line,
    repriced,
)

SIXES = {"prices_include_tax": True, "tax_rate_pct": 19, "multiple_of": 6}
SHEET: dict[str, Any] = {
    "currency": "EUR", "time_zone": "Europe/Vienna", "labour_rate_per_hour": 30,
    "price_per_kwh": "0.30",
    "materials": {"pla": {"price_per_kg": 20}},
    "machines": {"m": {"rate_per_hour": 1, "power_w": 100}},
    "channels": {"sixes": SIXES, "stall": {"prices_include_tax": True, "tax_rate_pct": 19}},
}  # fmt: skip
POT: dict[str, Any] = {
    "pieces": [{"machine": "m", "print_min": 60, "feed": [{"material": "pla", "mass_g": 100}]}],
    "work": {"unit_min": 6},
}
MARGIN = {"margin_pct": 40}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Door]:
    sheet: RateSheet = sound_sheet(SHEET)
    path = make_shop(tmp_path / "gramhour.sqlite", sheet)
    with opened(Settings(store=path), lambda: NOW) as door:
        describe(door, "pot", POT)
        yield door


def listing(**members: Any) -> dict[str, Any]:
    return {"sku": "P", "product": "pot", "channel": "stall", "aim": MARGIN, **members}


def adds_up(line: Any) -> None:
    """What moved a break adds up to its difference."""
    for each in line["breaks"]:
        if "old_unit_price" in each:
            rest = minus(
                (Decimal(each["unit_cost"]), Decimal(each["unit_price"])),
                (Decimal(each["unit_cost_before"]), Decimal(each["old_unit_price"])),
            )
            parts = [*each["moved_by"], each.get("description"), each.get("together")]
            for part in parts:
                rest = minus(rest, of_effect(part))
            assert rest == (Decimal(0), Decimal(0))


def test_quantities_that_were_not_sold_then_are_repriced_all_the_same(shop: Door) -> None:
    """The channel sold sixes, so that the old rates have no price of 8."""
    listed(shop, listing(channel="sixes", breaks=[6, 12]))
    list_prices(shop)
    ones = {**SIXES, "multiple_of": 1}
    assert change(shop, {"kind": "channels", "code": "sixes", "value": ones}).status_code == 201
    listed(shop, listing(channel="sixes", breaks=[6, 8, 12]))
    line = only_line(shop)
    assert line["outcome"] != "failed"
    adds_up(line)


def test_what_the_old_rates_could_not_charge_is_repriced_all_the_same(shop: Door) -> None:
    """Whole packs need an offer, which the filament did not have."""
    listed(shop, listing(breaks=[10]))
    list_prices(shop)
    offer = {"offer": {"pack_g": 750, "list_price": 18}}
    assert change(shop, {"kind": "materials", "code": "pla", "value": offer}).status_code == 201
    feed = {"material": "pla", "mass_g": 100, "charge": "whole_packs"}
    describe(shop, "pot", {**POT, "pieces": [{**POT["pieces"][0], "feed": [feed]}]})
    line = only_line(shop)
    assert line["outcome"] == "up"
    adds_up(line)


def test_a_break_without_an_old_price_hides_no_effect_on_the_others(shop: Door) -> None:
    listed(shop, listing(breaks=[5, 25]))
    list_prices(shop)
    dearer = {"kind": "shop", "code": "labour_rate_per_hour", "value": "45"}
    assert change(shop, dearer).status_code == 201
    listed(shop, listing(breaks=[1, 5, 25]))
    line = only_line(shop)
    first, *others = line["breaks"]
    assert "old_unit_price" not in first
    assert first["moved_by"] == []
    for each in others:
        assert [effect["code"] for effect in each["moved_by"]] == ["labour_rate_per_hour"]
    adds_up(line)


BARELY = (
    "Up or down by 0.00 %: prices move by 0.005 % at most, or rise from 0, or only what is left of "
    "them after tax moves."
)


def test_a_cent_more_on_a_large_price_is_not_told_to_be_none(shop: Door) -> None:
    listed(shop, listing(breaks=[1], aim={"unit_price": "295.50"}))
    list_prices(shop)
    listed(shop, listing(breaks=[1], aim={"unit_price": "295.51"}))
    done = repriced(shop)
    (line,) = lines_of(shop, done["id"])
    assert (line["outcome"], line["change_pct"], "up_by" in done) == ("up", "0.00", False)
    shown = StringIO()
    screen = Console(file=shown, width=200)
    show_repricing(screen, convert(done, Repricing), [convert(line, RepricingLine)])
    assert BARELY in " ".join(shown.getvalue().split())


def test_a_shown_price_that_stays_is_listed_anew_where_the_tax_changed(shop: Door) -> None:
    """19.90 with 19 % inside is 16.72 net, with 7 % it is 18.60."""
    listed(shop, listing(breaks=[1], aim={"unit_price": "19.90"}))
    list_prices(shop)
    less = {"prices_include_tax": True, "tax_rate_pct": 7}
    assert change(shop, {"kind": "channels", "code": "stall", "value": less}).status_code == 201
    done = repriced(shop)
    assert (done["counts"]["up"], done["counts"]["unchanged"]) == (1, 0)
    assert "up_by" not in done  # not by 0.00 %
    report = main_of(signed_in(shop, "listings").get(f"/desk/repricings/{done['id']}"))
    assert "Those that go up" not in report
    assert BARELY in report
    apply(shop, done["id"])
    answer = shop.ask("GET", "/v1/prices", "price", params={"channel": "stall"})
    (item,) = answer.json()["items"]
    assert [(each["unit_price"], each["unit_price_net"]) for each in item["breaks"]] == [
        ("19.90", "18.6000")
    ]
