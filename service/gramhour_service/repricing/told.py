"""Tells a repricing as the contract has it: its state, how far it has come, what it found."""

from datetime import date, datetime
from pathlib import Path

from msgspec import UNSET, json
from sqlite_utils import Database

from gramhour.contract.repricing import Counts, Repricing
from gramhour_service.repricing.asking import ASKED
from gramhour_service.repricing.holding import goes_on
from gramhour_service.repricing.ranges import told_ranges
from gramhour_service.store.opening import path_of
from gramhour_service.store.repricings import PAUSED, Row, repricing_of

BROKEN = "broken_off"
BROKEN_OFF = "the process that computed it was ended; make a new one"


def told_repricing(store: Database, row: Row) -> Repricing:
    """Tell a repricing as it is now."""
    state = state_of(path_of(store), row)
    if state == BROKEN:  # it may have ended since the row was read
        row = repricing_of(store, row.id) or row
        state = BROKEN if row.ended is None else state_of(path_of(store), row)
    asked = ASKED.decode(row.asked)
    ranges = told_ranges(store, row.id)
    return Repricing(
        id=row.id,
        state=state,
        done=row.done,
        of=row.lines,
        rates_revision=row.rates_revision,
        rates_on=date.fromisoformat(row.rates_on),
        is_proposed=asked.proposed is not UNSET,
        discount_pct=asked.discount_pct,
        note="" if asked.note is UNSET else asked.note,
        counts=json.decode(row.counts, type=Counts),
        up_by=ranges.get("up", UNSET),
        down_by=ranges.get("down", UNSET),
        asked_at=datetime.fromisoformat(row.asked_at),
        asked_by=row.asked_by,
        finished_at=UNSET if row.ended_at is None else datetime.fromisoformat(row.ended_at),
        applied_at=UNSET if row.applied_at is None else datetime.fromisoformat(row.applied_at),
        applied_by=UNSET if row.applied_by is None else row.applied_by,
        says=BROKEN_OFF if state == BROKEN else UNSET if row.says is None else row.says,
    )


def state_of(store: Path, row: Row) -> str:
    """Say in a word how a repricing is."""
    if row.applied_at is not None:
        return "applied"
    if row.ended is not None:
        return row.ended
    if goes_on(store, row.id):
        return "running"
    return "paused" if row.says == PAUSED else BROKEN
