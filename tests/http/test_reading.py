"""What is read from the store: the rates of a day, as known at a revision."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from gramhour.contract.rates import KINDS
from gramhour_service.http.settings import Settings
from gramhour_service.resolve.sheet import sound_sheet
from tests import demo
from tests.http.door import NOW, Door, add_keys, make_shop, opened, problem_of, take_in

RATES = "/v1/rates"
LABOUR, POWER = f"{RATES}/shop/labour_rate_per_hour", f"{RATES}/shop/price_per_kwh"
GREEN = f"{RATES}/materials/asa-green"
SHEET: Any = demo.sheet()
GREENER = replace(SHEET.materials["asa-green"], note="Dried before use.")
DEARER = {"labour_rate_per_hour": Decimal(33)}
LATER = {"materials": {**SHEET.materials, "asa-green": GREENER}}
TODAY = {"price_per_kwh": Decimal("0.32")}


@pytest.fixture(scope="module")
def dated_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Revision 2 plans dearer work from Monday, 3 a note from Thursday, 4 is today's power."""
    path = make_shop(tmp_path_factory.mktemp("dated") / "gramhour.sqlite")
    assert take_in(path, replace(SHEET, **DEARER), effective_from=date(2026, 12, 7)) == 2
    assert take_in(path, replace(SHEET, **LATER), effective_from=date(2026, 12, 3)) == 3
    assert take_in(path, replace(SHEET, **TODAY)) == 4
    return path


@pytest.fixture(scope="module")
def dated(dated_path: Path) -> Iterator[Door]:
    with opened(Settings(store=dated_path)) as door:
        yield door


def read(door: Door, path: str, **query: Any) -> tuple[dict[str, Any], str]:
    answer = door.ask("GET", path, "cost", params=query)
    assert answer.status_code == 200, answer.text
    return answer.json(), answer.headers["etag"]


FIRST = '"r1@2026-12-01"'


@pytest.mark.parametrize(
    ("query", "changes", "tag", "tag_of_materials"),
    [
        ({}, TODAY, '"r4@2026-12-01"', FIRST),
        ({"rates_on": "2026-12-02"}, TODAY, '"r4@2026-12-01"', FIRST),
        ({"rates_on": "2026-12-03"}, TODAY | LATER, '"r4@2026-12-03"', '"r3@2026-12-03"'),
        ({"rates_on": "2027-01-01"}, TODAY | LATER | DEARER, '"r4@2026-12-07"',
         '"r3@2026-12-03"'),
        ({"rates_revision": 1}, {}, FIRST, FIRST),
        ({"rates_revision": 2}, {}, FIRST, FIRST),
        ({"rates_revision": 3, "rates_on": "2026-12-07"}, LATER | DEARER, '"r3@2026-12-07"',
         '"r3@2026-12-03"'),
    ],
    ids=str,
)  # fmt: skip
def test_the_sheet_of_a_day_as_known_at_a_revision(
    dated: Door, query: dict[str, Any], changes: Any, tag: str, tag_of_materials: str
) -> None:
    told, etag = read(dated, RATES, **query)
    assert sound_sheet(told["rates"]) == replace(SHEET, **changes)
    assert told["in_force_from"] in tag
    assert told["rates_revision"] == query.get("rates_revision", 4)
    assert told["rates_on"] == query.get("rates_on", "2026-12-01")
    assert (etag, read(dated, f"{RATES}/materials", **query)[1]) == (tag, tag_of_materials)


@pytest.mark.parametrize(
    ("path", "query", "changed_in", "since"),
    [
        (LABOUR, {}, 1, "2026-12-01"),
        (LABOUR, {"rates_on": "2026-12-06"}, 1, "2026-12-01"),
        (LABOUR, {"rates_on": "2026-12-07"}, 2, "2026-12-07"),
        (LABOUR, {"rates_on": "2026-12-07", "rates_revision": 1}, 1, "2026-12-01"),
        (GREEN, {}, 1, "2026-12-01"),
        (GREEN, {"rates_on": "2026-12-24"}, 3, "2026-12-03"),
        (GREEN, {"rates_on": "2026-12-24", "rates_revision": 2}, 1, "2026-12-01"),
        (POWER, {}, 4, "2026-12-01"),
        (POWER, {"rates_revision": 3}, 1, "2026-12-01"),
        (f"{RATES}/channels/trade", {"rates_on": "2026-12-24"}, 1, "2026-12-01"),
    ],
    ids=str,
)
def test_a_rates_tag_names_the_revision_that_changed_it_and_the_first_day_of_the_value(
    dated: Door, path: str, query: dict[str, Any], changed_in: int, since: str
) -> None:
    told, etag = read(dated, path, **query)
    assert (told["changed_in"], told["in_force_from"]) == (changed_in, since)
    assert etag == f'"r{changed_in}@{since}"'


def test_the_kinds_and_the_single_rates_are_those_of_the_sheet(dated: Door) -> None:
    sheet = read(dated, RATES)[0]["rates"]
    kinds = KINDS
    wide = {name: value for name, value in sheet.items() if name not in kinds}
    for kind, rates in [*((kind, sheet[kind]) for kind in kinds), ("shop", wide)]:
        assert read(dated, f"{RATES}/{kind}")[0]["rates"] == rates
        for code, value in rates.items():
            told, _ = read(dated, f"{RATES}/{kind}/{code}")
            assert (told["kind"], told["code"], told["value"]) == (kind, code, value)


def test_on_monday_the_shop_is_told_mondays_rates_though_nothing_was_written(
    dated_path: Path,
) -> None:
    clock = [NOW]
    with opened(Settings(store=dated_path), lambda: clock[0]) as door:
        seen = []
        for days in (0, 5, 6):
            clock[0] = NOW + timedelta(days=days)
            told, etag = read(door, LABOUR)
            seen.append((told["value"], etag, told["rates_on"]))
    assert seen == [
        ("32.00", '"r1@2026-12-01"', "2026-12-01"),
        ("32.00", '"r1@2026-12-01"', "2026-12-06"),
        ("33", '"r2@2026-12-07"', "2026-12-07"),
    ]


def test_what_is_written_by_another_is_read_by_the_next_request(
    own_shop: Door, own_path: Path
) -> None:
    assert read(own_shop, LABOUR)[0]["value"] == "32.00"
    for rate in range(33, 43):
        revision = take_in(own_path, replace(SHEET, labour_rate_per_hour=Decimal(rate)))
        told, etag = read(own_shop, LABOUR)
        assert (told["value"], etag) == (str(rate), f'"r{revision}@2026-12-01"')


def test_a_rate_that_is_withdrawn_is_there_until_that_day(own_shop: Door, own_path: Path) -> None:
    fewer = {code: rate for code, rate in SHEET.nozzles.items() if code != "n08"}
    without = replace(SHEET, nozzles=fewer, machines={}, services={})  # one of them has n08 fitted
    take_in(own_path, without, effective_from=date(2026, 12, 7))
    path = f"{RATES}/nozzles/n08"
    assert read(own_shop, path, rates_on="2026-12-06")[1] == '"r1@2026-12-01"'
    answer = own_shop.ask("GET", path, "cost", params={"rates_on": "2026-12-07"})
    assert problem_of(answer)[0] == "unknown-rate"
    assert read(own_shop, path, rates_on="2026-12-07", rates_revision=1)[0]["changed_in"] == 1


def test_the_shops_day_begins_where_the_shop_is(own_path: Path) -> None:
    auckland = replace(SHEET, time_zone="Pacific/Auckland")
    take_in(own_path, auckland)
    evening = datetime.fromisoformat("2026-12-01T11:00:00+00:00")
    with opened(Settings(store=own_path), lambda: evening) as door:
        assert read(door, RATES)[0]["rates_on"] == "2026-12-02"


@pytest.mark.parametrize("path", [RATES, f"{RATES}/shop", LABOUR])
def test_before_the_first_import_there_are_no_rates(tmp_path: Path, path: str) -> None:
    with opened(Settings(store=add_keys(tmp_path / "gramhour.sqlite"))) as door:
        assert problem_of(door.ask("GET", path, "cost"))[0] == "unknown-rate"
