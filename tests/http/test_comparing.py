"""POST /v1/comparisons as its callers ask it, against what POST /v1/quotes says."""

import asyncio
from typing import Any

import httpx
import pytest

from tests import demo
from tests.http.asking import plain
from tests.http.door import JSON, Door, problem_of, secret

NOZZLES: dict[str, Any] = demo.request("shop/compare-nozzles")
WAYS: dict[str, dict[str, Any]] = {
    "0.4 mm, as today": {},
    "0.8 mm nozzle": {"nozzle": "n08", "print_min": 138, "feed": ("petg-clear", 143, 2)},
    "0.4 mm, chalk white PLA": {"feed": ("pla-chalk", 145, 2)},
    "one more large printer": {
        "machine": "large", "nozzle": "n08", "pieces_per_build": 9, "print_min": 306,
        "feed": ("petg-clear", 362, 2),
    },
}  # fmt: skip
"""The ways of the demo's file, written out once more."""


def post(door: Door, sent: Any, key: str = "cost") -> httpx.Response:
    return door.ask("POST", "/v1/comparisons", key, json=plain(sent))


def product_of(way: dict[str, Any]) -> dict[str, Any]:
    (piece,) = NOZZLES["product"]["pieces"]
    made = {**piece, **way}
    if "feed" in way:
        material, grams, per_build = way["feed"]
        made["feed"] = [{"material": material, "mass_g": grams, "per_build_g": per_build}]
    return {**NOZZLES["product"], "pieces": [made]}


def quoted(door: Door, way: dict[str, Any], quantities: range, **more: Any) -> list[Any]:
    """Quote a way at every quantity."""
    breaks = []
    for start in range(0, len(quantities), 50):
        some = quantities[start : start + 50]
        sent = {
            "product": product_of(way), "channel": "market", "quantity": some[0],
            "breaks": list(some), **more,
        }  # fmt: skip
        answer = door.ask("POST", "/v1/quotes", "cost", json=plain(sent))
        assert answer.status_code == 200, answer.text
        breaks += answer.json()["breaks"]
    return breaks


@pytest.mark.parametrize(
    ("criterion", "market_price"),
    [
        ("contribution_per_machine_hour", "9.90"),
        ("contribution_per_labour_hour", "9.90"),
        ("contribution_per_machine_hour", None),
        ("margin", "9.90"),
        ("unit_cost", "9.90"),
        ("unit_price", None),
    ],
)
def test_the_nozzle_that_is_best_at_each_quantity_is_that_of_quoting_every_one(
    shop: Door, criterion: str, market_price: str | None
) -> None:
    sent = {**NOZZLES, "criterion": criterion, "market_price": market_price, "up_to": 120}
    if market_price is None:
        del sent["market_price"]
    aim = {"aim": {"unit_price": market_price}} if market_price else {}
    member = "margin_pct" if criterion == "margin" else criterion
    told = {
        label: [float(each[member]) for each in quoted(shop, way, range(1, 121), **aim)]
        for label, way in WAYS.items()
    }
    lowest = criterion.startswith("unit")
    best = [(min if lowest else max)(WAYS, key=lambda label: told[label][n]) for n in range(120)]
    found = post(shop, sent).json()
    spread = [
        each["label"]
        for each in found["intervals"]
        for _ in range(each["from_quantity"], each["to_quantity"] + 1)
    ]
    assert spread == best
    edges = [(each["from_quantity"], each["to_quantity"]) for each in found["intervals"]]
    assert [start for start, _ in edges[1:]] == [end + 1 for _, end in edges[:-1]]


def test_figures_are_those_of_the_quotes(shop: Door) -> None:
    found = post(shop, NOZZLES).json()
    assert [each["label"] for each in found["alternatives"]] == list(WAYS)
    for alternative in found["alternatives"]:
        way = WAYS[alternative["label"]]
        own = quoted(shop, way, range(60, 61))[0]
        market = quoted(shop, way, range(60, 61), aim={"unit_price": "9.90"})[0]
        told = alternative["at"][-1]
        assert told.pop("ready_on") >= "2026-12-02"
        assert told == {
            "quantity": 60,
            "unit_cost": own["unit_cost"],
            "unit_price": own["unit_price"],
            "margin_pct": own["margin_pct"],
            "market_margin_pct": market["margin_pct"],
            "machine_h": own["use"]["machine_h"],
            "labour_min": own["use"]["labour_min"],
            "profit": market["profit"],
            "contribution_per_machine_hour": market["contribution_per_machine_hour"],
            "contribution_per_labour_hour": market["contribution_per_labour_hour"],
        }


def ready(door: Door, way: dict[str, Any], quantity: int, **more: Any) -> str | None:
    """Quote a way, and say when it is ready."""
    sent = {"product": product_of(way), "channel": "market", "quantity": quantity, **more}
    quote = door.ask("POST", "/v1/quotes", "cost", json=plain({**sent, "breaks": []})).json()
    return None if quote["lead_time"] is None else str(quote["lead_time"]["ready_on"])


@pytest.mark.parametrize("more", [{}, {"from": "2026-12-23T10:00:00+01:00"}], ids=["now", "later"])
def test_ready_dates_are_those_of_the_quotes(own_shop: Door, more: dict[str, Any]) -> None:
    busy = {"machines": {"small-1": {"queue_h": [100]}, "large": {"queue_h": [30]}}}
    headers = {"If-Match": '"w0"'}
    put = own_shop.ask("PUT", "/v1/workload", "listings", json=busy, headers=headers)
    assert put.status_code == 200, put.text
    quantities = [1, 20, 60, 5_000]
    found = post(own_shop, {**NOZZLES, "quantities": quantities, **more}).json()
    dates = {each["label"]: [at["ready_on"] for at in each["at"]] for each in found["alternatives"]}
    assert dates == {
        label: [ready(own_shop, way, quantity, **more) for quantity in quantities]
        for label, way in WAYS.items()
    }
    assert dates["0.4 mm, as today"][-1] is None, "so many builds are not scheduled"
    free = post(own_shop, {**NOZZLES, "workload": {"machines": {}}, **more}).json()
    assert free["alternatives"][0]["at"][0]["ready_on"] < dates["0.4 mm, as today"][0]


def test_it_names_the_revision_and_day_of_its_rates(shop: Door) -> None:
    found = post(shop, {**NOZZLES, "rates_on": "2027-01-04"}).json()
    assert (found["rates_revision"], found["rates_on"]) == (1, "2027-01-04")
    found = post(shop, {**NOZZLES, "rates_revision": 1}).json()
    assert (found["rates_revision"], found["rates_on"]) == (1, "2026-12-01")
    kind, faults = problem_of(post(shop, {**NOZZLES, "rates_revision": 2, "up_to": 0}))
    assert kind == "invalid-request"
    assert [fault["pointer"] for fault in faults] == ["/rates_revision", "/up_to"]


def test_rates_in_place_of_the_stored_ones_hold_for_all_ways(shop: Door) -> None:
    free = {"components": {"elastic-cord": {"offers": [{"price": 0}], "measure": "m"}}}
    stored, changed = (
        post(shop, sent).json()["alternatives"]
        for sent in (NOZZLES, {**NOZZLES, "rate_overrides": free})
    )
    for before, after in zip(stored, changed, strict=True):
        assert float(after["at"][0]["unit_cost"]) < float(before["at"][0]["unit_cost"])


def test_cautions_of_the_product_are_told(shop: Door) -> None:
    product = {**NOZZLES["product"], "hazards": ["load-bearing"]}
    found = post(shop, {**NOZZLES, "product": product}).json()
    assert [each["hazard"] for each in found["cautions"]] == ["load-bearing"]


def test_it_is_never_kept_and_never_told_to_a_key_of_prices(shop: Door) -> None:
    assert post(shop, NOZZLES).headers["cache-control"] == "no-store"
    assert problem_of(post(shop, NOZZLES, "price"))[0] == "key-may-not"


def test_others_are_answered_while_it_is_computed(shop: Door) -> None:
    ended: list[str] = []

    async def ask() -> None:
        app: Any = shop.app
        headers = {"Authorization": f"Bearer {secret('cost')}", "Content-Type": JSON}
        async with httpx.AsyncClient(
            transport=httpx.ASGITransport(app=app), base_url="http://127.0.0.1:8750"
        ) as client:

            async def send(path: str, sent: Any) -> None:
                answer = await client.post(path, json=plain(sent), headers=headers)
                assert answer.status_code == 200
                ended.append(path)

            long = send("/v1/comparisons", {**NOZZLES, "up_to": 400})
            begun = asyncio.create_task(long)
            await asyncio.sleep(0)
            await send("/v1/quotes", demo.request("herb-planter"))
            await begun

    asyncio.run(ask())
    assert ended == ["/v1/quotes", "/v1/comparisons"]
