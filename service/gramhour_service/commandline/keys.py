"""The keys commands: add one (it is shown once), list them, revoke one."""

import re
import secrets
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.members import CODE_PATTERN
from gramhour.contract.noting import nearest, shown
from gramhour_service.commandline.characters import printable
from gramhour_service.commandline.days import DAY, INSTANT, Day
from gramhour_service.commandline.once import Several
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault, told_when_refused
from gramhour_service.commandline.screen import screen, show_texts
from gramhour_service.commandline.store import (
    json_option,
    now,
    opened,
    store_option,
    written_json,
)
from gramhour_service.http.asking import OPENS
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.key_use import last_uses
from gramhour_service.store.keys import (
    AccessKey,
    NameTaken,
    NoSuchKey,
    add_key,
    list_keys,
    revoke_key,
    rotate_key,
)

RANDOM_BYTES = 32
PAST = (
    "--expires is in the past: a key opens nothing from the beginning of its day on (UTC); "
    "name {} or a later one"
)
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,62}", re.ASCII)
CODE = re.compile(CODE_PATTERN)


@click.group(cls=Several, short_help="Keys that callers show.")
def keys() -> None:
    """Keys that callers show. A key is kept as a hash only: it is shown once, when it is added."""


@keys.command("add", short_help="Add a key and print it, once.")
@click.argument("name")
@click.option(
    "--scope",
    "scopes",
    multiple=True,
    required=True,
    type=click.Choice(list(OPENS)),
    help="What it opens; may be given several times. cost, rates and listings include price.",
)
@click.option(
    "--channel",
    "channels",
    multiple=True,
    metavar="CODE",
    help="Only for this channel.",
)
@click.option(
    "--expires",
    "expires_at",
    type=Day((DAY, INSTANT)),
    metavar="DAY",
    help="Opens nothing from that day on (UTC).",
)
@store_option
@json_option
@told_when_refused
def add(
    *,
    name: str,
    scopes: tuple[str, ...],
    channels: tuple[str, ...],
    expires_at: datetime | None,
    store_path: Path,
    as_json: bool,
) -> None:
    """Add a key called NAME and print it, alone, on standard output: it is never shown again."""
    _check_name(name)
    for channel in channels:
        if not CODE.fullmatch(channel):
            raise click.BadParameter(f"'{channel}' is no channel's code")
    if expires_at is not None:
        expires_at = expires_at if expires_at.tzinfo else expires_at.replace(tzinfo=UTC)
        if expires_at <= now():
            tomorrow = now().astimezone(UTC).date() + timedelta(days=1)
            raise click.BadParameter(PAST.format(tomorrow))
    secret = secrets.token_urlsafe(RANDOM_BYTES)
    with opened(store_path, create=True) as store:
        unknown = _unknown(store, channels)
        try:
            add_key(
                store, name, secret, scopes, now=now(), channels=channels, expires_at=expires_at
            )
        except NameTaken:
            detail = f"there is, or was, a key '{name}'; names are used once, take another"
            raise _refused(store_path, detail) from None
    for says in unknown:
        click.echo(f"{says} If that is a slip, revoke '{name}' and add another key.", err=True)
    click.echo(written_json({"name": name, "key": secret}) if as_json else secret)


@keys.command("list", short_help="List the keys.")
@store_option
@json_option
@told_when_refused
def list_(*, store_path: Path, as_json: bool) -> None:
    """List all keys, revoked and expired ones too.

    That a key was used is written a second later; of one that is used all the time, once a minute.
    """
    with opened(store_path) as store:
        found, used = list_keys(store), last_uses(store)
    if as_json:
        click.echo(written_json([_as_json(key, used.get(key.name)) for key in found]))
    elif found:
        header = ("Key", "Scopes", "Channels", "Added", "Used", "State")
        show_texts(screen(), header, [_cells(key, used.get(key.name)) for key in found])
    else:
        click.echo("There are no keys yet: gramhour keys add NAME --scope cost", err=True)


@keys.command("rotate", short_help="Put a new key in a key's place.")
@click.argument("name")
@click.argument("new_name")
@click.option(
    "--days",
    type=click.FloatRange(0, 90),
    default=7,
    show_default=True,
    help="So long the old key still opens, until callers have the new one.",
)
@store_option
@json_option
@told_when_refused
def rotate(*, name: str, new_name: str, days: float, store_path: Path, as_json: bool) -> None:
    """Add the key NEW_NAME that may do what NAME may, print it once, and let NAME end.

    If NAME may be in wrong hands, revoke it at once as well.
    """
    _check_name(name)
    _check_name(new_name)
    secret, at = secrets.token_urlsafe(RANDOM_BYTES), now()
    ends_at = at + timedelta(days=days)
    with opened(store_path) as store:
        try:
            rotate_key(store, name, new_name, secret, now=at, ends_at=ends_at)
        except NameTaken:
            detail = f"there is, or was, a key '{new_name}'; names are used once, take another"
            raise _refused(store_path, detail) from None
        except NoSuchKey:
            detail = f"there is no key '{name}' that opens anything and goes on until then"
            raise _refused(store_path, detail) from None
    click.echo(f"'{printable(name)}' opens until {ends_at:%Y-%m-%d %H:%M} UTC.", err=True)
    click.echo(written_json({"name": new_name, "key": secret}) if as_json else secret)


@keys.command("revoke", short_help="Make a key open nothing.")
@click.argument("name")
@store_option
@json_option
@told_when_refused
def revoke(*, name: str, store_path: Path, as_json: bool) -> None:
    """Make the key called NAME open nothing, from the next request on."""
    _check_name(name)
    with opened(store_path) as store:
        try:
            revoke_key(store, name, now=now())
        except NoSuchKey:
            raise _refused(store_path, f"there is no key '{name}' that opens anything") from None
    if as_json:
        click.echo(written_json({"revoked": name}))
    else:
        click.echo(f"'{printable(name)}' opens nothing any more.", err=True)


def _unknown(store: Database, channels: Sequence[str]) -> list[str]:
    """Say which channels today's rates do not have: a key may be for one that is still to come."""
    today = Sheets(store).pinned_today(now())
    if today is None:
        return []
    present = today.in_force.sheet.channels
    known = {} if present is UNSET else present
    return [
        f"The rates in force have no channel {shown(each)}{nearest(each, known) or '.'}"
        for each in channels
        if each not in known
    ]


def _check_name(name: str) -> None:
    if not NAME.fullmatch(name):
        raise click.BadParameter("begin with a letter or digit; at most 63 letters, digits, . _ -")


def _refused(path: Path, detail: str) -> NotAnswered:
    return NotAnswered("key", [PlacedFault(str(path), "", detail)])


def _state(key: AccessKey) -> str:
    if key.revoked_at is not None:
        word = "revoked" if key.revoked_at <= now() else "good until"
        return f"{word} {key.revoked_at:%Y-%m-%d}"
    if key.expires_at is None:
        return "good"
    word = "good until" if key.is_good(now()) else "expired"
    return f"{word} {key.expires_at:%Y-%m-%d}"


def _cells(key: AccessKey, used_at: datetime | None) -> tuple[str, ...]:
    channels = ", ".join(sorted(key.channels)) or "all"
    scopes, added = ", ".join(sorted(key.scopes)), f"{key.added_at:%Y-%m-%d}"
    used = "never" if used_at is None else f"{used_at:%Y-%m-%d}"
    return key.name, scopes, channels, added, used, _state(key)


def _as_json(key: AccessKey, used_at: datetime | None) -> dict[str, object]:
    return {
        "name": key.name,
        "scopes": sorted(key.scopes),
        "channels": sorted(key.channels),
        "added_at": key.added_at,
        "used_at": used_at,
        "expires_at": key.expires_at,
        "revoked_at": key.revoked_at,
    }
