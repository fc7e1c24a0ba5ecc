"""Has listings priced anew and applies it: by the store on this machine, or by a service."""

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
from sqlite_utils import Database

from gramhour.client import Client
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.reading import read_apply, read_repricing
from gramhour.contract.repricing import Applied, Repricing, RepricingLine
from gramhour.errors import Refusal
from gramhour_service.commandline.offered import MADE_BY, rates_today
from gramhour_service.commandline.progress import shown_progress
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault
from gramhour_service.commandline.service import asked_service, refused_by
from gramhour_service.commandline.store import now, opened
from gramhour_service.repricing.applying import apply
from gramhour_service.repricing.asking import add_asked, new_name
from gramhour_service.repricing.holding import held
from gramhour_service.repricing.running import run
from gramhour_service.repricing.starting import processes
from gramhour_service.repricing.told import told_repricing
from gramhour_service.seals.listed import seal_listed
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import writing
from gramhour_service.store.repricings import LineFilter, Row, lines_after, repricing_of

DAY = 86_400.0
ALL = -1
"""As SQLite has it: no limit."""
WHAT = "Repricing"
LINE = msgspec.json.Decoder(RepricingLine)
OPTIONS = {
    "skus": "--sku",
    "rates_on": "--on",
    "discount_pct": "--discount",
    "note": "--note",
    "except": "--except",
    "confirm": "--confirm",
    "effective_from": "--from",
    "max_change_pct": "--max-change",
}
IN_WORDS = {
    ": confirm it, ": ": --confirm it, ",
    "leave it out with except": "leave it out with --except",
    "allow more with max_change_pct": "allow more with --max-change",
}
"""What a refusal names as programs send it, and what a person types instead."""


class Wanted(NamedTuple):
    """What is to be priced anew, and whether and how that is applied, as the contract has both.

    ``file`` is the one that the proposed changes stand in. ``lines`` is how many are shown at
    most; none for all.
    """

    asked: dict[str, Any]
    applied: dict[str, Any] | None
    file: str | None
    lines: int | None


class Came(NamedTuple):
    """What came of it: the repricing, its worst lines, what was applied or why that was refused."""

    repricing: Repricing
    lines: list[RepricingLine]
    applied: Applied | None = None
    not_applied: NotAnswered | None = None


def by_store(wanted: Wanted, path: Path) -> Came:
    """Price anew in this process. Raises ``NotAnswered``."""
    with _told_by_options(wanted), opened(path) as store:
        asked = read_repricing(wanted.asked)
        rates_today(store)
        name = new_name()
        with shown_progress(WHAT) as told, held(path, name):
            with writing(store):
                add_asked(store, name, asked, Written(MADE_BY, now()))
            run(path, name, processes(), lambda done: told(done, _row(store, name).lines))
        repricing = told_repricing(store, _row(store, name))
        if repricing.state != "finished":
            says = repricing.says or repricing.state
            raise NotAnswered("repricing-failed", [PlacedFault(str(path), "", says)])
        most = ALL if wanted.lines is None else wanted.lines
        found = lines_after(store, name, None, most, LineFilter())
        came = Came(repricing, [LINE.decode(line) for _, line in found])
        if wanted.applied is None:
            return came
        return _applied_in_store(came, wanted, wanted.applied, store)


def _row(store: Database, name: str) -> Row:
    row = repricing_of(store, name)
    assert row is not None, "it was added here, and is kept for 30 days"
    return row


def _applied_in_store(came: Came, wanted: Wanted, how: dict[str, Any], store: Database) -> Came:
    """Apply what came, if that is allowed."""
    try:
        with _told_by_options(wanted):
            sent = read_apply(how)
            with writing(store):
                today, written = rates_today(store).on, Written(MADE_BY, now())
                applied = apply(store, _row(store, came.repricing.id), sent, today, written)
    except NotAnswered as refusal:
        return came._replace(not_applied=refusal)
    _seal_applied(store, applied)
    return came._replace(
        repricing=told_repricing(store, _row(store, applied.id)),
        applied=applied,
    )


def _seal_applied(store: Database, applied: Applied) -> None:
    """Sign the prices that were listed."""
    before = applied.change - applied.applied
    with shown_progress("Sealing") as told:
        seal_listed(
            store,
            now(),
            before,
            applied.change,
            lambda change: told(change - before, applied.applied),
        )


def by_service(wanted: Wanted, url: str, key: str | None) -> Came:
    """Have a service price anew, and wait for it. Raises ``NotAnswered``."""
    with asked_service(url, key) as client:
        with shown_progress(WHAT) as told, _refused_by_options(wanted):
            started = client.reprice(**wanted.asked)
            finished = client.wait_for(
                started.id, told=lambda looked: told(looked.done, looked.of), within=DAY
            )
        lines = islice(client.all_repricing_lines(started.id), wanted.lines)
        came = Came(finished, list(lines))
        if wanted.applied is None:
            return came
        return _applied_in_service(came, wanted, wanted.applied, client)


def _applied_in_service(came: Came, wanted: Wanted, how: dict[str, Any], client: Client) -> Came:
    try:
        with _refused_by_options(wanted):
            applied = client.apply(came.repricing.id, **how)
    except NotAnswered as refusal:
        return came._replace(not_applied=refusal)
    return came._replace(repricing=client.repricing(applied.id), applied=applied)


@contextmanager
def _refused_by_options(wanted: Wanted) -> Iterator[None]:
    """Tell what a service refuses of the request itself by the options that said it."""
    try:
        yield
    except Refusal as refusal:
        if not any(fault.pointer for fault in refusal.faults):
            raise
        with _told_by_options(wanted):
            raise refused_by(refusal) from None


@contextmanager
def _told_by_options(wanted: Wanted) -> Iterator[None]:
    """Tell faults of a request by the option, or the place in the file, that they stand in."""
    try:
        yield
    except Refused as refused:
        faults = [_by_option(fault, wanted.file) for fault in refused.faults]
        raise NotAnswered(refused.type, faults) from None


def _by_option(fault: Fault, file: str | None) -> PlacedFault:
    _, member, *within = (fault.pointer or "/").split("/")
    if member == "proposed" and file is not None:
        return PlacedFault(file, "/".join(("/changes", *within)), fault.detail)
    detail = fault.detail
    for sent, typed in IN_WORDS.items():
        detail = detail.replace(sent, typed)
    return PlacedFault("gramhour reprice", OPTIONS.get(member, fault.pointer or ""), detail)
