"""Finds the rates that `gramhour rates show` shows: in the store on this machine, or by a service.

A service says of a whole sheet no more than what holds; since when a rate does, it says of one.
"""

from datetime import date, datetime
from pathlib import Path
from typing import Any, NamedTuple, cast

import msgspec

from gramhour.contract.changes import RateKind
from gramhour.contract.documents import parse_json
from gramhour.contract.noting import meant
from gramhour_service.commandline.service import asked_service
from gramhour_service.commandline.store import opened
from gramhour_service.commandline.stored import nothing_kept, pinned_sheet
from gramhour_service.sheets.rows import plain_value, rates_of


class Wanted(NamedTuple):
    """Which rates: all, those of a kind, or one; of a day, and as known at a revision."""

    kind: str | None
    code: str | None
    on: datetime | None
    revision: int | None

    def holds(self, kind: str, code: str) -> bool:
        """Say whether a rate is among them."""
        return self.kind in (None, kind) and self.code in (None, code)


class Rate(NamedTuple):
    """A rate as plain values; since which revision and day it is so, where that is known."""

    kind: str
    code: str
    value: Any
    changed_in: int | None = None
    in_force_from: str | None = None

    @property
    def since(self) -> str:
        """Say in words since when it is known and in force."""
        known = self.changed_in is not None
        return f"revision {self.changed_in}, from {self.in_force_from}" if known else ""


def told_rate(rate: Rate) -> dict[str, Any]:
    """Tell a rate for ``--json``; what is not known of it is left out."""
    told = rate._asdict()
    value = told.pop("value")
    return {**{name: each for name, each in told.items() if each is not None}, "value": value}


class Found(NamedTuple):
    """The rates, of which revision and day, and the day of the next planned change if known."""

    rates: list[Rate]
    revision: int
    on: date
    until: date | None = None


def in_store(wanted: Wanted, path: Path) -> Found:
    """Find them in the store. Raises ``NotAnswered``."""
    with opened(path) as store:
        pinned = pinned_sheet(store, path, wanted.revision, wanted.on)
    present = pinned.in_force.present
    rates = [
        Rate(each.kind, each.code, plain_value(each), each.revision, each.effective_from)
        for each in present
        if wanted.holds(each.kind, each.code)
    ]
    codes = [each.code for each in present if each.kind == wanted.kind]
    _check_any(rates, wanted, codes, str(path))
    return Found(rates, pinned.in_force.revision, pinned.on, pinned.in_force.until)


def by_service(wanted: Wanted, url: str, key: str | None) -> Found:
    """Ask a service for them. Raises ``NotAnswered``."""
    day = None if wanted.on is None else wanted.on.date()
    with asked_service(url, key) as client:
        if wanted.kind is not None and wanted.code is not None:
            kind = cast("RateKind", wanted.kind)  # click lets no other through
            one = client.rate(kind, wanted.code, rates_revision=wanted.revision, rates_on=day)
            rate = Rate(kind, one.code, _plain(one.value), one.changed_in, f"{one.in_force_from}")
            return Found([rate], one.rates_revision, one.rates_on)
        sheet = client.rates(rates_revision=wanted.revision, rates_on=day)
    rates = [
        Rate(kind, code, _plain(value))
        for (kind, code), value in sorted(rates_of(sheet.rates).items())
        if wanted.holds(kind, code)
    ]
    _check_any(rates, wanted, [], url)
    return Found(rates, sheet.rates_revision, sheet.rates_on)


def _plain(value: Any) -> Any:
    return parse_json(msgspec.json.encode(value))


def _check_any(rates: list[Rate], wanted: Wanted, codes: list[str], where: str) -> None:
    if not rates:
        name = "/".join(filter(None, (wanted.kind, wanted.code)))
        near = meant(wanted.code, codes) if wanted.code is not None else ""
        raise nothing_kept(where, f"nothing is kept under {name}{near}")
