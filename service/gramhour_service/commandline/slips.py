"""Slips of the pen in rates: a new code that is nearly another's, numbers that are hardly meant."""

from collections.abc import Iterable, Iterator
from pathlib import Path

import click
from sqlite_utils import Database

from gramhour.contract.answer import Caution
from gramhour_service.commandline.characters import printable
from gramhour_service.commandline.service import asked_service
from gramhour_service.commandline.store import now, opened
from gramhour_service.sheets.changing import nearest_code
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.rows import SHOP, rates_of
from gramhour_service.store.rates import Key

SAVED = "take the new one away again (remove = true) and change {}"
PROPOSED = "propose {}"


def tell_cautions(cautions: Iterable[Caution]) -> None:
    """Tell what to take care of, such as numbers that are hardly meant as they stand."""
    for each in cautions:
        click.echo(printable(f"{each.hazard.capitalize()}: {each.says}"), err=True)


def tell_near(added: set[Key], present: set[Key], remedy: str = SAVED) -> None:
    """Tell what is new under a name that is nearly another's: perhaps that was meant."""
    for hint in _hints(added, present - added, remedy):
        click.echo(hint, err=True)


def in_store(store: Database) -> set[Key]:
    """List the rates in force today."""
    today = Sheets(store).pinned_today(now())
    return set() if today is None else set(rates_of(today.in_force.sheet))


def present_in(path: Path) -> set[Key]:
    """List the rates in force today in the store at a path."""
    with opened(path) as store:
        return in_store(store)


def in_service(url: str, key: str | None) -> set[Key]:
    """List the rates that a service has in force today."""
    with asked_service(url, key) as client:
        return set(rates_of(client.rates().rates))


def _hints(added: set[Key], present: set[Key], remedy: str) -> Iterator[str]:
    for kind, code in sorted(added):
        near = None if kind == SHOP else nearest_code((kind, code), present)
        if near is not None:
            yield (
                f"{kind}/{code} is new, and there is {kind}/{near}: if that was meant, "
                f"{remedy.format(near)}."
            )
