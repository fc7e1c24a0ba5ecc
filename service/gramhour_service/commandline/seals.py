"""The seals commands: keys turned over, seals recalled, a key believed no more."""

from pathlib import Path

import click
from sqlite_utils import Database

from gramhour_service.commandline.offered import MADE_BY
from gramhour_service.commandline.once import Several
from gramhour_service.commandline.planned import tell_planned_by_recalled
from gramhour_service.commandline.progress import shown_progress
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault, told_when_refused
from gramhour_service.commandline.screen import screen, show_texts
from gramhour_service.commandline.store import (
    json_option,
    now,
    opened,
    store_option,
    written_json,
)
from gramhour_service.commandline.verify_seal import verify
from gramhour_service.commandline.words import counted
from gramhour_service.repricing.applying import still_by_recalled
from gramhour_service.seals.listed import seal_listed
from gramhour_service.seals.standing import Standing, standing
from gramhour_service.seals.turning import (
    NoSuchKey,
    NoSuchRevision,
    distrust,
    recall,
    rename,
    rotate,
)
from gramhour_service.sheets.in_force import Sheets, day_in_shop
from gramhour_service.store.entries import Written
from gramhour_service.store.prices import newest_change
from gramhour_service.store.seals import distrusts, recalls
from gramhour_service.store.signing_keys import KeyRow

NEXT_AFTER_RECALL = (
    "What is listed by a recalled revision has no seal until right rates are saved and confirmed: "
    "gramhour reprice --all --apply"
)

note_option = click.option("--note", default="", metavar="TEXT", help="Why, for those who ask.")


@click.group(cls=Several, short_help="Sealed prices: their keys, and recalling them.")
def seals() -> None:
    """Sealed prices. A seal is a signed promise of a price to whoever shows it.

    The keys that sign lie in the store and go over no wire. So all of this but verify works on the
    store itself, on the machine where it is, also while it is served; no --url reaches it.
    """


@seals.command("show", short_help="Show the keys, and what was recalled.")
@store_option
@json_option
@told_when_refused
def show(*, store_path: Path, as_json: bool) -> None:
    """Show who promises, the keys with their states, and the revisions that were recalled."""
    with opened(store_path) as store:
        _show(store, as_json=as_json)


@seals.command("rotate", short_help="Sign with a new key from now on.")
@store_option
@json_option
@told_when_refused
def rotate_key(*, store_path: Path, as_json: bool) -> None:
    """Sign with a new key from now on.

    Seals by the older ones count until they expire: their public keys stay published for 92 days.
    """
    with opened(store_path) as store:
        rotate(store, Written(MADE_BY, now()))
        _show(store, as_json=as_json)


@seals.command("recall", short_help="Let seals by a revision of the rates count no more.")
@click.option(
    "--revision",
    "revisions",
    type=click.IntRange(1, 999_999_999),
    multiple=True,
    required=True,
    metavar="N",
    help="Each in which the mistake stood; may be given several times.",
)
@note_option
@store_option
@json_option
@told_when_refused
def recall_revisions(
    *, revisions: tuple[int, ...], note: str, store_path: Path, as_json: bool
) -> None:
    """Let no seal by revision N of the rates count any more: a rate in it was mistyped.

    Prices of other revisions are signed anew, by a new key. What is listed stays listed: save
    right rates first, and reprice --all --apply after; for days with planned prices, too.
    """
    with opened(store_path) as store:
        try:
            recall(store, revisions, note, Written(MADE_BY, now()))
        except NoSuchRevision as error:
            detail = f"there is no such revision; the newest is {error.newest}"
            raise _refused(store_path, detail) from None
        done = _seal_all(store)
        _show(store, as_json=as_json)
        at = now()
        today = day_in_shop(Sheets(store).pinned_today(at), at)
        planned = still_by_recalled(store, today)
    click.echo(f"{counted(done, 'price')} signed anew. {NEXT_AFTER_RECALL}", err=True)
    tell_planned_by_recalled(planned)


@seals.command(
    "distrust",
    short_help="Believe nothing that a key signed.",
    context_settings={"ignore_unknown_options": True},  # a key's name may begin with a hyphen
)
@click.argument("kid", metavar="KEY")
@note_option
@store_option
@json_option
@told_when_refused
def distrust_key(*, kid: str, note: str, store_path: Path, as_json: bool) -> None:
    """Believe nothing that KEY signed, from now on: somebody else has it, or a copy of the store.

    Nor what keys before it signed, and no measurement of a file: the copy has those keys too. All
    prices are signed anew by another key; customers have their files measured again.
    """
    with opened(store_path) as store:
        try:
            distrust(store, kid, note, Written(MADE_BY, now()))
        except NoSuchKey:
            detail = "there is no such key; gramhour seals show has them"
            raise _refused(store_path, detail) from None
        done = _seal_all(store)
        _show(store, as_json=as_json)
    click.echo(f"{counted(done, 'price')} signed anew.", err=True)


@seals.command("issuer", short_help="Say under which name prices are promised.")
@click.argument("name")
@store_option
@json_option
@told_when_refused
def issuer(*, name: str, store_path: Path, as_json: bool) -> None:
    """Promise as NAME from now on, such as your shop's web address. Seals kept so far keep theirs.

    Until then it is a name made at random.
    """
    with opened(store_path) as store:
        try:
            rename(store, name)
        except ValueError as error:
            raise _refused(store_path, f"the name must be {error}") from None
        _show(store, as_json=as_json)


def _seal_all(store: Database) -> int:
    newest = newest_change(store)
    with shown_progress("Sealing") as told:
        return seal_listed(store, now(), 0, newest, lambda change: told(change, newest))


def _show(store: Database, *, as_json: bool) -> None:
    found = standing(store)
    if as_json:
        click.echo(written_json(_as_json(store, found)))
        return
    if found.issuer is None:
        click.echo("Nothing is sealed yet; prices are when they are applied.", err=True)
        return
    click.echo(f"Prices are promised as {found.issuer}.")
    header = ("Key", "Made", "State")
    show_texts(screen(), header, [(row.kid, row.made_at[:10], _state(found, row))
                                  for row in found.ring.rows])  # fmt: skip
    for each in recalls(store):
        why = f": {each.note}" if each.note else ""
        click.echo(f"Revision {each.revision} recalled {each.recalled_at[:10]}{why}")


def _state(found: Standing, row: KeyRow) -> str:
    if row.kid in found.distrusted:
        return "not believed"
    if row.retired_at is None:
        return "signs"
    is_told = row.kid in {each.kid for each in found.told(now())}
    return f"retired {row.retired_at[:10]}, {'published' if is_told else 'not published'}"


def _as_json(store: Database, found: Standing) -> dict[str, object]:
    return {
        "issuer": found.issuer,
        "keys": [
            {"kid": row.kid, "made_at": row.made_at, "state": _state(found, row)}
            for row in found.ring.rows
        ],
        "recalled": [each._asdict() for each in recalls(store)],
        "distrusted": [each._asdict() for each in distrusts(store)],
    }


def _refused(path: Path, detail: str) -> NotAnswered:
    return NotAnswered("seals", [PlacedFault(str(path), "", detail)])


seals.add_command(verify)
