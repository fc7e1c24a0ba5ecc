"""The lead time as it is told: worked out by hand, with its reasons, cautions and defaults."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import msgspec
import pytest
from msgspec import UNSET

from gramhour.contract.answer import Quote
from gramhour.contract.documents import parse_json
from gramhour.contract.hours import WEEKDAYS
from gramhour.contract.lead_time import LeadTime
from gramhour.contract.problem import Refused
from gramhour_service.answer.price_view import price_view
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.calculation.lead_time.terms import MOST_DAYS, MOST_STARTS
from gramhour_service.resolve.lead_time import Outside

TUESDAY = "2026-12-01T09:00:00+01:00"
WEEK = {day: ["08:00-16:00"] for day in WEEKDAYS[:5]}
Sent = dict[str, Any]


def request(sheet: Sent | None = None, **changes: Any) -> Any:
    """One piece of 115 minutes with 5 of warm-up, 2 a build, on an attended machine."""
    rates = {
        "currency": "EUR",
        "time_zone": "Europe/Vienna",
        "labour_rate_per_hour": 30,
        "price_per_kwh": "0.3",
        "staffed_hours": WEEK,
        "materials": {"grey": {"price_per_kg": 20}},
        "machines": {"one": {"rate_per_hour": 1, "power_w": 100, "warm_up_min": 5}},
        "channels": {"shop": {"prices_include_tax": True}},
    }
    piece = {
        "machine": "one", "print_min": 115, "pieces_per_build": 2,
        "feed": [{"material": "grey", "mass_g": 10}],
    }  # fmt: skip
    asked = {
        "product": {"pieces": [piece]}, "quantity": 2, "channel": "shop", "breaks": [],
        "aim": {"markup_pct": 10}, "from": TUESDAY, "rates": _merged(rates, sheet or {}),
    }  # fmt: skip
    return parse_json(msgspec.json.encode(_merged(asked, changes)))


def _merged(into: Any, changes: Any) -> Any:
    if not isinstance(into, dict) or not isinstance(changes, dict):
        return changes
    return into | {k: _merged(into[k], v) if k in into else v for k, v in changes.items()}


def ready(sent: Any) -> LeadTime:
    told = answer_quote(sent)
    assert isinstance(told.lead_time, LeadTime), told.no_lead_time
    return told.lead_time


def why_not(sent: Any) -> str:
    told = answer_quote(sent)
    assert told.lead_time is None
    assert isinstance(told.no_lead_time, str)
    assert told.at_quantity.unit_price > 0
    return told.no_lead_time


def at(told: LeadTime) -> str:
    return f"{told.ready_at:%a %H:%M}"


MACHINE: Sent = {"machines": {"one": {"unattended": True}}}
DAYS_LONG: Sent = {"machines": {"one": {"unattended": True, "warm_up_min": 1_440}}}


@pytest.mark.parametrize(
    ("quantity", "expected"),
    [(2, "Tue 11:00"), (6, "Tue 15:00"), (8, "Wed 10:00"), (24, "Fri 10:00"), (26, "Fri 12:00")],
)
def test_an_attended_build_that_would_end_after_hours_waits_for_the_next_day(
    quantity: int, expected: str
) -> None:
    assert at(ready(request(quantity=quantity))) == expected  # three more builds a day, then four


def test_an_unattended_build_runs_on_and_is_cleared_when_somebody_comes() -> None:
    told = ready(request(MACHINE, quantity=8))
    assert at(told) == "Wed 08:00"
    assert told.relies_on_unattended
    assert [f"{moment:%H:%M}" for moment in told.machines[0].builds[0].starts_at] == [
        "09:00", "11:00", "13:00", "15:00"]  # fmt: skip
    assert told.machines[0].builds[0].unattended == 1


def test_who_relies_on_unattended_builds_is_told_to_think_of_fire_and_buyers_are_not() -> None:
    answer = answer_quote(request(MACHINE, quantity=8))
    assert isinstance(answer.lead_time, LeadTime)
    assert answer.lead_time.caution is not UNSET
    assert "nobody present" in answer.lead_time.caution
    assert "fire" in answer.lead_time.caution
    assert msgspec.to_builtins(price_view(answer))["lead_time"] == {"ready_on": "2026-12-02"}
    watched = ready(request(MACHINE, quantity=6))
    assert (watched.relies_on_unattended, watched.caution) == (False, UNSET)


def test_a_queue_that_runs_overnight_is_relied_on_too() -> None:
    queue = {"machines": {"one": {"queue_h": ["8"]}}}
    told = ready(request(MACHINE, workload=queue))
    assert at(told) == "Wed 10:00"
    assert told.relies_on_unattended
    attended = ready(request(workload=queue))
    assert at(attended) == "Wed 11:00"  # seven staffed hours today, one tomorrow
    assert not attended.relies_on_unattended


def test_equal_machines_share_the_builds_and_each_has_its_queue() -> None:
    sheet = {"machines": {"one": {"count": 3}}}
    queue = {"machines": {"one": {"queue_h": [0, 1]}}}
    told = ready(request(sheet, quantity=10, workload=queue))
    starts = {p.number: [f"{m:%H:%M}" for m in p.builds[0].starts_at] for p in told.machines}
    assert starts == {1: ["09:00", "11:00"], 2: ["10:00"], 3: ["09:00", "11:00"]}
    assert {p.number: f"{p.free_from:%H:%M}" for p in told.machines} == {
        1: "09:00", 2: "10:00", 3: "09:00"}  # fmt: skip


def test_longest_builds_come_first() -> None:
    feed = [{"material": "grey", "mass_g": 10}]
    pieces = [{"machine": "one", "print_min": n, "feed": feed} for n in (55, 175, 115)]
    told = ready(request(product={"pieces": pieces}, quantity=1))
    (plan,) = told.machines
    assert [(b.piece[-1], f"{b.starts_at[0]:%H:%M}", b.build_min) for b in plan.builds] == [
        ("1", "09:00", 180.0), ("2", "12:00", 120.0), ("0", "14:00", 60.0)]  # fmt: skip


def test_the_work_on_the_last_builds_units_follows_it_and_all_work_takes_its_time() -> None:
    one = ready(request(product={"work": {"unit_min": 30}}, quantity=4))
    assert at(one) == "Tue 14:00"  # two builds until 13:00, two units at 30 minutes
    all_of_it = ready(request(product={"work": {"unit_min": 30, "order_min": 400}}, quantity=4))
    assert at(all_of_it) == "Wed 09:40"  # 520 minutes from 09:00 on are more
    after_hours = ready(request(product={"work": {"unit_min": 45}}, quantity=6))
    assert at(after_hours) == "Wed 08:30"  # the third build ends at 15:00, 90 minutes follow


def test_the_last_units_have_their_place_on_the_learning_curve() -> None:
    work = {"unit_min": 60, "learning_pct": 50}
    told = ready(request(product={"work": work}, quantity=4))
    # units 3 and 4 take 60/3 and 60/4 minutes (b = −1), after two builds: 13:00 + 35
    assert at(told) == "Tue 13:35"


def test_closed_days_and_week_ends_are_nobodys() -> None:
    sheet = {"closed_days": ["2026-12-02", "2026-12-03", "2026-12-04"]}
    assert ready(request(sheet, quantity=8)).ready_on == date(2026, 12, 7)


def test_bought_in_parts_are_waited_for_by_the_work_on_all_units() -> None:
    part = {"charging": "order", "offers": [{"price": 1, "delivery_working_days": 2}]}
    sheet = {"components": {"part": part}}
    product = {"components": [{"component": "part"}], "work": {"unit_min": 15}}
    told = ready(request(sheet, product=product, quantity=2))
    assert at(told) == "Thu 09:30"  # at nine on Thursday they come
    kept = {"components": {"part": {**part, "charging": "stock"}}}
    assert at(ready(request(kept, product=product, quantity=2))) == "Tue 11:30"


@pytest.mark.parametrize(
    ("quantity", "expected"), [(1, "Wed 09:00"), (3, "Mon 09:00"), (6, "Mon 09:00")]
)
def test_parts_come_with_the_packs_that_are_bought(quantity: int, expected: str) -> None:
    offers = [
        {"pack_quantity": 1, "price": 2, "delivery_working_days": 1},
        {"pack_quantity": 5, "price": 5, "delivery_working_days": 4},
    ]
    sheet = {"components": {"part": {"charging": "order", "offers": offers}}}
    sent = request(sheet, product={"components": [{"component": "part"}]}, quantity=quantity)
    assert at(ready(sent)) == expected


def test_of_packs_of_one_size_those_at_the_price_that_counts_are_waited_for() -> None:
    offers = [
        {"price": 3, "delivery_working_days": 9},
        {"price": 2, "from_packs": 5, "delivery_working_days": 1},
    ]
    sheet = {"components": {"part": {"charging": "order", "offers": offers}}}
    sent = request(sheet, product={"components": [{"component": "part"}]}, quantity=6)
    assert at(ready(sent)) == "Wed 09:00"


def test_builds_wait_for_whole_packs_of_their_material() -> None:
    offer = {"pack_g": 1000, "list_price": 20, "delivery_working_days": 1}
    sheet = {"materials": {"rare": {"offer": offer}}}
    feed = [{"material": "rare", "mass_g": 1, "charge": "whole_packs"}]
    piece = {"machine": "one", "print_min": 115, "pieces_per_build": 2, "feed": feed}
    assert at(ready(request(sheet, product={"pieces": [piece]}))) == "Wed 11:00"
    del feed[0]["charge"]
    assert at(ready(request(sheet, product={"pieces": [piece]}))) == "Tue 11:00"


def test_dispatch_comes_after_and_counts_working_days() -> None:
    sheet = {"channels": {"shop": {"dispatch_working_days": 4}}, "closed_days": ["2026-12-03"]}
    told = ready(request(sheet))
    assert (at(told), told.ready_on) == ("Tue 11:00", date(2026, 12, 8))


def test_a_night_at_the_end_of_summer_time_has_an_hour_more() -> None:
    sheet = {"machines": {"one": {"warm_up_min": 0}}}
    piece = {"print_min": 9 * 60, "machine": "one", "feed": [{"material": "grey", "mass_g": 1}]}
    sent = request(sheet, product={"pieces": [piece]}, quantity=1)
    nights = {"saturday": ["22:00-24:00"], "sunday": ["00:00-06:00"]}  # else eight hours
    sent["rates"]["staffed_hours"] = nights
    sent["from"] = "2026-10-01T00:00:00Z"
    told = ready(sent)
    assert f"{told.machines[0].builds[0].starts_at[0]:%d.%m. %H:%M}" == "24.10. 22:00"
    assert f"{told.ready_at:%d.%m. %H:%M%z}" == "25.10. 06:00+0100"


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        (request(quantity=2 * MOST_STARTS + 2), f"more than {MOST_STARTS} starts"),
        (request(quantity=100_000), f"more than {MOST_STARTS} starts"),
        (
            request({"machines": {"one": {"first_pass_yield_pct": "0.01"}}}),
            f"more than {MOST_STARTS} starts",
        ),
        (request({"machines": {"one": {"warm_up_min": 400}}}), "needs somebody there all the time"),
        (request(DAYS_LONG, quantity=4_000), f"later than the {MOST_DAYS} days"),
        (request({"staffed_hours": {day: [] for day in WEEK}}), f"{MOST_DAYS} days"),
        (request(product={"work": {"order_min": 10**8}}), f"{MOST_DAYS} days ahead"),
        (request(product={"work": {"unit_min": 200_000}}), f"later than the {MOST_DAYS} days"),
        (request(workload={"machines": {"one": {"queue_h": [1, 2]}}}), "2 queues for the machine"),
        (request(workload={"machines": {"one": {"queue_h": [30_000]}}}), "days ahead"),
    ],
    ids=[
        "too many builds", "far too many", "hardly ever good", "too long for a day",
        "years of builds", "never anybody there", "years of work", "years of a person's work",
        "a queue too many", "a queue of years",
    ],
)  # fmt: skip
def test_what_cannot_be_scheduled_fails_no_price_and_says_why(sent: Any, says: str) -> None:
    assert says in why_not(sent)


def test_a_price_is_the_same_with_and_without_staffed_hours() -> None:
    with_hours = msgspec.to_builtins(answer_quote(request()))
    plain = request()
    del plain["rates"]["staffed_hours"]
    without = answer_quote(plain)
    assert (without.lead_time, without.no_lead_time) == (UNSET, UNSET)
    told = msgspec.to_builtins(without)
    assert {**with_hours, **told} == {**with_hours, "basis": told["basis"]}
    assert not [each for each in told["basis"] if "promise" in each["pointer"]]


def test_the_defaults_that_a_lead_time_takes_are_listed() -> None:
    assumed = {e.pointer: e.value for e in answer_quote(request()).basis if e.basis == "default"}
    assert {
        "/rates/machines/one/count": "1",
        "/rates/machines/one/unattended": "false",
        "/rates/channels/shop/promise_pct": "90",
        "/rates/channels/shop/dispatch_working_days": "0",
    }.items() <= assumed.items()


def test_without_a_moment_there_is_no_lead_time_and_the_one_handed_in_counts() -> None:
    sent = request()
    del sent["from"]
    assert answer_quote(sent).lead_time is UNSET
    now = datetime(2026, 12, 1, 7, 59, 59, 1, tzinfo=UTC)
    told = answer_quote(sent, outside=Outside(now)).lead_time
    assert isinstance(told, LeadTime)
    assert told.from_ == now.replace(microsecond=0) + timedelta(seconds=1)
    assert at(told) == "Tue 11:00"


def test_from_and_workload_of_an_answer_sent_again_give_the_same_lead_time() -> None:
    sent = request(MACHINE, workload={"machines": {"one": {"queue_h": ["2.5"]}}}, quantity=9)
    told = parse_json(msgspec.json.encode(ready(sent)))
    again = sent | {"from": told["from"], "workload": told["workload"]}
    assert parse_json(msgspec.json.encode(ready(again))) == told


def test_the_chance_is_told_and_the_promise_is_the_channels() -> None:
    sheet: Sent = {"machines": {"one": {"first_pass_yield_pct": 80}}}
    told = ready(request(sheet))
    assert told.probability_pct == Decimal("96.00")  # 1 − 0.2²
    assert len(told.machines[0].builds[0].starts_at) == 2
    sheet["channels"] = {"shop": {"promise_pct": 80}}
    assert ready(request(sheet)).probability_pct == Decimal("80.00")


def test_the_chance_of_a_part_filled_build_is_its_own_in_the_hours_form() -> None:
    sheet = {"machines": {"one": {"hours_between_failures": 10}}}
    told = ready(request(sheet, quantity=1))
    # one of two pieces: 57.5 of 115 minutes; e^(−0.0958333) = 0.9086
    assert told.probability_pct == Decimal("90.86")


def refused(sent: Any) -> list[str]:
    with pytest.raises(Refused) as caught:
        answer_quote(sent)
    return [str(fault.pointer) for fault in caught.value.faults]


@pytest.mark.parametrize(
    "moment",
    ["2026-12-01", "2026-12-01T09:00:00", "now", 1, None, "2026-13-01T09:00:00Z",
     "2026-12-01T09:00:00+25:00", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00",
     "2026-12-01T09:00Z"],
)  # fmt: skip
def test_an_instant_needs_its_day_time_and_offset(moment: Any) -> None:
    assert refused(request() | {"from": moment}) == ["/from"]


@pytest.mark.parametrize(
    ("shifts", "place"),
    [
        (["16:00-08:00"], "/0"),
        (["08:00-08:00"], "/0"),
        (["13:00-17:00", "08:00-13:01"], "/0"),
        (["08:00-12:00", "08:00-12:00"], "/1"),
        (["8:00-12:00"], "/0"),
        (["08:00-24:01"], "/0"),
        (["08:00–12:00"], "/0"),
        ("08:00-12:00", ""),
    ],
)
def test_hours_end_after_they_begin_and_do_not_overlap(shifts: Any, place: str) -> None:
    sent = request()
    sent["rates"]["staffed_hours"]["monday"] = shifts
    assert refused(sent) == [f"/rates/staffed_hours/monday{place}"]


def test_queues_are_of_machines_that_the_sheet_has() -> None:
    sent = request(workload={"machines": {"two": {"queue_h": [1]}, "one": {"queue_h": [-1, "x"]}}})
    assert refused(sent) == [
        "/workload/machines/two",
        "/workload/machines/one/queue_h/0",
        "/workload/machines/one/queue_h/1",
    ]


def test_a_quote_is_the_same_whatever_else_was_asked_of_the_sheet() -> None:
    answers: list[Quote] = [answer_quote(request(quantity=n)) for n in (2, 8, 2)]
    assert answers[0] == answers[2]


def test_of_builds_that_end_together_the_one_that_completes_most_units_counts() -> None:
    feed = [{"material": "grey", "mass_g": 1}]
    pieces = [
        {"machine": "one", "print_min": 55, "feed": feed},
        {"machine": "two", "print_min": 240, "pieces_per_build": 4, "feed": feed},
    ]
    sheet = {"machines": {"two": {"rate_per_hour": 1, "power_w": 100}}}
    product = {"pieces": pieces, "work": {"unit_min": 30}}
    told = ready(request(sheet, product=product, quantity=4))
    assert {f"{plan.ends_at:%H:%M}" for plan in told.machines} == {"13:00"}
    assert at(told) == "Tue 15:00"
