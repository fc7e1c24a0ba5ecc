"""The store commands: look it over, copy it while it is used, put a copy in place of a lost one."""

from pathlib import Path

import click

from gramhour_service.commandline.characters import printable
from gramhour_service.commandline.once import Several
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault, told_when_refused
from gramhour_service.commandline.screen import screen, show_texts
from gramhour_service.commandline.store import (
    json_option,
    not_usable,
    opened,
    store_option,
    written_json,
)
from gramhour_service.commandline.words import counted
from gramhour_service.store.copies import Looked, copy_store, look_over
from gramhour_service.store.trail import trail
from gramhour_service.store.trouble import StoreTrouble

A_FILE = click.Path(path_type=Path, dir_okay=False)


@click.group(cls=Several, short_help="Check, copy and restore the store.")
def store() -> None:
    """Check the store, copy it, restore a copy. Copies hold all costs: keep them as safely."""


@store.command("check", short_help="Read the whole store; say what is wrong.")
@store_option
@json_option
@told_when_refused
def check(*, store_path: Path, as_json: bool) -> None:
    """Read the whole store and say whether it is sound. Nothing is changed; others go on."""
    try:
        looked = look_over(store_path)
    except StoreTrouble as trouble:
        raise not_usable(trouble, store_path) from None
    if looked.faults:
        raise NotAnswered(
            "store-damaged",
            [PlacedFault(str(store_path), "", fault) for fault in looked.faults]
            + [PlacedFault(str(store_path), "", "move it away and restore a copy")],
        )
    if as_json:
        click.echo(written_json({"sound": True, **_as_json(looked)}))
        return
    click.echo(f"The store is sound: {_in_words(looked)}.")
    if not looked.is_of_today:
        click.echo("It is of an earlier version; the next command or start brings it up to date.")
    if looked.read_by_others:
        click.echo(
            f"Others on this machine may read it, and it holds costs: chmod 600 {store_path}",
            err=True,
        )


@store.command("backup", short_help="Copy the store, also while it is used.")
@click.argument("copy", type=A_FILE)
@store_option
@json_option
@told_when_refused
def backup(*, copy: Path, store_path: Path, as_json: bool) -> None:
    """Copy the store to the file COPY, as it is at one moment, also while the service writes.

    Nothing is overwritten, and the copy is checked before it stands in its place.
    """
    looked = _copied(store_path, copy, named=store_path)
    if as_json:
        click.echo(written_json({"copy": str(copy), **_as_json(looked)}))
    else:
        click.echo(f"Copied to {_shown(copy)}: {_in_words(looked)}.", err=True)


@store.command("restore", short_help="Put a copy where no store is.")
@click.argument("copy", type=A_FILE)
@store_option
@json_option
@told_when_refused
def restore(*, copy: Path, store_path: Path, as_json: bool) -> None:
    """Put the COPY in place as the store. Nothing is overwritten: move an old store away first.

    What was done after the copy was made is gone: keys revoked since then are good again.
    """
    looked = _copied(copy, store_path, named=copy)
    if as_json:
        click.echo(written_json({"store": str(store_path), **_as_json(looked)}))
        return
    click.echo(f"Restored to {_shown(store_path)}: {_in_words(looked)}.", err=True)
    click.echo(
        "Keys revoked after the copy was made are good again: look at gramhour keys list.", err=True
    )


@store.command("trail", short_help="Who wrote what, and when.")
@click.option(
    "--limit",
    type=click.IntRange(1, 1_000_000),
    default=50,
    show_default=True,
    help="At most so many, the newest first.",
)
@store_option
@json_option
@told_when_refused
def trail_(*, limit: int, store_path: Path, as_json: bool) -> None:
    """Tell who changed rates, products, listings, prices and keys, and when, the newest first."""
    with opened(store_path) as of_shop:
        found = trail(of_shop, limit)
    if as_json:
        click.echo(written_json([each._asdict() for each in found]))
    else:
        rows = [(each.at[:19], each.by, each.what, each.name, each.note) for each in found]
        show_texts(screen(), ("When (UTC)", "By", "What", "Name", "Note"), rows)


def _copied(path: Path, copy: Path, *, named: Path) -> Looked:
    """Copy a store; what is wrong is told of ``named``, or of the place of the copy."""
    try:
        return copy_store(path, copy)
    except StoreTrouble as trouble:
        raise not_usable(trouble, copy if trouble.kind == "is-there" else named) from None


def _shown(path: Path) -> str:
    return printable(str(path))


def _in_words(looked: Looked) -> str:
    change = f"price change {looked.price_change}" if looked.price_change else "no listed prices"
    return f"revision {looked.revision}, {change}, {counted(looked.keys, 'key')}"


def _as_json(looked: Looked) -> dict[str, object]:
    return {
        "revision": looked.revision,
        "price_change": looked.price_change,
        "keys": looked.keys,
        "is_of_today": looked.is_of_today,
        "read_by_others": looked.read_by_others,
    }
