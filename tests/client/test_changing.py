"""Rates changed and their history read by both clients, and what repeating a change does."""

import asyncio
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

import httpx
import pytest

from gramhour import AsyncClient, Client, RateChange, Refusal, SavedRate, StoredRate
from gramhour.contract.machine import Nozzle
from tests import demo
from tests.client.demand import PLANTER, now

MONDAY = date(2026, 12, 7)
TODAY = now().date()
WORK: Any = {"kind": "shop", "code": "labour_rate_per_hour", "value": "33.50"}
POWER = RateChange(kind="shop", code="price_per_kwh", value=Decimal("0.35"))


@pytest.fixture
def own() -> Iterator[Client]:
    """A shop of the test's own, to be changed."""
    with Client.local(rates=demo.SHEET, now=now) as client:
        yield client


def newest(client: Client) -> int:
    return client.revisions(limit=1).items[0].rates_revision


def labour(client: Client, **pins: Any) -> Decimal:
    value = client.rate("shop", "labour_rate_per_hour", **pins).value
    assert isinstance(value, Decimal)
    return value


class LosesAnswers(httpx.BaseTransport):
    """Carries requests to a shop, and loses the answers to those of a method that come first."""

    def __init__(self, within: httpx.BaseTransport, method: str) -> None:
        self.within, self.method, self.asked = within, method, list[httpx.Request]()

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        response = self.within.handle_request(request)
        if request.method == self.method:
            self.asked.append(request)
            if len(self.asked) == 1:
                raise httpx.ReadError("the answer is lost", request=request)
        return response


def losing(client: Client, method: str) -> tuple[Client, LosesAnswers]:
    """The same shop, asked over a line that loses the first answer to a method."""
    transport = LosesAnswers(client._http._transport, method)
    http = httpx.Client(transport=transport, trust_env=False)
    caller = client._caller
    return Client(url=caller.url, key=caller.key, http=http, sleep=lambda _: None), transport


def test_a_change_is_tried_then_saved_from_a_day_on_and_quoted_by(own: Client) -> None:
    asked: dict[str, Any] = {"based_on_revision": 1, "effective_from": MONDAY}
    trial = own.change_rates([WORK, POWER], trial=True, note="only tried", **asked)
    assert (trial.trial, trial.effective_from, newest(own)) == (True, MONDAY, 1)
    assert [(each.code, each.done, each.before, each.after) for each in trial.changes] == [
        ("labour_rate_per_hour", "changed", "32.00", "33.50"),
        ("price_per_kwh", "changed", "0.31", "0.35"),
    ]
    saved = own.change_rates([WORK, POWER], note="wage agreement", **asked)
    assert (saved.rates_revision, saved.trial, saved.changes) == (2, False, trial.changes)
    assert labour(own) == labour(own, rates_on=MONDAY, rates_revision=1) == Decimal("32.00")
    assert labour(own, rates_on=MONDAY) == Decimal("33.50")
    before, after = (own.quote(PLANTER | {"rates_on": day}) for day in (TODAY, MONDAY))
    assert before.at_quantity.cost.labour < after.at_quantity.cost.labour


def test_whoever_did_not_know_the_newest_revision_is_told_what_it_changed(own: Client) -> None:
    own.change_rates([WORK], based_on_revision=1, note="wage agreement")
    with pytest.raises(Refusal) as refused:
        own.change_rates([POWER], based_on_revision=1)
    assert (refused.value.type, refused.value.status) == ("moved-on", 409)
    (fault,) = refused.value.faults
    assert "shop/labour_rate_per_hour" in fault.detail
    assert "wage agreement" in fault.detail
    assert newest(own) == 2


def test_faults_of_changes_stand_beside_what_was_sent(own: Client) -> None:
    with pytest.raises(Refusal) as refused:
        own.change_rates([WORK | {"value": "-1"}], based_on_revision=1)
    assert '/changes/0/value: "-1"\n    must be 0 or more' in refused.value.beside_request()


def test_a_rate_is_put_by_whoever_has_seen_it_and_no_one_else(own: Client) -> None:
    seen = own.rate("nozzles", "n04")
    dearer = Nozzle(price=Decimal("24.50"))
    saved = own.put_rate("nozzles", "n04", dearer, if_match=seen.tag, note="list of December")
    assert isinstance(saved, SavedRate)
    assert (saved.value, saved.changed_in, saved.rates_on) == (dearer, 2, TODAY)
    assert own.rate("nozzles", "n04").tag == saved.tag != seen.tag
    assert own.revision(2).note == "list of December"
    with pytest.raises(Refusal) as refused:
        own.put_rate("nozzles", "n04", {"price": "1"}, if_match=seen.tag)
    assert (refused.value.type, refused.value.status) == ("precondition-failed", 412)
    again = own.put_rate("nozzles", "n04", dearer, if_match=seen.tag)
    assert (again.tag, newest(own)) == (saved.tag, 2)


def test_a_rates_tag_is_the_services(own: Client) -> None:
    own.change_rates([WORK], based_on_revision=1, effective_from=MONDAY)
    for day, tag in ((TODAY, '"r1@1970-01-01"'), (MONDAY, '"r2@2026-12-07"')):
        stored = own.rate("shop", "labour_rate_per_hour", rates_on=day)
        assert isinstance(stored, StoredRate)
        caller = own._caller
        told = own._http.get(
            f"{caller.url}/v1/rates/shop/labour_rate_per_hour",
            params={"rates_on": str(day)},
            headers={"Authorization": f"Bearer {caller.key}"},
        )
        assert told.headers["etag"] == stored.tag == tag


def test_a_new_rate_is_added_once_and_taken_away_once(own: Client) -> None:
    spare = own.put_rate("nozzles", "n10", {"price": "9.50"}, new=True, effective_from=MONDAY)
    assert (spare.value, spare.in_force_from) == (Nozzle(price=Decimal("9.50")), MONDAY)
    with pytest.raises(Refusal, match="precondition-failed"):
        own.put_rate("nozzles", "n10", {"price": "8"}, new=True, effective_from=MONDAY)
    gone: dict[str, Any] = {"if_match": spare.tag, "effective_from": MONDAY}
    own.delete_rate("nozzles", "n10", note="never came", **gone)
    assert own.revision(3).note == "never came"
    with pytest.raises(Refusal, match="unknown-rate"):
        own.delete_rate("nozzles", "n10", **gone)
    assert newest(own) == 3


def test_what_others_need_is_not_taken_away(own: Client) -> None:
    asa = own.rate("nozzles", "n08")
    with pytest.raises(Refusal) as refused:
        own.delete_rate("nozzles", "n08", if_match=asa.tag)
    assert refused.value.status == 422
    assert "machines/large/usual_nozzle" in str(refused.value)


@pytest.mark.parametrize("condition", [{}, {"if_match": '"r1@2026-12-01"', "new": True}])
def test_it_must_be_said_whether_a_rate_is_changed_or_added(
    own: Client, condition: dict[str, Any]
) -> None:
    with pytest.raises(TypeError, match=r"if_match=rate\.tag to change a rate, or new=True"):
        own.put_rate("nozzles", "n04", {}, **condition)


def test_the_history_is_read_whole_by_page_and_by_member(own: Client) -> None:
    for n in range(1, 56):
        own.change_rates([WORK | {"value": str(30 + n)}], based_on_revision=n, note=f"step {n}")
    page = own.revisions(limit=10)
    assert [each.rates_revision for each in page.items] == [*range(56, 46, -1)]
    assert isinstance(page.next_cursor, str)
    after = own.revisions(limit=10, cursor=page.next_cursor)
    assert after.items[0].rates_revision == 46
    every = list(own.all_revisions())
    assert [each.rates_revision for each in every] == [*range(56, 0, -1)]
    assert every[0] == own.revision(56)
    (change,) = own.revision_changes(56).changes
    assert [(each.before, each.after) for each in change.members] == [("84", "85")]
    (change,) = own.revision_changes(56, since=1).changes
    assert [(each.before, each.after) for each in change.members] == [("32.00", "85")]
    with pytest.raises(Refusal, match="unknown-revision"):
        own.revision(57)


def test_a_change_whose_answer_was_lost_is_made_once(own: Client) -> None:
    client, line = losing(own, "POST")
    saved = client.change_rates([WORK], based_on_revision=1)
    assert (len(line.asked), saved.rates_revision, newest(own)) == (2, 2, 2)
    (key,) = {each.headers["idempotency-key"] for each in line.asked}
    assert len(key) >= 22


def test_a_put_whose_answer_was_lost_is_answered_as_done(own: Client) -> None:
    client, line = losing(own, "PUT")
    seen = own.rate("nozzles", "n04")
    saved = client.put_rate("nozzles", "n04", {"price": "24.50"}, if_match=seen.tag)
    assert (len(line.asked), saved.changed_in, newest(own)) == (2, 2, 2)


def test_a_deletion_whose_answer_was_lost_is_told_to_be_gone(own: Client) -> None:
    spare = own.put_rate("nozzles", "n10", {"price": "9.50"}, new=True)
    client, line = losing(own, "DELETE")
    with pytest.raises(Refusal, match="unknown-rate"):
        client.delete_rate("nozzles", "n10", if_match=spare.tag)
    assert (len(line.asked), newest(own)) == (2, 3)


def test_without_a_store_there_is_nothing_to_change() -> None:
    with Client.local(now=now) as client, pytest.raises(Refusal) as refused:
        client.change_rates([WORK], based_on_revision=1)
    assert (refused.value.type, refused.value.status) == ("store-unavailable", 503)


def test_the_asynchronous_client_changes_and_reads_the_same(own: Client) -> None:
    async def ask() -> list[Any]:
        async with AsyncClient.local(rates=demo.SHEET, now=now) as client:
            seen = await client.rate("nozzles", "n04")
            put = await client.put_rate("nozzles", "n04", {"price": "24.5"}, if_match=seen.tag)
            changed = await client.change_rates([WORK], based_on_revision=2)
            spare = await client.put_rate("nozzles", "n10", {"price": "9.5"}, new=True)
            await client.delete_rate("nozzles", "n10", if_match=spare.tag)
            return [
                seen,
                put,
                changed,
                await client.revisions(limit=2),
                [each async for each in client.all_revisions()],
                await client.revision(2),
                await client.revision_changes(3, since=1),
            ]

    seen = own.rate("nozzles", "n04")
    put = own.put_rate("nozzles", "n04", {"price": "24.5"}, if_match=seen.tag)
    changed = own.change_rates([WORK], based_on_revision=2)
    spare = own.put_rate("nozzles", "n10", {"price": "9.5"}, new=True)
    own.delete_rate("nozzles", "n10", if_match=spare.tag)
    assert asyncio.run(ask()) == [
        seen,
        put,
        changed,
        own.revisions(limit=2),
        list(own.all_revisions()),
        own.revision(2),
        own.revision_changes(3, since=1),
    ]
