"""What the shop makes of own parts, for whoever may have one made: no more is told than a buyer
sees, and what is told is what can be measured and quoted by.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.settings import Settings
from gramhour_service.resolve.sheet import sound_sheet
from tests.http.door import Door, add_keys, make_shop, opened, problem_of
from tests.http.test_own_parts import SERVICE, SHEET, measured, quoted

SERVICES = "/v1/services"
OWN_PARTS = {
    "service": "own-parts",
    "name": "Your own part, printed fine",
    "materials": [
        {"material": "pla-chalk", "name": "PLA, chalk white"},
        {"material": "petg-clear", "name": "PETG, water clear"},
    ],
    "largest_box": {"x_mm": 200.0, "y_mm": 200.0, "z_mm": 180.0},
    "multiple_of": 1,
    "currency": "EUR",
    "prices_include_tax": True,
}


@pytest.fixture(scope="module")
def doors(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Door, Door]]:
    """The demo's shop with a second service for the trade, behind keys and open to all."""
    left_out = ("name", "largest_box", "public")
    for_trade = {name: value for name, value in SERVICE.items() if name not in left_out}
    services = {**SHEET["services"], "for-trade": {**for_trade, "channel": "trade"}}
    sheet = sound_sheet({**SHEET, "services": services})
    path = make_shop(tmp_path_factory.mktemp("services") / "gramhour.sqlite", sheet)
    with (
        opened(Settings(store=path)) as door,
        opened(Settings(store=path, public_quotes=True)) as public,
    ):
        yield door, public


def codes(door: Door, key: str | None) -> list[str]:
    return [each["service"] for each in read(door, key)["items"]]


def read(door: Door, key: str | None, **query: Any) -> Any:
    answer = door.ask("GET", SERVICES, key, params=query)
    assert answer.status_code == 200, answer.text
    assert answer.headers["cache-control"] == "private, no-cache"
    return answer.json()


def test_whoever_asks_is_told_of_the_services_open_to_them(doors: tuple[Door, Door]) -> None:
    door, public = doors
    assert codes(door, "cost") == ["for-trade", "own-parts"]
    assert codes(door, "bound") == ["own-parts"], "those of the key's channels"
    assert read(public, None) == {"items": [OWN_PARTS]}, "those that are public"


def test_a_service_without_a_name_or_a_largest_box_has_its_code_and_what_a_plate_leaves(
    doors: tuple[Door, Door],
) -> None:
    (for_trade, _) = read(doors[0], "price")["items"]
    assert (for_trade["name"], for_trade["prices_include_tax"]) == ("for-trade", False)
    assert for_trade["largest_box"] == {"x_mm": 210.0, "y_mm": 210.0, "z_mm": 240.0}


def test_a_part_is_measured_and_quoted_by_what_is_told(doors: tuple[Door, Door]) -> None:
    door, _ = doors
    told = read(door, "bound")["items"][0]
    token = measured(door, key="bound", service=told["service"])["measurement"]
    for material in told["materials"]:
        wish = {"service": told["service"], "material": material["material"]}
        assert quoted(door, "bound", token, **wish).status_code == 200


def test_services_come_in_pages_and_have_a_tag(doors: tuple[Door, Door]) -> None:
    door, _ = doors
    first = read(door, "price", limit=1)
    assert first["next_cursor"] == "for-trade"
    assert read(door, "price", cursor=first["next_cursor"]) == {"items": [OWN_PARTS]}
    tag = door.ask("GET", SERVICES, "price").headers["etag"]
    again = door.ask("GET", SERVICES, "price", headers={"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")


def test_without_rates_nothing_is_offered(tmp_path: Path) -> None:
    with opened(Settings(store=add_keys(tmp_path / "empty.sqlite"))) as door:
        assert problem_of(door.ask("GET", SERVICES, "price")) == (
            "no-rates",
            [{"detail": "no rates are in force yet"}],
        )
