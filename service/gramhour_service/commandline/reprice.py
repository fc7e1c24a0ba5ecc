"""The reprice command: what listings should cost, by which rate it moved, and that it be so."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import click
from msgspec import json, to_builtins

from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.repricing import Applied
from gramhour_service.commandline.days import Day
from gramhour_service.commandline.files import read_document
from gramhour_service.commandline.meant import CHANGES
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.planned import tell_planned_by_recalled
from gramhour_service.commandline.refusals import placed, told_when_refused
from gramhour_service.commandline.repriced import counts_in_words, moves_in_words, show_repricing
from gramhour_service.commandline.repricing_by import Came, Wanted, by_service, by_store
from gramhour_service.commandline.screen import screen
from gramhour_service.commandline.service import service_asked, service_options
from gramhour_service.commandline.slips import (
    PROPOSED,
    in_service,
    present_in,
    tell_cautions,
    tell_near,
)
from gramhour_service.commandline.store import written_json
from gramhour_service.commandline.words import counted
from gramhour_service.resolve.unlikely import as_cautions
from gramhour_service.resolve.usual import unusual_in_stored
from gramhour_service.store.rates import Key

USUAL_LINES = 50
MOST_DAYS = 3
OF_A_PROPOSAL = ("changes", "effective_from", "note", "based_on_revision")
"""The last is for saving them; what might become is always upon the newest rates."""
FOR_APPLY = {
    "left_out": "--except",
    "confirm": "--confirm",
    "effective_from": "--from",
    "max_change": "--max-change",
}
DAY = Day()


@click.command("reprice", cls=Once, short_help="Price listings anew: what moves, and why.")
@click.option(
    "--propose",
    "file",
    metavar="FILE",
    help="By rates as they might become: TOML or JSON, [[changes]] with kind, code and value.",
)
@click.option("--all", "over_all", is_flag=True, help="All listings, not only those affected.")
@click.option("--sku", "skus", multiple=True, metavar="SKU", help="Only this listing; repeatable.")
@click.option("--on", "on", type=DAY, metavar="DAY", help="By the rates of that day.")
@click.option("--discount", metavar="PCT", help="A sale: so much per cent off.")
@click.option("--apply", "applies", is_flag=True, help="List the new prices.")
@click.option(
    "--except", "left_out", multiple=True, metavar="SKU", help="Its price stays; repeatable."
)
@click.option(
    "--confirm", multiple=True, metavar="SKU", help="Its price may move by much; repeatable."
)
@click.option(
    "--from", "effective_from", type=DAY, metavar="DAY", help="The new prices hold from then on."
)
@click.option(
    "--max-change", metavar="PCT", help="What moves by more must be confirmed; 30 unless said."
)
@click.option("--note", help="What it is for; kept with the prices.")
@click.option(
    "--lines",
    type=click.IntRange(0),
    metavar="N",
    help=f"Show the worst N; {USUAL_LINES} unless said, with --json all.",
)
@service_options
@told_when_refused
def reprice(
    *,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
    lines: int | None,
    **options: Any,
) -> None:
    """Say what listings should cost by today's rates, which move, and which rate moved them.

    Those whose price can differ from the listed one, unless told otherwise. Nothing is changed
    without --apply: with it the new prices are listed, all of them or none, but for those left out.
    """
    service = service_asked(url)
    most = lines if lines is not None or as_json else USUAL_LINES
    wanted = _wanted(options, most)
    came = by_store(wanted, store_path) if service is None else by_service(wanted, service, key)
    if came.not_applied is not None:
        if came.not_applied.kind == "invalid-request":  # what was typed, not what came of it
            raise came.not_applied
        click.echo("Nothing was applied; why stands below the report.", err=True)
    if as_json:
        click.echo(written_json(_as_json(came)))
    else:
        _show(came)
    click.echo(counts_in_words(came.repricing.counts, came.repricing.of), err=True)
    for said in moves_in_words(came.repricing):
        click.echo(said, err=True)
    if proposed := _proposed(wanted):
        tell_cautions(as_cautions(_unlikely(proposed)))
        present = present_in(store_path) if service is None else in_service(service, key)
        tell_near(set(proposed) - present, present, PROPOSED)
    if came.applied is not None:
        tell_planned_by_recalled(came.applied.planned_by_recalled)
    if came.not_applied is not None:
        raise came.not_applied
    if came.repricing.counts.failed:
        click.get_current_context().exit(1)


def _wanted(options: dict[str, Any], lines: int | None) -> Wanted:
    """Say as the contract does what the options say. Raises ``NotAnswered`` and ``UsageError``."""
    file = options["file"]
    _check(options)
    asked = {} if file is None else _proposal(file)
    said = {
        "over": "all" if options["over_all"] else None,
        "skus": list(options["skus"]),
        "rates_on": _day(options["on"]),
        "discount_pct": options["discount"],
        "note": options["note"],
    }
    asked |= _given(said)
    if not options["applies"]:
        return Wanted(asked, None, file, lines)
    applied = {
        "except": list(options["left_out"]),
        "confirm": list(options["confirm"]),
        "effective_from": _day(options["effective_from"]),
        "max_change_pct": options["max_change"],
    }
    return Wanted(asked, _given(applied), file, lines)


def _check(options: dict[str, Any]) -> None:
    """Refuse options that do not go together."""
    if not options["applies"]:
        alone = [option for name, option in FOR_APPLY.items() if options[name]]
        if alone:
            raise click.UsageError(f"{', '.join(alone)} says how to --apply, which is not asked")
    elif options["file"] is not None:
        raise click.UsageError(
            "rates that are only proposed cannot be applied; save them, then reprice"
        )
    if options["over_all"] and options["skus"]:
        raise click.UsageError("--all and --sku exclude each other; give one of them")


def _given(said: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in said.items() if value not in (None, [])}


def _day(moment: datetime | None) -> str | None:
    return None if moment is None else moment.date().isoformat()


def _proposal(file: str) -> dict[str, Any]:
    """Read rates as they might become. Raises ``NotAnswered``."""
    try:
        says = read_document(file, CHANGES).says
    except Refused as refused:
        raise placed(refused, file) from None
    if not isinstance(says, dict) or "changes" not in says:
        detail = "there are no [[changes]], each with kind, code and value"
        raise placed(Refused("invalid-request", (Fault("", detail),)), file)
    detail = f"unknown member; here stand {', '.join(OF_A_PROPOSAL)}"
    unknown = [Fault(pointer(name), detail) for name in says if name not in OF_A_PROPOSAL]
    if unknown:
        raise placed(Refused("invalid-request", tuple(unknown)), file)
    dated = _given({"rates_on": says.get("effective_from"), "note": says.get("note")})
    asked: dict[str, Any] = to_builtins({"proposed": says["changes"], **dated})
    return asked


def _proposed(wanted: Wanted) -> dict[Key, str]:
    """List the rates that are proposed, as they would be stored."""
    return {
        (each["kind"], each["code"]): json.encode(each["value"]).decode()
        for each in wanted.asked.get("proposed", ())
        if each.get("value") is not None
    }


def _unlikely(proposed: dict[Key, str]) -> Iterator[str]:
    for (kind, code), value in proposed.items():
        yield from unusual_in_stored(kind, code, value)


def _as_json(came: Came) -> dict[str, Any]:
    told = {"repricing": came.repricing, "lines": came.lines}
    return told if came.applied is None else {**told, "applied": came.applied}


def _show(came: Came) -> None:
    show_repricing(screen(), came.repricing, came.lines)
    hidden = came.repricing.of - len(came.lines)
    if hidden > 0:
        click.echo(f"{counted(hidden, 'more line')}; see --lines.", err=True)
    if came.applied is not None:
        _show_applied(came.applied)


def _show_applied(done: Applied) -> None:
    click.echo(
        f"Applied: {counted(done.applied, 'price')} from {done.valid_from} on, "
        f"{done.left_out} left out; change {done.change}."
    )
    if done.failed:
        click.echo(f"{counted(done.failed, 'listing')} failed and keep what they have.", err=True)
    if done.overruled:
        days = sorted({f"{each.valid_from}" for each in done.overruled_by})
        click.echo(
            f"{counted(done.overruled, 'planned price')} of these listings, made earlier, will "
            f"take over ({', '.join(days[:MOST_DAYS])}): reprice --on that day to look at them.",
            err=True,
        )
