"""Every fault of a comparison is told at once, in place, with its remedy."""

from typing import Any

import pytest

from gramhour.contract.problem import Refused
from tests.comparing.small_shop import (
    PIECE,
    PROFILE,
    RATES,
    SHAPED,
    TODAY,
    WITH_PROFILES,
    compared,
    comparison,
)


def faults(sent: Any) -> dict[str | None, str]:
    with pytest.raises(Refused) as met:
        compared(sent)
    told = [(str(fault.pointer), fault.detail) for fault in met.value.faults]
    assert len(dict(told)) == len(told)
    return dict(told)


def in_second(*changes: dict[str, Any], **more: Any) -> dict[str | None, str]:
    return faults(comparison({"label": "b", "pieces": list(changes), **more}))


def test_an_unknown_piece_is_told_with_the_nearest_name() -> None:
    assert in_second({"piece": "bdy", "print_min": 1}) == {
        "/alternatives/1/pieces/0/piece": "the product has no piece 'bdy'; did you mean 'body'?"
    }
    assert in_second({"piece": "lid", "print_min": 1}) == {
        "/alternatives/1/pieces/0/piece": "the product has no piece 'lid'; it has 'body'"
    }


def test_codes_are_those_of_the_sheet() -> None:
    found = in_second({"nozzle": "plan"}, {"machine": "nw", "material": "tn"})
    assert list(found) == [
        "/alternatives/1/pieces/0/nozzle",
        "/alternatives/1/pieces/1/machine",
        "/alternatives/1/pieces/1/material",
    ]
    assert "did you mean 'plain'?" in found["/alternatives/1/pieces/0/nozzle"]


def test_a_fault_that_a_change_makes_stands_at_the_change() -> None:
    found = in_second({"print_min": 100}, {"per_build_min": 101, "per_build_g": 1001})
    assert set(found) == {
        "/alternatives/1/pieces/1/per_build_min",
        "/alternatives/1/pieces/1/per_build_g",
    }


def test_a_fault_that_a_change_makes_of_what_was_described_stands_at_the_change() -> None:
    piece = {**PIECE, "per_build_min": 60}
    sent = comparison({"label": "b", "pieces": [{"print_min": 59}]}, product={"pieces": [piece]})
    assert faults(sent) == {
        "/alternatives/1/pieces/0": "is a part of print_min (59): it cannot be more"
    }


def test_a_fault_of_the_product_stands_there_once() -> None:
    piece = {**PIECE, "per_build_min": 121}
    sent = comparison({"label": "b"}, product={"pieces": [piece]})
    assert list(faults(sent)) == ["/product/pieces/0/per_build_min"]


def test_grams_of_a_piece_of_two_filaments_are_of_nobody_knows_which() -> None:
    piece = {**PIECE, "feed": [*PIECE["feed"], {"material": "ten", "mass_g": 5}]}
    sent = comparison({"label": "b", "pieces": [{"mass_g": 1}]}, product={"pieces": [piece]})
    assert faults(sent) == {
        "/alternatives/1/pieces/0/mass_g": (
            "the piece 'body' has 2 filaments; describe it as another product"
        )
    }


def test_a_filament_is_swapped_only_where_it_is_printed() -> None:
    assert in_second({"materials": {"ten": "free"}}) == {
        "/alternatives/1/pieces/0/materials/ten": (
            "nothing is printed in it there; what is: twenty"
        )
    }
    assert list(in_second({"materials": {"twenty": "free"}, "material": "ten"})) == [
        "/alternatives/1/pieces/0"
    ]


def test_labels_are_each_another_and_not_empty() -> None:
    assert faults(comparison({"label": "today"})) == {
        "/alternatives/1/label": "'today' stands twice; give each its own"
    }
    assert faults(comparison({"label": ""})) == {"/alternatives/1/label": "must not be empty"}


def test_what_is_bought_is_used_and_is_not_todays_way() -> None:
    bought = {"price": 1, "machine": "new", "nozzle": "bought"}
    found = faults(comparison(alternatives=[TODAY | {"purchase": bought}]))
    assert list(found) == [
        "/alternatives/0/purchase",
        "/alternatives/0/purchase/machine",
        "/alternatives/0/purchase/nozzle",
    ]


def test_a_bought_printer_must_say_what_of_its_rate_is_depreciation() -> None:
    found = in_second({"print_min": 1}, purchase={"price": 1, "machine": "old"})
    assert list(found) == ["/alternatives/1/purchase/machine"]
    assert "give what it is built up from" in found["/alternatives/1/purchase/machine"]


def test_a_margin_is_that_at_a_market_price() -> None:
    sent = comparison(criterion="margin")
    del sent["market_price"]
    assert list(faults(sent)) == ["/criterion"]


def test_quantities_are_those_that_the_channel_sells() -> None:
    found = faults(comparison(channel="by-six", quantities=[6, 7], up_to=5))
    assert found["/quantities/1"] == ("this channel sells multiples of 6, not 7; ask for 6 or 12")
    assert set(faults(comparison(channel="by-six", quantities=[6], up_to=5))) == {"/up_to"}


def test_a_market_price_is_no_finer_than_the_minor_unit() -> None:
    assert list(faults(comparison(market_price="9.901"))) == ["/market_price"]


def test_every_quantity_that_is_looked_at_has_an_aim() -> None:
    late = {"prices_include_tax": False, "margin_breaks": [{"from_quantity": 5, "margin_pct": 1}]}
    rates = {**RATES, "channels": {"shop": late}}
    sent = comparison(rates=rates, quantities=[5], up_to=9)
    del sent["market_price"]
    assert list(faults(sent)) == ["/aim"]


def test_a_way_that_has_no_price_is_told_by_its_label() -> None:
    found = faults(comparison(aim={"margin_pct": "99.9"}))
    assert list(found) == ["/aim"]
    assert found["/aim"].startswith("'today' at 1: ")


def test_all_are_told_at_once() -> None:
    found = faults(
        comparison(
            {"label": "today", "pieces": [{"piece": "x"}]},
            {"label": "c", "pieces": [{"per_build_min": 500}]},
            market_price="0.001",
            quantities=[1],
        )
    )
    assert set(found) == {
        "/alternatives/1/label",
        "/alternatives/1/pieces/0/piece",
        "/alternatives/2/pieces/0/per_build_min",
        "/market_price",
    }


def test_a_profile_is_of_a_piece_with_a_geometry() -> None:
    rates = {**RATES, "profiles": {"fine": PROFILE}}
    found = faults(
        comparison({"label": "fine", "pieces": [{"profile": "fine"}]}, rates=rates),
    )
    assert list(found) == ["/alternatives/1/pieces/0/profile"]
    assert "described by its feed and print_min" in found["/alternatives/1/pieces/0/profile"]


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"mass_g": 10}, "mass_g"),
        ({"print_min": 10}, "print_min"),
        ({"per_build_min": 1}, "per_build_min"),
        ({"mass_g": 10, "print_min": 10, "profile": "fine"}, "profile"),
    ],
)
def test_an_estimated_piece_is_given_a_whole_build_or_another_profile(
    change: dict[str, Any], place: str
) -> None:
    rates = {**RATES, **WITH_PROFILES}
    product = {"pieces": [SHAPED]}
    found = faults(comparison({"label": "other", "pieces": [change]}, rates=rates, product=product))
    assert list(found) == [f"/alternatives/1/pieces/0/{place}"]
