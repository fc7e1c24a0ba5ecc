"""How the client is used, as type checkers see it: nothing here runs, everything is checked.

A mistake that must be seen carries the comment that silences it; where it is not seen, the
comment itself is an error.
"""

from collections.abc import AsyncGenerator, AsyncIterator, Generator
from datetime import date, datetime
from decimal import Decimal
from typing import assert_type

import httpx
from msgspec import UnsetType

from gramhour import (
    Aim,
    Applied,
    AsyncClient,
    BatchAnswer,
    Client,
    Comparison,
    Fault,
    Feed,
    Health,
    Listing,
    ListingRow,
    NotFinished,
    OpenService,
    OpenServices,
    Piece,
    PriceBatchAnswer,
    PriceHistory,
    PriceItem,
    PriceQuote,
    Prices,
    Problem,
    Product,
    ProductEntry,
    Quote,
    QuoteItem,
    QuoteRequest,
    RateChange,
    RateSheet,
    Refusal,
    Repricing,
    RepricingLine,
    RepricingLines,
    Repricings,
    Resume,
    Retries,
    RevisionChanges,
    Revisions,
    RowOutcomes,
    SavedChanges,
    SavedRate,
    StillRunning,
    StoredKind,
    StoredListing,
    StoredListings,
    StoredProduct,
    StoredProducts,
    StoredRate,
    StoredRevision,
    StoredSheet,
    Timeouts,
    UnexpectedAnswer,
    beside,
)
from gramhour.contract.listed import ListedPrice

FEED = Feed(material="asa-green", mass_g=Decimal("142.8"))
PRODUCT = Product(pieces=[Piece(machine="m1", feed=[FEED], print_min=Decimal(380))])
REQUEST = QuoteRequest(
    product=PRODUCT, quantity=25, channel="own-shop", aim=Aim(margin_pct=Decimal(40))
)
ITEM = QuoteItem(product=PRODUCT, quantity=25, channel="own-shop", reference="row 1")
ENTRY = ProductEntry(product=PRODUCT)
LISTING = Listing(product="stake", channel="own-shop", breaks=[1, 10])
ROW = ListingRow(sku="S-1", product="stake", channel="own-shop")
CHANGE = RateChange(kind="shop", code="labour_rate_per_hour", value=Decimal("33.50"))


def each_call_has_its_type(client: Client) -> None:
    assert_type(client.quote(REQUEST), Quote)
    assert_type(client.quote({"product": {}}, explain=True), Quote)
    assert_type(client.quote_price(REQUEST), PriceQuote)
    assert_type(client.compare({"product": {}}), Comparison)
    assert_type(client.quote_many([REQUEST, ITEM, {}]), Generator[BatchAnswer, None, None])
    assert_type(client.quote_price_many(iter([ITEM])), Generator[PriceBatchAnswer, None, None])
    assert_type(client.unit_price(quantity=1, sku="A1"), Decimal)
    assert_type(client.rates(rates_on=date(2026, 12, 1)), StoredSheet)
    assert_type(client.rates_kind("materials", rates_revision=1), StoredKind)
    assert_type(client.rate("materials", "asa-green"), StoredRate)
    assert_type(client.health(), Health)
    a_rate = client.rate("materials", "asa-green")
    assert_type(a_rate.tag, str)
    assert_type(
        client.change_rates([CHANGE, {"kind": "shop"}], based_on_revision=1, trial=True),
        SavedChanges,
    )
    assert_type(client.put_rate("nozzles", "n04", {}, if_match=a_rate.tag), SavedRate)
    client.delete_rate("nozzles", "n04", if_match=a_rate.tag, effective_from=date(2026, 12, 7))
    assert_type(client.revisions(limit=10), Revisions)
    assert_type(client.all_revisions(), Generator[StoredRevision, None, None])
    assert_type(client.revision(1), StoredRevision)
    assert_type(client.revision_changes(2, since=1), RevisionChanges)


def each_call_about_the_offer_has_its_type(client: Client) -> None:
    assert_type(client.products(limit=10), StoredProducts)
    assert_type(client.all_products(), Generator[StoredProduct, None, None])
    stored = client.product("stake")
    assert_type(client.put_product("stake", ENTRY, if_match=stored.tag), StoredProduct)
    client.delete_product("stake", if_match=stored.tag)
    assert_type(client.put_products([{}], all_or_none=False), RowOutcomes)
    assert_type(client.listings(channel="own-shop", below_floor=True), StoredListings)
    assert_type(client.all_listings(uses="materials/pla"), Generator[StoredListing, None, None])
    assert_type(client.listings_csv(), bytes)
    assert_type(client.put_listing("S-1", LISTING, new=True), StoredListing)
    client.delete_listing("S-1", if_match=client.listing("S-1").tag)
    assert_type(client.put_listings([ROW, {}]), RowOutcomes)
    assert_type(client.put_listings(b"sku,product,channel"), RowOutcomes)
    assert_type(client.listing_prices("S-1"), PriceHistory)
    assert_type(client.all_listing_prices("S-1"), Generator[ListedPrice, None, None])
    assert_type(client.prices("own-shop", changed_since=3), Prices)
    assert_type(client.all_prices(), Generator[PriceItem, None, None])
    assert_type(client.services(), OpenServices)
    assert_type(client.all_services(), Generator[OpenService, None, None])


def each_call_about_repricing_has_its_type(client: Client) -> None:
    started = client.reprice(proposed=[CHANGE, {}], rates_on=date(2026, 12, 7), over="all")
    assert_type(started, Repricing)
    assert_type(client.repricing(started.id), Repricing)
    assert_type(client.repricings(), Repricings)
    try:
        assert_type(client.wait_for(started.id, told=print, within=5), Repricing)
    except StillRunning as still:
        assert_type(still.repricing, Repricing)
    except NotFinished as error:
        assert_type(error.repricing, Repricing)
    assert_type(client.repricing_lines(started.id, outcome="up"), RepricingLines)
    assert_type(
        client.all_repricing_lines(started.id, under_floor=True),
        Generator[RepricingLine, None, None],
    )
    assert_type(client.apply(started.id, except_=["S-1"], max_change_pct=Decimal(50)), Applied)


async def each_awaited_call_about_the_offer_has_its_type(client: AsyncClient) -> None:
    assert_type(await client.put_product("stake", ENTRY, new=True), StoredProduct)
    assert_type(client.all_listings(), AsyncGenerator[StoredListing, None])
    assert_type(await client.put_listings([ROW]), RowOutcomes)
    assert_type(await client.prices("own-shop"), Prices)
    started = await client.reprice(skus=["S-1"], discount_pct="10")
    assert_type(await client.wait_for(started.id), Repricing)
    assert_type(client.all_repricing_lines(started.id), AsyncGenerator[RepricingLine, None])
    assert_type(await client.apply(started.id, confirm=["S-1"]), Applied)


async def each_awaited_call_has_its_type(client: AsyncClient) -> None:
    assert_type(await client.quote(REQUEST), Quote)
    assert_type(await client.quote_price(REQUEST), PriceQuote)
    assert_type(await client.compare({"product": {}}), Comparison)
    assert_type(client.quote_many([REQUEST, ITEM, {}]), AsyncGenerator[BatchAnswer, None])
    assert_type(client.quote_price_many(_streamed()), AsyncGenerator[PriceBatchAnswer, None])
    assert_type(await client.unit_price(quantity=1, sku="A1"), Decimal)
    assert_type(await client.rates(), StoredSheet)
    assert_type(await client.rates_kind("materials"), StoredKind)
    assert_type(await client.rate("materials", "asa-green"), StoredRate)
    assert_type(await client.health(), Health)
    assert_type(await client.change_rates([CHANGE], based_on_revision=1), SavedChanges)
    assert_type(await client.put_rate("nozzles", "n10", {}, new=True), SavedRate)
    await client.delete_rate("nozzles", "n10", if_match='"r1@2026-12-01"')
    assert_type(await client.revisions(), Revisions)
    assert_type(client.all_revisions(), AsyncGenerator[StoredRevision, None])
    assert_type(await client.revision(1), StoredRevision)
    assert_type(await client.revision_changes(1), RevisionChanges)


async def _streamed() -> AsyncIterator[QuoteItem]:
    yield ITEM


def what_is_answered_has_its_types(client: Client, quote: Quote) -> None:
    assert_type(quote.at_quantity.unit_price, Decimal)
    assert_type(quote.at_quantity.cost.total, Decimal)
    assert_type(quote.at_quantity.margin_pct, Decimal | None)
    assert_type(quote.valid_until, datetime | UnsetType)
    assert_type(client.rates().rates, RateSheet)
    for answer in client.quote_many([REQUEST]):
        if answer.quote:
            assert_type(answer.quote, Quote)
        elif answer.problem:
            assert_type(answer.problem, Problem)
            assert_type(beside(answer.problem, REQUEST), str)


def clients_are_made_by_keywords_and_closed_by_with() -> None:
    with Client(
        url="http://shop.test",
        key="k",
        timeouts=Timeouts(answer=60),
        retries=Retries(attempts=2, chance=lambda: 0.5),
        http=httpx.Client(),
        sleep=lambda seconds: None,
    ) as client:
        assert_type(client, Client)
    with Client.local(rates={"currency": "EUR"}) as local:
        assert_type(local, Client)


async def asynchronous_ones_too() -> None:
    async with AsyncClient.local(store="gramhour.sqlite") as client:
        assert_type(client, AsyncClient)


def errors_say_what_is_wrong(client: Client) -> None:
    try:
        client.quote(REQUEST)
    except Refusal as refusal:
        assert_type(refusal.type, str)
        assert_type(refusal.problem, Problem)
        assert_type(refusal.faults, list[Fault])
        assert_type(refusal.beside_request(), str)
        assert_type(refusal.retry_after, float | None)
        assert_type(refusal.resume, Resume | None)
    except UnexpectedAnswer as unexpected:
        assert_type(unexpected.body, str)


def mistakes_are_seen(client: Client) -> None:
    Client("http://shop.test")  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
    client.quote(REQUEST, True)  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
    client.quote(25)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    client.unit_price(sku="A1")  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
    client.unit_price(quantity=1, no_such=1)  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
    client.unit_price(quantity=1, mass_g=4.5)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    client.rates_kind("material")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    client.delete_rate("nozzles", "n04")  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
    client.change_rates([CHANGE])  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
    client.put_listing("S-1")  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
    client.listings(use="materials/pla")  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
    client.reprice(over="some")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    client.apply("a", max_change_pct=0.5)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    Feed(material="pla", mass_g=4.5)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    FEED.mass_g = Decimal(1)  # type: ignore[misc]  # pyright: ignore[reportAttributeAccessIssue]
