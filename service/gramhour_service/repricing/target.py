"""The rates that a repricing prices by: those in force, or as they might become."""

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from msgspec import UNSET
from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import KINDS, RateSheet
from gramhour.contract.repricing import RepricingRequest
from gramhour_service.listings.variants import channels_packing
from gramhour_service.resolve.rates import Kept
from gramhour_service.sheets.asked import no_such_sheet
from gramhour_service.sheets.changing import edited, edits_of
from gramhour_service.sheets.in_force import NoSuchRevision, NothingInForce, Sheets
from gramhour_service.sheets.rows import SHOP, rates_of
from gramhour_service.sheets.saving import State
from gramhour_service.store.rates import Key


class Target(NamedTuple):
    """Rates to price by, and what was resolved of them; the revision and day they stand for."""

    sheet: RateSheet
    revision: int
    on: str
    kept: Kept
    discount_pct: Decimal = Decimal(0)


def target_of(store: Database, asked: RepricingRequest, now: datetime) -> Target:
    """Find the rates that are asked for. Raises ``Refused`` with every fault found."""
    revision = None if asked.rates_revision is UNSET else asked.rates_revision
    on = None if asked.rates_on is UNSET else asked.rates_on
    try:
        found = Sheets(store).pinned(now, revision, on)
    except NoSuchRevision as error:
        raise _faulty("/rates_revision", no_such_sheet(error)) from None
    except NothingInForce as error:
        if revision is None and on is None:
            detail = "no rates are in force; import a sheet first"
            raise Refused("no-rates", (Fault("", detail),)) from None
        place = "/rates_revision" if on is None else "/rates_on"
        raise _faulty(place, no_such_sheet(error)) from None
    discount = Decimal(0) if asked.discount_pct is UNSET else asked.discount_pct
    in_force = found.in_force
    if asked.proposed is UNSET:
        sheet, kept = in_force.sheet, in_force.kept
    else:
        state = State(in_force.revision, found.on, in_force.changes)
        sheet, kept = edited(state, edits_of(asked.proposed, "proposed")), {}
    return Target(sheet, in_force.revision, found.on.isoformat(), kept, discount)


def _faulty(place: str, detail: str) -> Refused:
    return Refused("invalid-request", (Fault(place, detail),))


def rates_that_differ(one: RateSheet, other: RateSheet) -> frozenset[Key]:
    """Name the rates that two sheets do not have alike."""
    first, second = rates_of(one), rates_of(other)
    return frozenset(key for key in {*first, *second} if first.get(key) != second.get(key))


def keys_touched(one: RateSheet, other: RateSheet) -> frozenset[Key] | None:
    """Name what listings use that differs between two sheets; none if it is what all use.

    A channel differs too if what its orders are packed in does.
    """
    changed = rates_that_differ(one, other)
    if any(kind == SHOP for kind, _ in changed):
        return None
    components = frozenset(code for kind, code in changed if kind == "components")
    packing = channels_packing(one, components) | channels_packing(other, components)
    return changed | {("channels", code) for code in packing}


def with_only(base: RateSheet, target: RateSheet, key: Key) -> RateSheet:
    """Take one rate of a sheet into another one, whatever it is there."""
    kind, code = key
    if kind not in KINDS:
        return replace(base, **{code: getattr(target, code)})
    was, now = getattr(base, kind), getattr(target, kind)
    entries = {} if was is UNSET else dict(was)
    if now is not UNSET and code in now:
        entries[code] = now[code]
    else:
        entries.pop(code, None)
    return replace(base, **{kind: entries})


def has_all(sheet: RateSheet, used: Iterable[Key], channel: str) -> bool:
    """Say whether a sheet has all that a product and its channel name."""
    entries = {kind: getattr(sheet, kind) for kind in KINDS}
    if entries["channels"] is UNSET or channel not in entries["channels"]:
        return False
    packing = entries["channels"][channel].packing
    packed_in = () if packing is UNSET else (("components", each.component) for each in packing)
    return all(
        entries[kind] is not UNSET and code in entries[kind] for kind, code in (*used, *packed_in)
    )
