"""Repricings by both clients: asked for, waited for, read and applied; and when they fail."""

import asyncio
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from gramhour import (
    AsyncClient,
    Client,
    RateChange,
    Refusal,
    Repricing,
)
from tests import demo
from tests.client.demand import now
from tests.client.listed import LISTING, PRODUCT, listed
from tests.client.test_changing import losing

MONDAY = date(2026, 12, 7)
WORK = RateChange(kind="shop", code="labour_rate_per_hour", value=Decimal("35.50"))
POWER: dict[str, Any] = {"kind": "shop", "code": "price_per_kwh", "value": "0.35"}


@pytest.fixture
def own() -> Iterator[Client]:
    """A shop of the test's own, with four listed skus that have prices."""
    with Client.local(rates=demo.SHEET, now=now) as client:
        listed(client, "HP-1", "HP-2", "HP-3", "HP-4")
        yield client


def repriced(client: Client, **asked: Any) -> Repricing:
    return client.wait_for(client.reprice(**asked).id)


def price(client: Client, sku: str) -> Decimal:
    stored = client.listing(sku)
    assert stored.price
    return stored.price.breaks[0].unit_price


def test_a_what_if_says_which_rate_moves_what_and_changes_nothing(own: Client) -> None:
    what_if = repriced(own, proposed=[WORK, POWER], skus=(s for s in ["HP-1"]), note="what if")
    assert (what_if.state, what_if.is_proposed, what_if.note) == ("finished", True, "what if")
    assert (what_if.done, what_if.of, what_if.counts.up) == (1, 1, 1)
    (line,) = own.repricing_lines(what_if.id).items
    first = line.breaks[0]
    assert (first.old_unit_price, first.unit_price) == (Decimal("46.90"), Decimal("48.90"))
    assert {each.code: each.unit_cost for each in first.moved_by} == {
        "labour_rate_per_hour": Decimal("1.0753"),
        "price_per_kwh": Decimal("0.0495"),
    }
    together = first.together.unit_cost if first.together else Decimal(0)
    assert first.unit_cost_before
    assert first.unit_cost - first.unit_cost_before == together + sum(
        each.unit_cost for each in first.moved_by
    )
    assert price(own, "HP-1") == Decimal("46.90")
    with pytest.raises(Refusal) as refused:
        own.apply(what_if.id)
    assert (refused.value.type, refused.value.status) == ("not-applicable", 409)


def test_what_is_saved_is_repriced_and_applied_from_a_day_on_but_for_those_left_out(
    own: Client,
) -> None:
    own.change_rates([WORK], based_on_revision=1, effective_from=MONDAY)
    assert repriced(own).of == 0, "today's rates are the same"
    monday = repriced(own, rates_on=MONDAY)
    assert (monday.rates_revision, monday.rates_on, monday.of) == (2, MONDAY, 4)
    applied = own.apply(monday.id, except_=["HP-2", "HP-3"], note="wage agreement")
    assert (applied.applied, applied.left_out, applied.valid_from) == (2, 2, MONDAY)
    stored = own.listing("HP-1")
    assert price(own, "HP-1") == Decimal("46.90")
    assert [(each.valid_from, each.note, each.breaks[0].unit_price) for each in stored.planned] == [
        (MONDAY, "wage agreement", Decimal("48.90"))
    ]
    assert own.listing("HP-2").planned == []
    after = own.repricing(monday.id)
    assert (after.state, after.applied_by) == ("applied", "this process")
    assert monday.id in [each.id for each in own.repricings().items]


def test_a_price_that_moves_by_much_must_be_confirmed(own: Client) -> None:
    half = repriced(own, skus=["HP-1", "HP-2"], discount_pct=Decimal("49.5"))
    assert half.discount_pct == Decimal("49.5")
    with pytest.raises(Refusal) as refused:
        own.apply(half.id, confirm=["HP-1"])
    assert (refused.value.type, refused.value.status) == ("needs-confirming", 422)
    (fault,) = refused.value.faults
    assert "HP-2" in fault.detail
    assert own.apply(half.id, confirm={"HP-1", "HP-2"}).applied == 2
    assert price(own, "HP-1") < Decimal(25)
    back = repriced(own, over="all")
    assert (back.counts.up, back.counts.unchanged) == (2, 2)
    assert own.apply(back.id, max_change_pct="150").applied == 2


def test_lines_come_the_worst_first_and_are_chosen(own: Client) -> None:
    low = {**LISTING, "aim": {"unit_price": "15"}, "margin_floor_pct": 30}
    own.put_listings([{"sku": "LOW", **low}, {"sku": "HP-2", **LISTING, "hold": True}])
    found = repriced(own, over="all")
    lines = list(own.all_repricing_lines(found.id))
    assert [(each.sku, each.outcome) for each in lines[:1]] == [("LOW", "new")]
    assert own.repricing_lines(found.id, under_floor=True).items == lines[:1]
    assert [each.sku for each in own.all_repricing_lines(found.id, outcome="held")] == ["HP-2"]
    assert own.repricing_lines(found.id, channel="market", under_floor=False).items == []
    page = own.repricing_lines(found.id, limit=2)
    assert isinstance(page.next_cursor, str)
    rest = own.repricing_lines(found.id, cursor=page.next_cursor)
    assert [*page.items, *rest.items] == lines


def test_a_repricing_whose_answer_was_lost_is_made_once(own: Client) -> None:
    before = len(own.repricings().items)
    client, line = losing(own, "POST")
    first = client.wait_for(client.reprice(discount_pct=5, over="all").id)
    assert len(line.asked) == 2
    assert len(own.repricings().items) == before + 1
    client, line = losing(own, "POST")
    assert (client.apply(first.id).applied, len(line.asked)) == (4, 2)


def test_a_run_in_process_tells_its_progress_to_whoever_waits(own: Client) -> None:
    own.put_listings([{"sku": f"R{n}", **LISTING} for n in range(700)])
    told = list[tuple[int, int]]()
    found = own.wait_for(own.reprice().id, told=lambda now: told.append((now.done, now.of)))
    assert (found.of, told[-1]) == (700, (700, 700))
    assert told == sorted(told)


def test_the_asynchronous_client_reprices_the_same(own: Client) -> None:
    async def ask() -> list[Any]:
        async with AsyncClient.local(rates=demo.SHEET, now=now) as client:
            await client.put_product("herb-planter", PRODUCT, new=True)
            await client.put_listings(
                [{"sku": sku, **LISTING} for sku in ("HP-1", "HP-2", "HP-3", "HP-4")]
            )
            first = await client.wait_for((await client.reprice()).id, told=lambda _: None)
            await client.apply(first.id, note="first prices")
            found = await client.wait_for((await client.reprice(proposed=[WORK])).id)
            page = await client.repricing_lines(found.id, limit=1)
            with pytest.raises(Refusal, match="not-applicable"):
                await client.apply(found.id)
            return [
                (await client.repricing(found.id)).counts,
                sorted(each.note for each in (await client.repricings()).items),
                page.items,
                [each async for each in client.all_repricing_lines(found.id, outcome="up")],
            ]

    found = repriced(own, proposed=[WORK])
    assert asyncio.run(ask()) == [
        found.counts,
        sorted(each.note for each in own.repricings().items),
        own.repricing_lines(found.id, limit=1).items,
        list(own.all_repricing_lines(found.id, outcome="up")),
    ]
