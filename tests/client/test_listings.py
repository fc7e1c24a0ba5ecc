"""Products, listings and what is for sale, by both clients: read, changed, many at once."""

import asyncio
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import msgspec
import pytest
from msgspec import UNSET

from gramhour import AsyncClient, Client, Listing, ProductEntry, Refusal
from tests import demo
from tests.client.demand import NOW, now
from tests.client.listed import LISTING, PRODUCT, listed


@pytest.fixture
def own() -> Iterator[Client]:
    """A shop of the test's own, with a product that is listed twice."""
    with Client.local(rates=demo.SHEET, now=now) as client:
        client.put_product("herb-planter", PRODUCT, new=True)
        client.put_listings([{"sku": sku, **LISTING} for sku in ("HP-1", "HP-2")])
        yield client


def row(number: int, **more: Any) -> dict[str, Any]:
    return {"sku": f"R{number:05}", **LISTING, **more}


def skus(client: Client, **only: Any) -> list[str]:
    return [each.sku for each in client.all_listings(**only)]


def test_a_product_is_put_by_whoever_has_seen_it_and_no_one_else(own: Client) -> None:
    seen = own.product("herb-planter")
    assert (seen.code, seen.version, seen.tag) == ("herb-planter", 1, '"v1"')
    assert (seen.changed_at, seen.changed_by) == (NOW, "this process")
    entry = ProductEntry(product=seen.entry.product, note="without variants")
    put = own.put_product("herb-planter", entry, if_match=seen.tag)
    assert (put.version, put.entry) == (2, entry)
    assert own.product("herb-planter") == put
    with pytest.raises(Refusal) as refused:
        own.put_product("herb-planter", PRODUCT, if_match=seen.tag)
    assert (refused.value.type, refused.value.status) == ("precondition-failed", 412)
    assert own.put_product("herb-planter", entry, if_match=seen.tag).tag == put.tag


def test_a_product_that_is_listed_stays_until_its_listings_are_gone(own: Client) -> None:
    with pytest.raises(Refusal) as refused:
        own.delete_product("herb-planter", if_match='"v1"')
    assert (refused.value.type, refused.value.status) == ("in-use", 409)
    assert "HP-1, HP-2" in refused.value.faults[0].detail
    for each in own.all_listings():
        own.delete_listing(each.sku, if_match=each.tag)
    own.delete_product("herb-planter", if_match='"v1"')
    assert list(own.all_products()) == []
    with pytest.raises(Refusal, match="unknown-entry"):
        own.product("herb-planter")


def test_a_listing_is_put_by_whoever_has_seen_it(own: Client) -> None:
    chalk = Listing(product="herb-planter", variant="chalk", channel="own-shop")
    new = own.put_listing("HP-C", chalk, new=True)
    assert (new.sku, new.tag, new.listing, new.price, new.planned) == (
        "HP-C",
        '"v1"',
        chalk,
        UNSET,
        [],
    )
    held = own.put_listing("HP-C", {**msgspec.to_builtins(chalk), "hold": True}, if_match=new.tag)
    assert (held.tag, held.listing.hold) == ('"v2"', True)
    with pytest.raises(Refusal, match="precondition-failed"):
        own.put_listing("HP-C", chalk, new=True)


@pytest.mark.parametrize("condition", [{}, {"if_match": '"v1"', "new": True}])
def test_it_must_be_said_whether_an_entry_is_changed_or_added(
    own: Client, condition: dict[str, Any]
) -> None:
    with pytest.raises(TypeError, match=r"if_match=product\.tag to change a product, or new=True"):
        own.put_product("x", PRODUCT, **condition)
    with pytest.raises(TypeError, match=r"if_match=listing\.tag to change a listing, or new=True"):
        own.put_listing("X", LISTING, **condition)


def test_listings_are_chosen_by_channel_product_rate_and_floor(own: Client) -> None:
    own.put_product("stake", {"product": demo.request("cable-reel")["product"]}, new=True)
    own.put_listing("ST", {"product": "stake", "channel": "market"}, new=True)
    low = {**LISTING, "aim": {"unit_price": "15"}, "margin_floor_pct": 30}
    own.put_listing("LOW", low, new=True)
    own.apply(own.wait_for(own.reprice().id).id)
    assert skus(own) == ["HP-1", "HP-2", "LOW", "ST"]
    assert skus(own, channel="market") == skus(own, product="stake") == ["ST"]
    assert skus(own, uses="materials/asa-green") == ["HP-1", "HP-2", "LOW"]
    assert skus(own, below_floor=True) == ["LOW"]
    assert skus(own, below_floor=False, channel="own-shop") == ["HP-1", "HP-2", "LOW"]
    assert own.listings_csv(channel="market").count(b"\r\n") == 2


def test_lists_are_read_whole_by_page(own: Client) -> None:
    own.put_listings(row(n) for n in range(2500))
    own.put_products({"code": f"p{n}", "product": PRODUCT["product"]} for n in range(3))
    page = own.listings(limit=2)
    assert [each.sku for each in page.items] == ["HP-1", "HP-2"]
    assert own.listings(limit=1, cursor=page.next_cursor or "").items[0].sku == "R00000"
    assert skus(own)[2:] == [f"R{n:05}" for n in range(2500)]
    assert [each.code for each in own.all_products()] == ["herb-planter", "p0", "p1", "p2"]
    assert own.products(limit=1).next_cursor == "herb-planter"


def test_what_is_for_sale_is_followed_by_its_changes(own: Client) -> None:
    own.apply(own.wait_for(own.reprice().id).id, note="first")
    prices = own.prices("own-shop")
    assert (prices.currency, prices.prices_include_tax, prices.change) == ("EUR", True, 2)
    (one, _) = prices.items
    assert [(each.from_quantity, each.unit_price) for each in one.breaks] == [
        (1, Decimal("46.90")),
        (10, Decimal("28.90")),
    ]
    assert list(own.all_prices("own-shop")) == prices.items
    assert own.prices("own-shop", limit=1).next_cursor == "2.HP-1"
    own.delete_listing("HP-1", if_match='"v1"')
    (gone,) = own.all_prices("own-shop", changed_since=prices.change)
    assert (gone.sku, gone.change, gone.breaks) == ("HP-1", 3, [])
    assert [each.sku for each in own.all_prices("own-shop")] == ["HP-2"]
    history = list(own.all_listing_prices("HP-1"))
    assert [(each.change, each.note) for each in history] == [
        (3, "no longer listed"),
        (1, "first"),
    ]
    assert own.listing_prices("HP-1", limit=1).items == history[:1]
    with pytest.raises(Refusal, match="unknown-entry"):
        own.prices("nowhere")


def test_the_asynchronous_client_reads_and_changes_the_same() -> None:
    async def ask() -> list[Any]:
        async with AsyncClient.local(rates=demo.SHEET, now=now) as client:
            put = await client.put_product("herb-planter", PRODUCT, new=True)
            rows = await client.put_listings([{"sku": s, **LISTING} for s in ("HP-1", "HP-2")])
            first = await client.wait_for((await client.reprice()).id)
            await client.apply(first.id, note="first prices")
            held = await client.put_listing("HP-2", {**LISTING, "hold": True}, if_match='"v1"')
            spare = await client.put_products([{"code": "spare", **PRODUCT}])
            told = [
                put,
                rows,
                held,
                spare,
                await client.products(),
                [each async for each in client.all_products()],
                await client.product("spare"),
                await client.listings(uses="materials/asa-green"),
                [each async for each in client.all_listings(channel="own-shop")],
                await client.listings_csv(),
                await client.listing("HP-1"),
                await client.listing_prices("HP-1"),
                [each async for each in client.all_listing_prices("HP-1")],
                await client.prices("own-shop"),
                [each async for each in client.all_prices("own-shop", changed_since=1)],
            ]
            await client.delete_listing("HP-2", if_match=held.tag)
            await client.delete_product("spare", if_match='"v1"')
            return [*told, await client.products(), await client.listings()]

    with Client.local(rates=demo.SHEET, now=now) as other:
        put = other.put_product("herb-planter", PRODUCT, new=True)
        rows = other.put_listings([{"sku": sku, **LISTING} for sku in ("HP-1", "HP-2")])
        other.apply(other.wait_for(other.reprice().id).id, note="first prices")
        held = other.put_listing("HP-2", {**LISTING, "hold": True}, if_match='"v1"')
        spare = other.put_products([{"code": "spare", **PRODUCT}])
        told: list[Any] = [
            put,
            rows,
            held,
            spare,
            other.products(),
            list(other.all_products()),
            other.product("spare"),
            other.listings(uses="materials/asa-green"),
            list(other.all_listings(channel="own-shop")),
            other.listings_csv(),
            other.listing("HP-1"),
            other.listing_prices("HP-1"),
            list(other.all_listing_prices("HP-1")),
            other.prices("own-shop"),
            list(other.all_prices("own-shop", changed_since=1)),
        ]
        other.delete_listing("HP-2", if_match=held.tag)
        other.delete_product("spare", if_match='"v1"')
        assert asyncio.run(ask()) == [*told, other.products(), other.listings()]


def test_a_listed_sku_is_quoted_with_its_listed_price_beside() -> None:
    with Client.local(rates=demo.SHEET, now=now) as client:
        listed(client)
        quote = client.quote({"sku": "HP-1", "quantity": 12})
        assert (quote.at_quantity.unit_price, quote.at_quantity.flags) == (Decimal("28.90"), [])
        assert quote.listed
        assert [each.unit_price for each in quote.listed.breaks] == [
            Decimal("46.90"),
            Decimal("28.90"),
        ]
        assert client.unit_price(quantity=3, sku="HP-1") == Decimal("46.90")
