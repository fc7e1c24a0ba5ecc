"""Every fault of a request is told at once, each with its place."""

import copy
from typing import Any

import pytest

from gramhour.contract.problem import Refused, pointer
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.resolve.sheet import sound_sheet
from tests.test_properties import SIMPLE

TWELVE: Any = {
    "product": {
        "name": 7,  # wrong type
        "reject_pct": 100,  # bound
        "weight": 3,  # unknown member
        "pieces": [
            {
                "machine": "n",  # unknown code
                "feed": [
                    {"material": "pla", "mass_g": 1, "volume_cm3": 1},  # exclude each other
                    {"material": "plaa", "mass_g": 1},  # unknown code
                ],
                "pieces_per_build": "2",  # wrong type
                # print_min is missing
            }
        ],
        "work": {"unit_mins": 4},  # unknown member
    },
    "quantity": 0,  # bound
    "aim": {"margin_pct": 40, "unit_price": 10},  # exclude each other
    # channel is missing
}


def faults_of(request: Any, rates: Any = None) -> dict[str, str]:
    with pytest.raises(Refused) as refusal:
        answer_quote(request, sound_sheet(SIMPLE["rates"] if rates is None else rates))
    return {fault.pointer: fault.detail for fault in refusal.value.faults}


def test_twelve_faults_of_six_kinds_give_twelve_pointers() -> None:
    faults = faults_of(TWELVE)
    assert sorted(faults) == [
        "/aim",
        "/channel",
        "/product/name",
        "/product/pieces/0/feed/0",
        "/product/pieces/0/feed/1/material",
        "/product/pieces/0/machine",
        "/product/pieces/0/pieces_per_build",
        "/product/pieces/0/print_min",
        "/product/reject_pct",
        "/product/weight",
        "/product/work/unit_mins",
        "/quantity",
    ]
    assert faults["/product/work/unit_mins"].endswith("did you mean 'unit_min'?")
    assert faults["/product/pieces/0/feed/1/material"].endswith("did you mean 'pla'?")
    assert faults["/aim"].startswith("margin_pct, unit_price exclude each other")


PIECE = "/product/pieces/0"


@pytest.mark.parametrize(
    ("kind", "changes", "where", "telling"),
    [
        ("piece", {"per_build_min": 61}, f"{PIECE}/per_build_min", "cannot be more"),
        ("feed", {"per_build_g": 101}, f"{PIECE}/feed/0/per_build_g", "cannot be more"),
        ("feed", {"charge": "whole_packs"}, f"{PIECE}/feed/0/charge", "need an offer"),
        ("request", {"aim": {"unit_price": "1.001"}}, "/aim/unit_price", "at most 2 decimals"),
    ],
)
def test_members_that_contradict_each_other_are_refused(
    kind: str, changes: dict[str, Any], where: str, telling: str
) -> None:
    request = copy.deepcopy(SIMPLE["request"])
    piece = request["product"]["pieces"][0]
    {"request": request, "piece": piece, "feed": piece["feed"][0]}[kind].update(changes)
    faults = faults_of(request)
    assert list(faults) == [where]
    assert telling in faults[where]


TWICE_THE_SAME_SIZE = {"postage": [{"up_to_units": 2}, {"up_to_units": 2}]}


@pytest.mark.parametrize(
    ("kind", "changes", "where", "telling"),
    [
        ("shop", {"price_ending": "0.90"}, "channels/shop/price_ending", "needs a price_step"),
        ("shop", {"price_step": 1, "price_ending": 1}, "channels/shop/price_ending", "below"),
        ("shop", {"price_step": "0.001"}, "channels/shop/price_step", "at most 2 decimals"),
        (
            "shop",
            {"postage": [{"up_to_units": 2}] * 2},
            "channels/shop/postage/1/up_to_units",
            "twice",
        ),
        ("sheet", {"currency": "XAU"}, "currency", "no minor unit"),
        ("sheet", {"currency": "ABC"}, "currency", "not a currency code"),
        ("sheet", {"components": {"a~b/c": {}}}, "components/a~0b~1c", "does not match"),
    ],
)
def test_a_sheet_that_contradicts_itself_is_refused(
    kind: str, changes: dict[str, Any], where: str, telling: str
) -> None:
    rates = copy.deepcopy(SIMPLE["rates"])
    {"sheet": rates, "shop": rates["channels"]["shop"]}[kind].update(changes)
    faults = faults_of(SIMPLE["request"], rates)
    assert telling in faults[f"/{where}"]


def test_a_quantity_between_multiples_is_refused_with_the_two_nearest() -> None:
    rates = copy.deepcopy(SIMPLE["rates"])
    rates["channels"]["shop"]["multiple_of"] = 6
    faults = faults_of(SIMPLE["request"] | {"breaks": [7]}, rates)
    assert faults["/quantity"].endswith("ask for 96 or 102")
    assert faults["/breaks/0"].endswith("ask for 6 or 12")


def test_without_an_aim_anywhere_the_request_is_refused() -> None:
    request = {name: value for name, value in SIMPLE["request"].items() if name != "aim"}
    assert "nothing says what the price of 100 is to reach" in faults_of(request)["/aim"]


def test_without_rates_the_request_is_refused_with_the_remedy() -> None:
    with pytest.raises(Refused) as refusal:
        answer_quote(SIMPLE["request"])
    assert refusal.value.type == "no-rates"
    assert refusal.value.faults[0].pointer == "/rates"


def test_pointers_escape_tildes_and_slashes() -> None:
    # RFC 6901, section 3: "~" is written "~0" and "/" is written "~1".
    assert pointer("a/b", "m~n", 0) == "/a~1b/m~0n/0"
