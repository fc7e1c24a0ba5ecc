"""The lines of a repricing: the worst first, in pages, by filters, all of them as NDJSON."""

from collections.abc import Iterator
from decimal import Decimal
from statistics import median
from typing import Any

import pytest
from msgspec import json

from gramhour_service.http.settings import Settings
from tests.http.asking import refused
from tests.http.door import NDJSON, Door, make_shop, opened, problem_type
from tests.http.four_pots import POT
from tests.http.repriced import (
    REPRICINGS,
    describe,
    lines_of,
    list_prices,
    listed,
    page_of,
    repriced,
    told,
)

LABOUR: dict[str, Any] = {"kind": "shop", "code": "labour_rate_per_hour", "value": "44"}
CHANNELS = ("own-shop", "market", "trade")
COUNTS = {"new", "up", "down", "unchanged", "held", "failed", "under_floor", "under_floor_if_kept"}


def counted(**counts: int) -> dict[str, int]:
    return {**dict.fromkeys(COUNTS, 0), **counts}


def standing(line: Any) -> tuple[int, Decimal, str]:
    """Say where a line should stand: failed ones, those under their floor, the largest moves."""
    is_under = line["under_floor"] or line["under_floor_if_kept"]
    first = 0 if line["outcome"] == "failed" else 1 if is_under else 2
    return first, -abs(Decimal(line.get("change_pct", "0"))), line["sku"]


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Door, str]]:
    """A repricing of 321 listings, most of them priced, on three channels; a few cannot be."""
    path = make_shop(tmp_path_factory.mktemp("many") / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        describe(door, "pot", POT)
        aims: list[Any] = [{"margin_pct": n} for n in range(5, 45, 3)] + [{"markup_pct": 60}]
        rows = [
            {"sku": f"S-{n:03}", "product": "pot", "channel": CHANNELS[n % 3],
             "breaks": [6] if n % 2 else [12, 24], "aim": aims[n % len(aims)]}
            for n in range(321)
        ]  # fmt: skip
        listed(door, *rows[:300])
        list_prices(door)
        listed(door, *rows[300:])
        listed(door, *({**row, "aim": {"margin_pct": 98}} for row in rows[:300:50]))
        listed(door, *({**row, "hold": True} for row in rows[1:300:50]))
        yield door, repriced(door, over="all", proposed=[LABOUR])["id"]


def test_the_worst_come_first(many: tuple[Door, str]) -> None:
    door, name = many
    lines = lines_of(door, name)
    assert lines == sorted(lines, key=standing)
    assert {line["sku"] for line in lines} == {f"S-{n:03}" for n in range(321)}
    assert {line["outcome"] for line in lines} >= {"failed", "new", "up", "held"}
    assert len({standing(line)[0] for line in lines}) == 3


@pytest.mark.parametrize("limit", [1, 7, 100, 320, 321])
def test_pages_hold_every_line_once(many: tuple[Door, str], limit: int) -> None:
    door, name = many
    found: list[Any] = []
    query: dict[str, Any] = {"limit": limit}
    while True:
        page = page_of(door, name, **query)
        assert page["id"] == name
        found += page["items"]
        if "next_cursor" not in page:
            break
        assert len(page["items"]) == limit
        query["cursor"] = page["next_cursor"]
    assert found == lines_of(door, name)
    assert len({line["sku"] for line in found}) == 321


def test_counts_are_those_of_the_lines(many: tuple[Door, str]) -> None:
    door, name = many
    lines = lines_of(door, name)
    expected = counted()
    for line in lines:
        expected[line["outcome"]] += 1
        expected["under_floor"] += line["under_floor"]
        expected["under_floor_if_kept"] += line["under_floor_if_kept"]
    now = told(door, name)
    assert now["counts"] == expected
    assert (now["done"], now["of"], now["state"]) == (321, 321, "finished")


def test_how_far_prices_move_is_told_of_those_that_go_up(many: tuple[Door, str]) -> None:
    door, name = many
    moves = [
        Decimal(line["change_pct"]) for line in lines_of(door, name) if line["outcome"] == "up"
    ]
    now = told(door, name)
    assert {each: Decimal(pct) for each, pct in now["up_by"].items()} == {
        "least_pct": min(moves),
        "median_pct": round(median(moves), 2),
        "most_pct": max(moves),
    }
    assert len({*now["up_by"].values()}) == 3
    assert "down_by" not in now


def test_lines_can_be_filtered(many: tuple[Door, str]) -> None:
    door, name = many
    lines = lines_of(door, name)
    for outcome in ("new", "up", "down", "unchanged", "held", "failed"):
        expected = [line for line in lines if line["outcome"] == outcome]
        assert lines_of(door, name, outcome=outcome) == expected
    under = [line for line in lines if line["under_floor"] or line["under_floor_if_kept"]]
    assert 0 < len(under) < 321
    assert lines_of(door, name, under_floor="true") == under
    assert lines_of(door, name, under_floor="false") == lines
    on_market = [line for line in lines if line["channel"] == "market"]
    assert lines_of(door, name, channel="market") == on_market
    both = [line for line in on_market if line["outcome"] == "up"]
    assert lines_of(door, name, channel="market", outcome="up") == both
    assert lines_of(door, name, channel="no-such") == []


def test_a_filtered_list_has_pages_too(many: tuple[Door, str]) -> None:
    door, name = many
    first = page_of(door, name, limit=20, channel="trade", outcome="up")
    next_one = page_of(
        door, name, limit=20, channel="trade", outcome="up", cursor=first["next_cursor"]
    )
    whole = lines_of(door, name, channel="trade", outcome="up")
    assert [*first["items"], *next_one["items"]] == whole[:40]


def test_as_ndjson_all_lines_come_and_their_number(many: tuple[Door, str]) -> None:
    door, name = many

    def read(**query: Any) -> list[Any]:
        answer = door.ask("GET", f"{REPRICINGS}/{name}/lines", "listings",
                          headers={"Accept": NDJSON}, params=query)  # fmt: skip
        assert answer.headers["content-type"] == NDJSON
        assert answer.headers["cache-control"] == "no-store"
        *lines, last = [json.decode(line) for line in answer.content.splitlines()]
        assert last == {"done": len(lines)}
        return lines

    assert read() == lines_of(door, name)
    assert read(outcome="held") == lines_of(door, name, outcome="held")
    assert read(outcome="down") == []


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ({"outcome": "better"}, "outcome"),
        ({"under_floor": "yes"}, "under_floor"),
        ({"limit": "0"}, "limit"),
        ({"limit": "1001"}, "limit"),
        ({"cursor": "x"}, "cursor"),
        ({"sku": "S-001"}, "sku"),
    ],
)
def test_what_is_no_such_filter_is_refused(
    many: tuple[Door, str], query: dict[str, str], parameter: str
) -> None:
    door, name = many
    answer = door.ask("GET", f"{REPRICINGS}/{name}/lines", "listings", params=query)
    assert answer.status_code == 422
    kind, faults = refused(answer)
    assert (kind, [place for place, _ in faults]) == ("invalid-request", [parameter])


def test_a_report_that_has_not_changed_is_not_sent_again(many: tuple[Door, str]) -> None:
    door, name = many
    for path in (f"{REPRICINGS}/{name}", f"{REPRICINGS}/{name}/lines", REPRICINGS):
        first = door.ask("GET", path, "listings")
        assert first.headers["cache-control"] == "no-store"
        tag = {"If-None-Match": first.headers["etag"]}
        assert door.ask("GET", path, "listings", headers=tag).status_code == 304
        assert door.ask("HEAD", path, "listings").content == b""


def test_there_are_no_lines_of_what_is_no_repricing(shop: Door) -> None:
    for path in ("0123456789abcdef", "0123456789abcdef/lines", "x", "x/lines"):
        answer = shop.ask("GET", f"{REPRICINGS}/{path}", "listings")
        assert (answer.status_code, problem_type(answer)) == (404, "unknown-entry")
