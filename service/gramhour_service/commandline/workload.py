"""The workload command: what machines are promised for, shown or put anew."""

import re
from collections.abc import Sequence
from pathlib import Path

import click
from rich.table import Table

from gramhour.client import Client
from gramhour.contract.members import CODE_PATTERN
from gramhour.contract.workload import StoredWorkload
from gramhour.errors import GramhourError, Refusal
from gramhour_service.commandline.characters import printable
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault, told_when_refused
from gramhour_service.commandline.screen import paragraph, screen
from gramhour_service.commandline.service import key_option, url_option
from gramhour_service.commandline.store import json_option, opened, store_option, written_json

QUEUE = re.compile(rf"({CODE_PATTERN})=([0-9.]+(?:,[0-9.]+)*)")


@click.command(
    cls=Once, short_help="Show or say how long each machine is promised to other orders."
)
@click.argument("queues", nargs=-1, metavar="[MACHINE=HOURS]...")
@click.option("--free", is_flag=True, help="No machine is promised to anybody.")
@store_option
@url_option
@key_option
@json_option
@told_when_refused
def workload(
    *,
    queues: Sequence[str],
    free: bool,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
) -> None:
    """Show what machines are promised for; with MACHINE=HOURS put it, whole, in place of that.

    Lead times begin behind it. A code that stands for several machines has an entry for each,
    with commas between them; machines that are not named are free.
    """
    if free and queues:
        raise click.UsageError("--free leaves no machine promised: name none, or leave it out")
    wanted = _read(queues)
    if url is None:
        with opened(store_path):  # whether there is one, and may be used
            pass
    try:
        with Client(url=url, key=key) if url else Client.local(store=store_path) as client:
            told = client.workload()
            if free or wanted:
                told = client.put_workload(wanted, if_match=told.tag)
    except Refusal as refusal:
        faults = [PlacedFault(url or str(store_path), f.place, f.detail) for f in refusal.faults]
        raise NotAnswered(refusal.type, faults) from None
    except (GramhourError, ValueError) as error:
        raise NotAnswered("no-answer", [PlacedFault(url or "", "", str(error))]) from None
    click.echo(written_json(told)) if as_json else _show(told)


def _read(queues: Sequence[str]) -> dict[str, list[str]]:
    """Read MACHINE=HOURS. Raises ``UsageError``."""
    wanted = {}
    for each in queues:
        found = QUEUE.fullmatch(each)
        if found is None:
            raise click.UsageError(f"{each!r} is no MACHINE=HOURS, such as large=4.5")
        if found[1] in wanted:
            raise click.UsageError(f"{found[1]} stands twice; write its entries with commas")
        wanted[found[1]] = found[2].split(",")
    return wanted


def _show(told: StoredWorkload) -> None:
    console = screen()
    if not told.machines:
        paragraph(console, "No machine is promised for anything: lead times begin at once.")
        return
    table = Table("machine", "hours promised", box=None)
    for code, queue in sorted(told.machines.items()):
        table.add_row(printable(code), ", ".join(f"{each:f}" for each in queue.queue_h))
    console.print(table)
    paragraph(console, f"Put {told.changed_at} by {printable(str(told.changed_by))}.")
