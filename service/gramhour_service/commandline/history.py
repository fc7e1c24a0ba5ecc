"""The history of the rates: who changed them, when and why, and what a revision changed."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
from msgspec import UNSET

from gramhour.contract.changes import ChangedMember, RateDifference, RevisionChanges, StoredRevision
from gramhour.contract.problem import pointer
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault, told_when_refused
from gramhour_service.commandline.screen import paragraph, screen, show_texts
from gramhour_service.commandline.store import json_option, opened, store_option, written_json
from gramhour_service.commandline.stored import compact
from gramhour_service.commandline.words import counted
from gramhour_service.http.told import stored_revision
from gramhour_service.sheets.history import differences_between
from gramhour_service.store.rates import newest_revision, revisions_before

USUAL_LIMIT = 20


@click.command("history", cls=Once, short_help="List the revisions: who, when, why.")
@click.option(
    "--limit",
    type=click.IntRange(1, 1_000_000),
    default=USUAL_LIMIT,
    metavar="N",
    help=f"At most so many; {USUAL_LIMIT} unless said.",
)
@store_option
@json_option
@told_when_refused
def history(*, limit: int, store_path: Path, as_json: bool) -> None:
    """List the revisions of the rates, the newest first."""
    with opened(store_path) as store:
        newest = newest_revision(store)
        found = [stored_revision(each) for each in revisions_before(store, newest + 1, limit)]
    if as_json:
        click.echo(written_json(found))
    elif not found:
        click.echo("No rates are stored yet; there is no revision.")
    else:
        _show_revisions(found)


def _show_revisions(found: list[StoredRevision]) -> None:
    console = screen()
    header = ("Revision", "Known since", "In force from", "By", "Note", "Changes")
    rows = [
        (
            str(each.rates_revision),
            f"{each.known_since:%Y-%m-%d %H:%M %Z}",
            str(each.effective_from),
            each.made_by,
            each.note,
            str(each.changes),
        )
        for each in found
    ]
    show_texts(console, header, rows)
    if older := found[-1].rates_revision - 1:
        paragraph(console, f"{counted(older, 'older revision')} not shown; see --limit.")


@click.command("changes", cls=Once, short_help="Show what a revision changed.")
@click.argument("number", metavar="N", type=click.IntRange(1))
@click.option(
    "--since",
    type=click.IntRange(0),
    metavar="M",
    help="Compare with revision M; else with the one before.",
)
@store_option
@json_option
@told_when_refused
def changes(*, number: int, since: int | None, store_path: Path, as_json: bool) -> None:
    """Show what revision N changed, member by member: before and after."""
    earlier = number - 1 if since is None else since
    if earlier >= number:
        raise click.BadParameter(f"it must be a revision before {number}, or 0", param_hint="M")
    with opened(store_path) as store:
        newest = newest_revision(store)
        if number > newest:
            detail = f"there is no such revision; the newest is {newest}"
            raise NotAnswered("unknown-revision", [PlacedFault(str(store_path), "", detail)])
        found = differences_between(store, earlier, number)
    if as_json:
        told = RevisionChanges(rates_revision=number, since=earlier, changes=found)
        click.echo(written_json(told))
    elif not found:
        click.echo(f"Revision {number} and {earlier} have the same rates.")
    else:
        _show_changes(found)


def _show_changes(found: list[RateDifference]) -> None:
    header = ("Rate", "In force from", "Member", "Before → after")
    show_texts(screen(), header, [row for each in found for row in _rows(each)])


def _rows(difference: RateDifference) -> Iterator[tuple[str, str, str, str]]:
    """Tell a rate that differs, a row a member; its name and day stand in the first row only."""
    told = (f"{difference.kind}/{difference.code}", str(difference.effective_from))
    for changed in difference.members:
        for member in _leaves(changed):
            name = member.pointer.removeprefix("/") or "value"
            yield (*told, name, f"{_shown(member.before)} → {_shown(member.after)}")
            told = ("", "")


def _leaves(changed: ChangedMember) -> Iterator[ChangedMember]:
    """Spread an object that came or went over its members, as far as it goes."""
    whole = changed.after if changed.before is UNSET else changed.before
    one_sided = UNSET in (changed.before, changed.after)
    if not (one_sided and isinstance(whole, dict) and whole):
        yield changed
        return
    for name, value in whole.items():
        sides = {"before" if changed.after is UNSET else "after": value}
        yield from _leaves(ChangedMember(pointer=changed.pointer + pointer(name), **sides))


def _shown(value: Any) -> str:
    return "absent" if value is UNSET else compact(value)
