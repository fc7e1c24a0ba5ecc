"""A repricing applied: its prices are listed from a day on, all of them or none.

Nothing is computed here: what the report showed is what is listed. If listings, products or
prices have changed since, or the rates it was computed with, it is refused and says which.
"""

from datetime import date
from decimal import Decimal

from msgspec import UNSET, json
from sqlite_utils import Database

from gramhour.contract.noting import nearest
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.repricing import (
    Applied,
    ApplyRequest,
    Counts,
    PlannedByRecalled,
    PlannedPrice,
    RepricingRequest,
)
from gramhour_service.calculation.rules import VERSION
from gramhour_service.repricing.asking import ASKED
from gramhour_service.repricing.target import keys_touched
from gramhour_service.resolve.members import defaults_of
from gramhour_service.sheets.changing import told_in_words
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.applying import (
    Application,
    apply_lines,
    lines_changed_since,
    lines_moving_by_more,
    planned_later,
    skus_without_line,
    uses_rate,
)
from gramhour_service.store.entries import Written, entry_of, names_like
from gramhour_service.store.rates import changes_between, newest_revision
from gramhour_service.store.repricings import FROM_NOTHING, Row
from gramhour_service.store.seals import newest_is_recalled, planned_by_recalled

MOST_NAMED = 20
MOST_SEARCHED = 50
MOST_OVERRULED = 100


def apply(store: Database, row: Row, sent: ApplyRequest, today: date, written: Written) -> Applied:
    """List the prices of a repricing, within ``writing``. Raises ``Refused``, and nothing is."""
    asked = ASKED.decode(row.asked)
    _check_state(row, asked)
    except_ = frozenset(() if sent.except_ is UNSET else sent.except_)
    confirm = frozenset(() if sent.confirm is UNSET else sent.confirm)
    _check_named(store, row, "except", except_)
    _check_named(store, row, "confirm", confirm)
    valid_from = _valid_from(row, sent, today)
    _check_unchanged(store, row, except_)
    _check_day(store, row, valid_from)
    most = sent.max_change_pct
    if most is UNSET:
        most = defaults_of(ApplyRequest)["max_change_pct"]
    _check_moves(store, row, except_ | confirm, most)
    note = sent.note if sent.note is not UNSET else asked.note
    application = Application(
        repricing=row.id,
        except_=except_,
        effective_from=valid_from.isoformat(),
        planned=valid_from > today,
        discount_pct=f"{asked.discount_pct:f}" if asked.discount_pct else None,
        rates_revision=row.rates_revision,
        rates_on=row.rates_on,
        rules=VERSION,
        note="" if note is UNSET else note,
        over_all=asked.over == "all",
    )
    applied, change = apply_lines(store, application, written)
    overruled = planned_later(store, row.id, application.effective_from)
    return Applied(
        id=row.id,
        applied=applied,
        left_out=len(except_) - len(skus_without_line(store, row.id, except_)),
        failed=json.decode(row.counts, type=Counts).failed,
        valid_from=valid_from,
        change=change,
        overruled=len(overruled),
        overruled_by=[
            PlannedPrice(sku=sku, valid_from=date.fromisoformat(day), change=number)
            for sku, day, number in overruled[:MOST_OVERRULED]
        ],
        planned_by_recalled=still_by_recalled(store, today),
    )


def still_by_recalled(store: Database, today: date) -> list[PlannedByRecalled]:
    """Say on which later days prices by recalled rates take over, and whether new ones would."""
    recalled = newest_is_recalled(store)
    return [
        PlannedByRecalled(
            valid_from=date.fromisoformat(day),
            prices=prices,
            recalled_revision=UNSET if recalled is None else recalled,
        )
        for day, prices in planned_by_recalled(store, today.isoformat())
    ]


def _check_state(row: Row, asked: RepricingRequest) -> None:
    says = None
    if row.applied_at is not None:
        says = f"{row.applied_by} applied it at {row.applied_at}"
    elif row.ended != "finished":
        says = row.says or "it is not finished"
    elif asked.proposed is not UNSET:
        says = "it was computed with proposed rates; save them, then reprice"
    if says is not None:
        raise Refused("not-applicable", (Fault(UNSET, says),))


def _check_named(store: Database, row: Row, member: str, skus: frozenset[str]) -> None:
    """Refuse what is no listing; one that the repricing did not look at is none the worse."""
    unknown = [
        sku
        for sku in skus_without_line(store, row.id, skus)
        if entry_of(store, "listing", sku) is None
    ]
    if unknown:
        faults = [Fault(f"/{member}", _no_listing(store, sku)) for sku in unknown[:MOST_NAMED]]
        raise Refused("invalid-request", tuple(faults))


def _no_listing(store: Database, sku: str) -> str:
    known = names_like(store, "listing", sku, MOST_SEARCHED)
    return f"there is no listing '{sku}'{nearest(sku, known)}"


def _valid_from(row: Row, sent: ApplyRequest, today: date) -> date:
    day = max(today, date.fromisoformat(row.rates_on))
    if sent.effective_from is UNSET:
        return day
    if sent.effective_from < today:
        detail = f"prices hold from today ({today}) on, or later; they cannot change the past"
        raise Refused("invalid-request", (Fault("/effective_from", detail),))
    return sent.effective_from


def _check_unchanged(store: Database, row: Row, except_: frozenset[str]) -> None:
    """Refuse if what it was computed from has changed since, and say what."""
    faults = [
        Fault(UNSET, says) for says in lines_changed_since(store, row.id, except_, MOST_NAMED)
    ]
    newest = newest_revision(store)
    if newest != row.rates_revision and _touches_a_line(store, row, newest, row.rates_on):
        since = changes_between(store, row.rates_revision, newest)[:MOST_NAMED]
        faults += [Fault(UNSET, told_in_words(store, change)) for change in since]
    if faults:
        raise Refused("moved-on", tuple(faults[:MOST_NAMED]))


def _check_day(store: Database, row: Row, valid_from: date) -> None:
    """Refuse prices from a day on which other rates are known to count than they came from."""
    day = valid_from.isoformat()
    if day > row.rates_on and _touches_a_line(store, row, newest_revision(store), day):
        detail = f"other rates than those of {row.rates_on} count from {day}: reprice by that day's"
        raise Refused("moved-on", (Fault("/effective_from", detail),))


def _touches_a_line(store: Database, row: Row, newest: int, day: str) -> bool:
    """Say whether rates that can move one of its lines count otherwise on a day by now."""
    sheets = Sheets(store)
    then = sheets.at(row.rates_revision, row.rates_on).sheet
    now = sheets.at(newest, day).sheet
    keys = keys_touched(then, now)
    return keys is None or any(uses_rate(store, row.id, key) for key in sorted(keys))


def _check_moves(store: Database, row: Row, seen: frozenset[str], most: Decimal) -> None:
    """Refuse prices that move by more than one thought, or rise from 0, unless they are named."""
    allowed = min(float(most), FROM_NOTHING / 2)
    beyond = lines_moving_by_more(store, row.id, allowed, seen, MOST_NAMED)
    if beyond:
        faults = tuple(Fault("/confirm", _moves_by(sku, moves, most)) for sku, moves in beyond)
        raise Refused("needs-confirming", faults)


def _moves_by(sku: str, moves: float, most: Decimal) -> str:
    if moves >= FROM_NOTHING:
        return f"the price of {sku} would rise from 0: confirm it, or leave it out with except"
    return (
        f"the price of {sku} would move by {moves:.2f} %, more than {most} %: confirm it, "
        "leave it out with except, or allow more with max_change_pct"
    )
