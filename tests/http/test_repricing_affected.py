"""Only what can have another price is computed: who uses a rate is known beforehand."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.settings import Settings
from tests.http.asking import MONDAY, change
from tests.http.door import NOW, Door, make_shop, opened
from tests.http.repriced import (
    all_priced,
    apply,
    ask,
    demo_products,
    demo_sheet,
    list_prices,
    listed,
    looked_at,
    prices_of,
    repriced,
    rows_listed,
    stock,
)

SHEET = demo_sheet()
PRODUCTS = demo_products()
PACKED = {
    code: {each["component"] for each in channel["packing"]}
    for code, channel in SHEET["channels"].items()
}
KINDS = ("materials", "machines", "nozzles", "components", "channels")
SINGLE_RATES = [(kind, code) for kind in KINDS for code in SHEET[kind]]
IN_SHEET_ONLY = ("labour_rate_per_hour", "price_per_kwh", "material_overhead_pct",
                 "production_overhead_pct", "admin_overhead_pct", "default_breaks")  # fmt: skip
CHANGED: dict[str, Any] = {"default_breaks": [1, 7]}
GREEN = ("materials", "asa-green")


@pytest.fixture
def priced(tmp_path: Path) -> Iterator[Door]:
    """The demo's shop, every listing priced."""
    with opened(Settings(store=all_priced(tmp_path / "gramhour.sqlite"))) as door:
        yield door


def uses(row: dict[str, Any], kind: str, code: str) -> bool:
    """Say whether a listing's cost depends on a rate, by reading its product and its channel."""
    if kind == "channels":
        return bool(row["channel"] == code)
    entry = PRODUCTS[row["product"]]
    swaps: dict[str, str] = next(
        (each["materials"] for each in entry["variants"] if each["name"] == row.get("variant")), {}
    )
    pieces = entry["product"].get("pieces", [])
    parts = {each["component"] for each in entry["product"].get("components", [])}
    used = {
        "materials": {swaps.get(f["material"], f["material"]) for p in pieces for f in p["feed"]},
        "machines": {piece["machine"] for piece in pieces},
        "nozzles": {piece["nozzle"] for piece in pieces if "nozzle" in piece},
        "components": parts | PACKED[row["channel"]],
    }
    return code in used[kind]


def users(door: Door, *rates: tuple[str, str]) -> list[str]:
    """Name the listings that use one of several rates."""
    rows = rows_listed(door).items()
    return sorted(sku for sku, row in rows if any(uses(row, *rate) for rate in rates))


def another(kind: str, code: str) -> dict[str, Any]:
    """Change a rate a little, in what no other kind has: its note."""
    return {"kind": kind, "code": code, "value": {**SHEET[kind][code], "note": "another"}}


def sheet_wide(code: str) -> dict[str, Any]:
    return {"kind": "shop", "code": code, "value": CHANGED.get(code, "0.5")}


def filament(price: str, code: str = "asa-green") -> dict[str, Any]:
    """Change what a pack of a filament costs."""
    was = SHEET["materials"]["asa-green"]
    value = {**was, "offer": {**was["offer"], "list_price": price}}
    return {"kind": "materials", "code": code, "value": value}


def held(door: Door) -> list[str]:
    """Name the listings whose price is held: what it should be is told each time."""
    return sorted(sku for sku, row in rows_listed(door).items() if row.get("hold"))


def test_nothing_is_computed_where_nothing_differs(priced: Door) -> None:
    done = repriced(priced)
    assert (done["of"], done["done"], done["state"]) == (0, 0, "finished")
    assert looked_at(priced, over="affected") == []


def test_a_listing_that_was_never_priced_is_affected(own_shop: Door) -> None:
    stock(own_shop)
    assert looked_at(own_shop) == sorted(rows_listed(own_shop))


@pytest.mark.parametrize("kind", KINDS)
def test_a_rate_affects_exactly_those_that_use_it(priced: Door, kind: str) -> None:
    for code in SHEET[kind]:
        affected = users(priced, (kind, code))
        assert looked_at(priced, proposed=[another(kind, code)]) == affected, code
        assert len(affected) < len(rows_listed(priced))


def test_the_demo_has_users_of_most_rates() -> None:
    """So that the test above is one of something: only these are used nowhere."""
    rows: list[dict[str, Any]] = [
        {"product": code, "channel": channel, **variant}
        for code, entry in PRODUCTS.items()
        for channel in PACKED
        for variant in [{}, *({"variant": each["name"]} for each in entry["variants"])]
    ]
    unused = [rate for rate in SINGLE_RATES if not any(uses(row, *rate) for row in rows)]
    assert unused == []


@pytest.mark.parametrize("code", IN_SHEET_ONLY)
def test_what_is_sheet_wide_affects_all(priced: Door, code: str) -> None:
    assert looked_at(priced, proposed=[sheet_wide(code)]) == sorted(rows_listed(priced))


def test_several_rates_affect_those_that_use_any(priced: Door) -> None:
    wick = ("components", "wick")
    proposed = [another(*GREEN), another(*wick)]
    assert looked_at(priced, proposed=proposed) == users(priced, GREEN, wick)
    assert set(users(priced, GREEN)) < set(users(priced, GREEN, wick)) or users(priced, wick)


def test_a_saved_change_affects_as_a_proposed_one(priced: Door) -> None:
    assert change(priced, filament("41")).status_code == 201
    affected = users(priced, GREEN)
    assert looked_at(priced) == affected
    assert 0 < len(affected) < len(rows_listed(priced))
    list_prices(priced)
    assert looked_at(priced) == held(priced)
    assert uses(rows_listed(priced)["BH-T"], *GREEN)


def test_a_new_rate_that_nobody_uses_affects_nothing(priced: Door) -> None:
    assert change(priced, filament("24.90", "petg-amber")).status_code == 201
    assert looked_at(priced) == []


def test_what_goes_into_a_channels_parcels_by_now_affects_all_on_it(priced: Door) -> None:
    packing = [{"component": "glue", "count": 1, "per": "order"}]
    market = {**SHEET["channels"]["market"], "packing": packing}
    proposed = {"kind": "channels", "code": "market", "value": market}
    assert looked_at(priced, proposed=[proposed]) == users(priced, ("channels", "market"))


def test_a_change_that_was_taken_back_affects_nothing(priced: Door) -> None:
    assert change(priced, filament("41")).status_code == 201
    back = {"kind": "materials", "code": "asa-green", "value": SHEET["materials"]["asa-green"]}
    assert change(priced, back, based_on=2).status_code == 201
    assert looked_at(priced) == []


def test_listings_left_out_stay_affected(priced: Door) -> None:
    assert change(priced, filament("41")).status_code == 201
    left_out = users(priced, GREEN)[:2]
    apply(priced, repriced(priced)["id"], but=left_out)
    assert looked_at(priced) == sorted({*left_out, *held(priced)})


def test_listings_whose_price_stayed_are_not_looked_at_again(priced: Door) -> None:
    """A cent more an hour moves no price of the own shop, but is a sheet-wide change."""
    assert change(priced, sheet_wide("price_per_kwh") | {"value": "0.3101"}).status_code == 201
    done = repriced(priced)
    counts = done["counts"]
    assert counts["unchanged"] > 40
    assert apply(priced, done["id"])["applied"] == counts["up"] + counts["down"]
    assert looked_at(priced) == held(priced)
    green = looked_at(priced, proposed=[filament("41")])
    assert green == sorted({*users(priced, GREEN), *held(priced)})


def test_a_product_or_listing_that_was_changed_is_affected(priced: Door) -> None:
    rows = rows_listed(priced)
    listed(priced, {"sku": "LS-M", **rows["LS-M"], "note": "x"}, {"sku": "HP-T", **rows["HP-T"]})
    assert looked_at(priced) == ["LS-M"]  # the other is as it was
    planter = {"code": "herb-planter", **PRODUCTS["herb-planter"], "note": "x"}
    answer = priced.ask("POST", "/v1/products", "listings", json={"items": [planter]})
    assert answer.status_code == 200
    planters = [sku for sku, row in rows.items() if row["product"] == "herb-planter"]
    assert looked_at(priced) == sorted(["LS-M", *planters])


def test_a_listing_for_which_prices_are_planned_is_affected_until_they_hold(priced: Door) -> None:
    assert change(priced, filament("41"), effective_from=MONDAY).status_code == 201
    apply(priced, repriced(priced, rates_on=MONDAY)["id"])
    applied_to = [sku for sku in users(priced, GREEN) if sku not in held(priced)]
    assert looked_at(priced) == applied_to
    assert looked_at(priced, rates_on=MONDAY) == held(priced)


def test_a_planned_price_that_takes_over_later_is_looked_at_on_its_day(tmp_path: Path) -> None:
    """It was made by rates of before; what was priced since holds only until its day."""
    path, clock = make_shop(tmp_path / "gramhour.sqlite"), [NOW]
    with opened(Settings(store=path), lambda: clock[0]) as door:
        stock(door)
        list_prices(door)
        apply(door, repriced(door, skus=["HP-W"], discount_pct=5)["id"], effective_from=MONDAY)
        assert change(door, filament("90")).status_code == 201
        list_prices(door, skus=["HP-W"])
        today = prices_of(door, "HP-W")
        clock[0] = NOW + timedelta(days=6)
        assert prices_of(door, "HP-W") != today
        assert "HP-W" in looked_at(door)


def test_rates_planned_for_a_day_affect_from_that_day_on(priced: Door) -> None:
    assert change(priced, filament("41"), effective_from=MONDAY).status_code == 201
    assert looked_at(priced) == []
    assert looked_at(priced, rates_on="2026-12-06") == []
    assert looked_at(priced, rates_on=MONDAY) == users(priced, GREEN)
    assert looked_at(priced, rates_on=MONDAY, rates_revision=1) == []


def test_a_planned_day_affects_when_it_has_come(tmp_path: Path) -> None:
    path, clock = make_shop(tmp_path / "gramhour.sqlite"), [NOW]

    def now() -> datetime:
        return clock[0]

    with opened(Settings(store=path), now) as door:
        stock(door)
        list_prices(door)
        assert change(door, filament("41"), effective_from=MONDAY).status_code == 201
        assert looked_at(door) == []
        clock[0] = NOW + timedelta(days=6)
        assert looked_at(door) == users(door, GREEN)


def test_a_sale_affects_all_and_after_it_so_do_the_usual_prices(priced: Door) -> None:
    everything = sorted(rows_listed(priced))
    assert looked_at(priced, discount_pct=10) == everything
    list_prices(priced, discount_pct=10)
    assert looked_at(priced) == [sku for sku in everything if sku not in held(priced)]


def test_all_and_named_listings_are_computed_affected_or_not(priced: Door) -> None:
    assert looked_at(priced, over="all") == sorted(rows_listed(priced))
    named = ["LS-M", "HP-W", "BB-T", "HP-W"]
    assert looked_at(priced, skus=named) == sorted({*named})
    assert looked_at(priced, skus=named, over="affected") == sorted({*named})
    assert looked_at(priced, skus=[]) == []


def test_a_named_listing_that_is_not_there_is_refused(priced: Door) -> None:
    answer = ask(priced, skus=["HP-W", "NO-1", "NO-2"])
    assert answer.status_code == 422
    assert answer.json()["errors"] == [
        {"detail": "there is no listing 'NO-1'", "pointer": "/skus/1"},
        {"detail": "there is no listing 'NO-2'", "pointer": "/skus/2"},
    ]
    assert priced.ask("GET", "/v1/repricings", "listings").json()["items"][0]["of"] == 51
