"""The store that a command works on, and what is told when it cannot be used."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import click
import msgspec
from platformdirs import user_data_path
from sqlite_utils import Database

from gramhour_service.commandline.refusals import NotAnswered, PlacedFault
from gramhour_service.store.opening import is_there, open_store
from gramhour_service.store.trouble import StoreTrouble, told_as_trouble

Command = TypeVar("Command", bound=Callable[..., object])
FILE = "rates-and-keys.sqlite"


def store_option(command: Command) -> Command:
    """Add the option that names the store."""
    return click.option(
        "--store",
        "store_path",
        envvar="GRAMHOUR_STORE",
        type=click.Path(path_type=Path, dir_okay=False),
        default=_usual_path,
        metavar="PATH",
        help="The shop's store; or set GRAMHOUR_STORE. Else one in your data folder.",
    )(command)


json_option = click.option("--json", "as_json", is_flag=True, help="The result as JSON.")


@contextmanager
def opened(path: Path, *, create: bool = False) -> Iterator[Database]:
    """Open the store for as long as a command works on it.

    Raises ``NotAnswered`` with what is wrong with it.
    """
    try:
        store = open_store(path, create=create)
        try:
            with told_as_trouble(path):
                yield store
        finally:
            store.close()
    except StoreTrouble as trouble:
        raise not_usable(trouble, path) from None


def has_store(path: Path) -> bool:
    """Say whether there is a store. Raises ``NotAnswered`` where that cannot be known."""
    try:
        return is_there(path)
    except StoreTrouble as trouble:
        raise not_usable(trouble, path) from None


def not_usable(trouble: StoreTrouble, path: Path) -> NotAnswered:
    """Tell what is wrong with a store as every other refusal is told."""
    return NotAnswered(trouble.kind, [PlacedFault(str(path), "", trouble.detail)])


def written_json(told: object) -> bytes:
    """Write a result as JSON that people can read too."""
    return msgspec.json.format(msgspec.json.encode(told), indent=2)


def now() -> datetime:
    """Say what time it is: the command line is where the clock is read."""
    return datetime.now(UTC)


def _usual_path() -> Path:
    return user_data_path("gramhour", appauthor=False) / FILE
