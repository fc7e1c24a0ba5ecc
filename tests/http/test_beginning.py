"""A shop begins by HTTP: one change that holds all that a sheet needs is its first revision."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec import to_builtins

from gramhour_service.http.settings import Settings
from gramhour_service.sheets.changing import BEGIN, BEGUN
from gramhour_service.sheets.rows import rates_of
from tests import demo
from tests.http.asking import DEARER, LABOUR, NEW, RATES, REVISIONS, change, put, refused
from tests.http.door import Door, add_keys, opened

MONEY = {"kind": "shop", "code": "currency", "value": "EUR"}


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Door]:
    """A store with keys and no rates."""
    with opened(Settings(store=add_keys(tmp_path / "gramhour.sqlite"))) as door:
        yield door


def test_one_change_with_a_whole_sheet_begins_a_shop_as_an_import_does(
    empty: Door, shop: Door
) -> None:
    first = [
        {"kind": kind, "code": code, "value": to_builtins(value)}
        for (kind, code), value in rates_of(demo.sheet()).items()
    ]
    tried = change(empty, *first, based_on=0, trial=True)
    assert (tried.status_code, tried.json()["rates_revision"]) == (200, 1)
    begun = change(empty, *first, based_on=0, note="how we begin")
    assert (begun.status_code, begun.headers["location"]) == (201, "/v1/revisions/1")
    assert begun.json()["changes"] == tried.json()["changes"]
    assert empty.ask("GET", begun.headers["location"], "cost").json() == {
        "rates_revision": 1, "known_since": "2026-12-01T09:00:00Z", "effective_from": "2026-12-01",
        "made_by": "rates", "note": "how we begin", "changes": len(first),
    }  # fmt: skip
    told, imported = (door.ask("GET", RATES, "cost").json() for door in (empty, shop))
    assert told == imported
    again = change(empty, *first, based_on=0)
    assert again.status_code == 409
    assert refused(again) == ("moved-on", [("/based_on_revision", BEGUN.format(1))])
    assert change(empty, DEARER, based_on=1).status_code == 201


def test_a_first_change_that_is_not_whole_says_what_is_missing_and_how_to_begin(
    empty: Door,
) -> None:
    missing = f"shop/labour_rate_per_hour, shop/price_per_kwh are missing: {BEGIN}"
    bare = {"kind": "materials", "code": "pla", "value": {"price": 1}}
    kind, told = refused(change(empty, MONEY, bare, based_on=0))
    assert kind == "invalid-request"
    assert [fault for fault in told if fault[0] == "/changes"] == [("/changes", missing)]
    assert {place for place, _ in told} == {
        "/changes", "/changes/1/value", "/changes/1/value/price"
    }  # fmt: skip
    single = refused(put(empty, f"{RATES}/shop/currency", "EUR", NEW))
    assert single == ("invalid-request", [("", missing)])
    _, told = refused(
        change(empty, {"kind": "shop", "code": "currency", "remove": True}, based_on=0)
    )
    assert told == [
        ("/changes/0", "there is no shop/currency to take away on 2026-12-01"),
        ("/changes", f"shop/currency, {missing}"),
    ]
    later = refused(change(empty, MONEY, based_on=1))
    assert later == ("invalid-request", [("/based_on_revision", BEGIN)])
    assert empty.ask("GET", REVISIONS, "cost").json() == {"items": []}
    assert empty.ask("GET", LABOUR, "cost").status_code == 404
