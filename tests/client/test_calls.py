"""Each call against the real application, and that both clients have the same ones."""

import asyncio
import inspect
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, get_type_hints

import httpx
import msgspec
import pytest

from gramhour import (
    Aim,
    AsyncClient,
    Client,
    Feed,
    Piece,
    PriceQuote,
    Product,
    Quote,
    QuoteRequest,
    Refusal,
    StoredKind,
    StoredRate,
    StoredSheet,
    Unreachable,
)
from gramhour.building import new_idempotency_key
from gramhour.calls import Call, OnePiece
from gramhour.contract.machine import Machine
from gramhour.contract.material import Material
from gramhour.contract.one_piece import PLACES
from gramhour.sending import conversation, converse
from tests import demo
from tests.client.demand import NOZZLES, ONE_PIECE, PLANTER, now
from tests.client.every_call import every_call
from tests.client.misbehaving import hangs_up, is_busy, misbehaving, says
from tests.cube import CUBE
from tests.cube_toolpath import CUBE_GCODE

CALLS = [
    name
    for name, _ in inspect.getmembers(Client, inspect.isfunction)
    if not name.startswith("_") and name != "close"
]
SPREADSHEET: dict[str, Any] = {
    "material": "asa-green",
    "machine": "large",
    "mass_g": "42.5",
    "print_min": 95,
    "channel": "own-shop",
}
LARGE: dict[str, Any] = {"machine": "large", "material": {0: "asa-green"}}


def test_a_quote_has_exact_money_and_an_instant_with_its_zone(shop: Client) -> None:
    quote = shop.quote(PLANTER)
    assert isinstance(quote, Quote)
    assert quote.at_quantity.unit_price == Decimal("26.90")
    assert isinstance(quote.at_quantity.cost.machine, Decimal)
    assert isinstance(quote.valid_until, datetime)
    assert quote.valid_until.utcoffset() is not None
    assert quote.rates_on == now().date()


def test_a_request_of_the_contracts_types_is_the_same_as_a_dict(shop: Client) -> None:
    feed = Feed(material="asa-green", mass_g=Decimal("42.5"))
    request = QuoteRequest(
        product=Product(pieces=[Piece(machine="large", feed=[feed], print_min=Decimal(95))]),
        quantity=10,
        breaks=[],
        channel="own-shop",
        aim=Aim(margin_pct=Decimal(40)),
        rates_on=date(2026, 12, 1),
    )
    as_dict = {**ONE_PIECE, "aim": {"margin_pct": 40}, "rates_on": "2026-12-01"}
    assert shop.quote(request) == shop.quote(as_dict)


def test_an_explained_quote_carries_its_working(shop: Client) -> None:
    explained = shop.quote(ONE_PIECE, explain=True).at_quantity.explain
    assert explained
    assert {each.figure for each in explained} >= {"cost.machine", "unit_price"}


def test_a_price_has_nothing_that_a_customer_may_not_see(shop: Client) -> None:
    price, quote = shop.quote_price(PLANTER), shop.quote(PLANTER)
    assert isinstance(price, PriceQuote)
    assert price.at_quantity.unit_price == quote.at_quantity.unit_price
    assert not hasattr(price.at_quantity, "cost")


def test_a_units_price_is_the_quotes(shop: Client) -> None:
    price = shop.unit_price(quantity=10, **SPREADSHEET)
    assert price == shop.quote(ONE_PIECE).at_quantity.unit_price
    assert shop.unit_price(quantity=10, margin_pct=Decimal("1E+1"), **SPREADSHEET) < price


def test_the_parameters_of_a_units_price_are_the_services() -> None:
    # A number says nothing of other quantities, nor until when it holds.
    assert {*OnePiece.__annotations__, "quantity", "breaks", "valid_days", "from"} == set(PLACES)


def test_rates_are_read_whole_by_kind_and_one_by_one(shop: Client) -> None:
    sheet, kind = shop.rates(), shop.rates_kind("materials")
    rate = shop.rate("materials", "asa-green")
    assert (type(sheet), type(kind), type(rate)) == (StoredSheet, StoredKind, StoredRate)
    assert sheet.rates == demo.sheet()
    assert kind.rates == sheet.rates.materials
    assert isinstance(rate.value, Material)
    assert rate.value == kind.rates["asa-green"]
    assert isinstance(shop.rate("machines", "large").value, Machine)


def test_what_is_sheet_wide_has_its_types_too(shop: Client) -> None:
    sheet = shop.rates().rates
    shop_wide = shop.rates_kind("shop").rates
    assert shop_wide == {name: getattr(sheet, name) for name in shop_wide}
    assert shop.rate("shop", "price_per_kwh").value == sheet.price_per_kwh
    assert isinstance(shop.rate("shop", "price_per_kwh").value, Decimal)


def test_rates_of_another_day_and_revision_are_asked_for(shop: Client) -> None:
    day = now().date() - timedelta(days=400)
    assert shop.rates(rates_on=day, rates_revision=1).rates_on == day
    with pytest.raises(Refusal) as refused:
        shop.rate("materials", "asa-green", rates_revision=2)
    assert refused.value.type == "unknown-rate"


@pytest.mark.parametrize("code", ["no-such", "a/b", "../shop", "%2e%2e", "ü?#"])
def test_a_code_is_sent_as_it_is_and_never_another_path(shop: Client, code: str) -> None:
    with pytest.raises(Refusal) as refused:
        shop.rate("materials", code)
    assert refused.value.status == 404


@pytest.mark.parametrize("code", ["", ".", ".."])
def test_a_code_that_would_name_another_path_is_never_sent(shop: Client, code: str) -> None:
    with pytest.raises(ValueError, match="nothing has such a name"):
        shop.rate("materials", code)


def test_a_service_says_that_it_is_ready(shop: Client) -> None:
    assert msgspec.to_builtins(shop.health()) == {
        "status": "ready",
        "rules": "1",
        "rates": "stored",
    }


@pytest.mark.parametrize("name", CALLS)
def test_both_clients_have_the_same_calls(name: str) -> None:
    one, other = getattr(Client, name), getattr(AsyncClient, name)
    kept = [inspect.signature(each).parameters.values() for each in (one, other)]
    names = [[(each.name, each.kind, each.default) for each in parameters] for parameters in kept]
    assert names[0] == names[1]
    gives, gives_other = (get_type_hints(each)["return"] for each in (one, other))
    if inspect.iscoroutinefunction(other):
        assert gives == gives_other
    elif name != "local":
        assert gives.__args__[:1] == gives_other.__args__[:1]


def test_both_clients_are_made_alike_by_keywords_only() -> None:
    one, other = (inspect.signature(each.__init__).parameters for each in (Client, AsyncClient))
    assert list(one) == list(other)
    kinds = {each.kind for name, each in one.items() if name != "self"}
    assert kinds == {inspect.Parameter.KEYWORD_ONLY}


def test_the_asynchronous_client_gets_the_same_answers(shop: Client) -> None:
    async def ask() -> list[Any]:
        async with AsyncClient.local(rates=demo.SHEET, now=now) as client:
            return [
                await client.quote(PLANTER, explain=True),
                await client.quote_price(PLANTER),
                await client.compare(NOZZLES),
                await client.unit_price(quantity=10, **SPREADSHEET),
                await client.rates(),
                await client.rates_kind("nozzles"),
                await client.rate("shop", "price_per_kwh"),
                await client.measure(CUBE, media_type="model/stl"),
                await client.measure_toolpath(CUBE_GCODE, **LARGE),
                await client.health(),
            ]

    assert asyncio.run(ask()) == [
        shop.quote(PLANTER, explain=True),
        shop.quote_price(PLANTER),
        shop.compare(NOZZLES),
        shop.unit_price(quantity=10, **SPREADSHEET),
        shop.rates(),
        shop.rates_kind("nozzles"),
        shop.rate("shop", "price_per_kwh"),
        shop.measure(CUBE, media_type="model/stl"),
        shop.measure_toolpath(CUBE_GCODE, **LARGE),
        shop.health(),
    ]


def test_every_call_is_repeated_and_those_not_safe_carry_an_idempotency_key() -> None:
    with misbehaving(hangs_up) as server, Client(url=server.url, sleep=lambda _: None) as client:
        asking = every_call(client)
        once = {"change_rates", "put_products", "put_listings", "reprice", "apply"}
        assert set(asking) == set(CALLS)
        for name, ask in asking.items():
            server.asked.clear()
            with pytest.raises(Unreachable):
                ask()
            assert len(server.asked) == 4
            keys = {asked.headers.get("idempotency-key") for asked in server.asked}
            assert len(keys) == 1
            assert (None in keys) is not (name in once)


def test_a_call_that_is_not_safe_carries_one_key_through_all_its_tries() -> None:
    made = iter(["first-key", "second-key"])
    call = Call(method="POST", path="/v1/x", decode=msgspec.json.decode, body=b"{}", is_safe=False)
    turns = (hangs_up, is_busy(), says(b"1"), says(b"2"))
    with misbehaving(*turns) as server:
        client = Client(url=server.url, sleep=lambda _: None, new_key=lambda: next(made))
        for _ in range(2):
            converse(client._http, conversation(client._http, client._caller, call), lambda _: None)
        client.close()
        keys = [asked.headers["idempotency-key"] for asked in server.asked]
    assert keys == ["first-key", "first-key", "first-key", "second-key"]


def test_the_key_and_what_is_accepted_are_said_in_headers() -> None:
    with misbehaving(says(b"1.50", media_type="text/plain")) as server:
        with Client(url=server.url + "/behind/a/proxy/", key="the-key") as client:
            assert client.unit_price(quantity=1, sku="A~1") == Decimal("1.50")
        (asked,) = server.asked
    assert asked.path == "/behind/a/proxy/v1/unit-price?quantity=1&sku=A~1"
    assert asked.headers["authorization"] == "Bearer the-key"
    assert asked.headers["accept"] == "text/plain"
    assert asked.headers["user-agent"].startswith("gramhour/")


def test_an_asynchronous_httpx_client_of_ones_own_is_left_open_too() -> None:
    async def ask(url: str) -> bool:
        async with httpx.AsyncClient() as http:
            async with AsyncClient(url=url, http=http) as client:
                await client.unit_price(quantity=1)
            return http.is_closed

    with misbehaving(is_busy(), says(b"1.50", media_type="text/plain")) as server:
        assert asyncio.run(ask(server.url)) is False


def test_keys_that_are_made_are_never_the_same() -> None:
    made = {new_idempotency_key() for _ in range(100)}
    assert len(made) == 100
    assert min(map(len, made)) >= 22  # 128 bits in base 64


def test_an_httpx_client_of_ones_own_is_used_and_left_open() -> None:
    with (
        misbehaving(says(b"1.50", media_type="text/plain")) as server,
        httpx.Client(headers={"X-Own": "yes"}, timeout=3) as http,
    ):
        with Client(url=server.url, http=http) as client:
            client.unit_price(quantity=1)
        assert not http.is_closed
        assert server.asked[0].headers["x-own"] == "yes"
