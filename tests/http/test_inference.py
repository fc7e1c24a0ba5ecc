"""From prices alone, nobody but the shop can compute what the shop pays and earns.

Where free descriptions are priced, six of them are enough (the attack below, by plain algebra on
the price that ``costing.md`` solves: net price = (cost + fixed fees) / (1 − margin − fees)). So
that door is the shop's own, and every other answers nothing that depends on the rates.
"""

import random
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest

from gramhour.contract.rates import RateSheet
from gramhour_service.http.settings import Settings
from gramhour_service.resolve.sheet import sound_sheet
from tests.cube import CUBE
from tests.http.door import BOUND, NDJSON, Door, make_shop, opened, take_in

SHOPS = 100
PRICES = {"Accept": "application/json"}
Ask = Callable[[dict[str, Any]], Decimal]


class Secrets(NamedTuple):
    """What the shop would rather keep to itself."""

    margin_pct: Decimal
    labour_per_hour: Decimal
    printing_per_hour: Decimal
    material_per_kg: Decimal


def drawn(seed: int) -> RateSheet:
    """Draw a shop with its own rates, fees, tax, codes and aims."""
    draw = random.Random(seed)
    word = "".join(draw.choices("bcdfghklmnprstvz", k=8))

    def amount(least: int, most: int) -> str:
        return str(Decimal(draw.randint(100 * least, 100 * most)) / 100)

    return sound_sheet(
        {
            "currency": draw.choice(["EUR", "USD", "GBP"]),
            "labour_rate_per_hour": amount(8, 90),
            "price_per_kwh": amount(0, 1),
            "materials": {"m": {"price_per_kg": amount(10, 90)}, word: {"price_per_kg": 1}},
            "machines": {"p": {"rate_per_hour": amount(0, 9), "power_w": 1000}},
            "components": {"box": {"name": word, "offers": [{"price": amount(0, 3)}]}},
            "channels": {
                "c": {
                    "name": word,
                    "public": True,
                    "prices_include_tax": draw.choice([True, False]),
                    "tax_rate_pct": draw.randint(0, 27),
                    "fee_pct": amount(0, 12),
                    "payment_pct": amount(0, 3),
                    "fee_per_order": amount(0, 1),
                    "packing": [{"component": "box", "per": "order"}],
                    "aim": {"margin_pct": str(Decimal(draw.randint(0, 550)) / 10)},
                },
                word: {"public": True, "prices_include_tax": True, "aim": {"margin_pct": 1}},
            },
        }
    )


def secrets_of(sheet: Any) -> Secrets:
    machine, material = sheet.machines["p"], sheet.materials["m"]
    return Secrets(
        sheet.channels["c"].aim.margin_pct,
        sheet.labour_rate_per_hour,
        machine.rate_per_hour + sheet.price_per_kwh,  # at 1 kW
        material.price_per_kg,
    )


PLAIN = {
    "material": "m", "mass_g": 100_000, "machine": "p", "print_min": 60_000, "unit_min": 60_000,
    "channel": "c", "quantity": 1,
}  # fmt: skip
MORE_WORK = {"unit_min": 60_000 + 60_000_000}
MORE_PRINTING = {"print_min": 60_000 + 60_000_000}
MORE_MATERIAL = {"mass_g": 100_000 + 100_000_000}


def attack(ask: Ask) -> Secrets:
    """Compute a shop's rates from the net prices of six descriptions."""
    usual = ask(PLAIN)
    at_none = ask(PLAIN | {"margin_pct": 0})
    at_half = ask(PLAIN | {"margin_pct": 50})
    fees = (at_none - at_half / 2) / (at_none - at_half)  # at_none (1-f) = at_half (1/2-f)
    left = 1 - fees
    return Secrets(
        _rounded(100 * left * (1 - at_none / usual), "0.1"),
        *(
            _rounded(left * (ask(PLAIN | more | {"margin_pct": 0}) - at_none) / units, "0.01")
            for more, units in ((MORE_WORK, 10**6), (MORE_PRINTING, 10**6), (MORE_MATERIAL, 10**5))
        ),
    )


def _rounded(number: Decimal, to: str) -> Decimal:
    return number.quantize(Decimal(to))


def described(sent: dict[str, Any]) -> dict[str, Any]:
    """Write as a quote request what stands in parameters."""
    feed = {"material": sent["material"], "mass_g": sent["mass_g"]}
    piece = {"machine": sent["machine"], "print_min": sent["print_min"], "feed": [feed]}
    aim = {"aim": {"margin_pct": sent["margin_pct"]}} if "margin_pct" in sent else {}
    return {
        "product": {"pieces": [piece], "work": {"unit_min": sent["unit_min"]}},
        "quantity": sent["quantity"], "breaks": [], "channel": sent["channel"], **aim,
    }  # fmt: skip


def net_price(answer: httpx.Response) -> Decimal:
    assert answer.status_code == 200, answer.text
    quote = answer.json()
    assert "unit_cost" not in quote["at_quantity"]
    return Decimal(quote["at_quantity"]["unit_price_net"])


class Doors(NamedTuple):
    """Services of one store that are started in each of the three ways."""

    path: Path
    plain: Door
    public: Door
    cells: Door


@pytest.fixture(scope="module")
def doors(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Doors]:
    path = make_shop(tmp_path_factory.mktemp("drawn") / "gramhour.sqlite", drawn(0))
    with ExitStack() as stack:
        ways = (
            Settings(store=path),
            Settings(store=path, public_quotes=True, quotes_a_minute=10**6),
            Settings(store=path, cells_from=frozenset({BOUND})),
        )
        yield Doors(path, *(stack.enter_context(opened(way)) for way in ways))


def of_the_cost_key(doors: Doors) -> Ask:
    return lambda sent: net_price(
        doors.plain.ask("POST", "/v1/quotes?view=price", "cost", json=described(sent))
    )


def of_the_cells(doors: Doors) -> Ask:
    return lambda sent: net_price(
        doors.cells.ask("GET", "/v1/unit-price", params={**sent, "breaks": ""}, headers=PRICES)
    )


@pytest.mark.parametrize("way", [of_the_cost_key, of_the_cells])
def test_where_free_descriptions_are_priced_six_of_them_tell_the_rates_exactly(
    doors: Doors, way: Callable[[Doors], Ask]
) -> None:
    ask = way(doors)
    for seed in range(SHOPS):
        sheet = drawn(seed)
        take_in(doors.path, sheet)
        assert attack(ask) == secrets_of(sheet)


QUESTIONS = [
    PLAIN, PLAIN | {"margin_pct": 0}, PLAIN | {"margin_pct": 50},
    *(PLAIN | more | {"margin_pct": 0} for more in (MORE_WORK, MORE_PRINTING, MORE_MATERIAL)),
]  # fmt: skip
BY_SKU = [{"sku": "m", "quantity": 1, "channel": "c"}, {"sku": "box", "quantity": 9, "breaks": [1]}]
ODD = [{}, {"quantity": 1, "channel": "x"}, {"sku": "m", "channel": "m"}, {"rates": {}}, "m", None]


def one_by_one(door: Door, key: str | None) -> Iterator[httpx.Response]:
    for sent in [*map(described, QUESTIONS), *BY_SKU]:
        yield door.ask("POST", "/v1/quotes", key, json=sent)


def as_batches(door: Door, key: str | None) -> Iterator[httpx.Response]:
    requests = [*map(described, QUESTIONS), *BY_SKU, *ODD]
    for accept in ("application/json", NDJSON):
        sent: dict[str, Any] = {"json": {"requests": requests}, "headers": {"Accept": accept}}
        yield door.ask("POST", "/v1/quotes/batch", key, **sent)


def as_cells(door: Door, key: str | None) -> Iterator[httpx.Response]:
    for sent in QUESTIONS:
        yield door.ask("GET", "/v1/unit-price", key, params=sent, headers=PRICES)
    for sent in BY_SKU:
        by_sku = {name: value for name, value in sent.items() if name != "breaks"}
        yield door.ask("GET", "/v1/unit-price", key, params=by_sku)


def as_costs(door: Door, key: str | None) -> Iterator[httpx.Response]:
    yield door.ask("POST", "/v1/quotes?view=cost", key, json=BY_SKU[0])
    yield door.ask("POST", "/v1/quotes?explain=true", key, json=BY_SKU[0])
    yield door.ask("GET", "/v1/rates/materials/m", key)


OF_EACH_ANSWER = ("x-request-id",)
"""Drawn at random for each answer."""


def told(answer: httpx.Response) -> tuple[int, tuple[tuple[str, str], ...], bytes]:
    """Keep all that a caller is told, and make sure that nothing was priced."""
    assert answer.status_code >= 400 or answer.url.path == "/v1/quotes/batch"
    assert b'"unit_price' not in answer.content
    headers = {name: value for name, value in answer.headers.items() if name not in OF_EACH_ANSWER}
    return answer.status_code, tuple(headers.items()), answer.content


@pytest.mark.parametrize(
    ("service", "key"), [("plain", "price"), ("plain", "bound"), ("public", None)], ids=str
)
def test_every_other_door_answers_refusals_that_do_not_depend_on_the_rates(
    doors: Doors, service: str, key: str | None
) -> None:
    def all_told() -> list[Any]:
        ways = (one_by_one, as_batches, as_cells, as_costs)
        return [told(answer) for way in ways for answer in way(getattr(doors, service), key)]

    first = all_told()
    for seed in range(SHOPS):
        assert take_in(doors.path, drawn(seed + 1)) is not None
        assert all_told() == first


@pytest.mark.parametrize("path", ["/v1/quotes", "/v1/quotes/batch"])
def test_the_cells_door_prices_by_its_own_route_only(doors: Doors, path: str) -> None:
    assert doors.cells.ask("POST", path, json=described(PLAIN)).status_code == 401


def own_parts(share: int, margin_pct: int) -> RateSheet:
    """Draw up a shop that makes own parts at a share of the cost, for another margin."""

    def amount(whole: str) -> str:
        return str(Decimal(whole) / share)

    return sound_sheet(
        {
            "currency": "EUR",
            "labour_rate_per_hour": amount("36"),
            "price_per_kwh": amount("0.40"),
            "admin_overhead_pct": 10,
            "materials": {
                "a": {"price_per_kg": amount("24"), "density_g_cm3": "1.25"},
                "b": {"price_per_kg": amount("48"), "density_g_cm3": "1.10"},
            },
            "machines": {
                "p": {"rate_per_hour": amount("1.20"), "power_w": 120,
                      "build_volume": {"x_mm": 200, "y_mm": 200, "z_mm": 200}}
            },
            "nozzles": {"n": {"diameter_mm": "0.4", "price": amount("8"), "life_kg": 2}},
            "components": {"box": {"offers": [{"price": amount("1.20")}]}},
            "channels": {
                "c": {
                    "public": True, "prices_include_tax": True, "tax_rate_pct": 20,
                    "fee_per_order": amount("0.60"), "price_step": "0.05",
                    "postage": [{"up_to_units": 100, "cost": amount("5"), "charged": 0}],
                    "aim": {"margin_pct": margin_pct},
                }
            },
            "profiles": {
                "f": {"layer_mm": "0.2", "bead_width_mm": "0.45", "outlines": 3,
                      "solid_layers": 4, "fill_pct": 20, "speed_mm_s": 60, "layer_change_s": 1,
                      "flow_limits": [{"nozzle": "n", "material": each, "flow_mm3_s": 11}
                                      for each in "ab"]}
            },
            "services": {
                "s": {"public": True, "profile": "f", "machine": "p", "nozzle": "n",
                      "materials": ["a", "b"], "channel": "c", "work": {"unit_min": 4},
                      "packing": [{"component": "box", "per": "order"}]}
            },
        }
    )  # fmt: skip


def test_prices_of_own_parts_do_not_tell_what_of_them_is_cost(doors: Doors) -> None:
    """A shop at half the cost with a margin of 75 in place of 50 per cent asks the same prices.

    With a margin on the order's net, net = (cost + fixed fees) / (1 - margin). So whatever a buyer
    has priced, what the shop pays and what it earns stay apart by a factor that nobody tells.
    """
    answers, costs = [], []
    for share, margin in ((1, 50), (2, 75)):
        take_in(doors.path, own_parts(share, margin))
        stl = {"Content-Type": "model/stl"}
        told = doors.plain.ask(
            "POST", "/v1/measurements", "price", content=CUBE, headers=stl, params={"service": "s"}
        )
        part = {"measurement": told.json()["measurement"], "service": "s", "channel": "c"}
        asked = [
            {**part, "material": each, "quantity": 7, "breaks": [1, 2, 3, 5, 10, 20, 40, 100]}
            for each in "ab"
        ]
        ways = ((doors.plain, "price"), (doors.public, None))
        answers.append([
            door.ask("POST", "/v1/quotes", key, json=each).json() for door, key in ways
            for each in asked])  # fmt: skip
        seen = doors.plain.ask("POST", "/v1/quotes", "cost", json=asked[0]).json()
        costs.append(Decimal(seen["at_quantity"]["unit_cost"]))
    assert answers[0] == answers[1]
    assert answers[0][0]["at_quantity"]["unit_price"] != answers[0][1]["at_quantity"]["unit_price"]
    assert abs(costs[0] - 2 * costs[1]) < Decimal("0.001")
