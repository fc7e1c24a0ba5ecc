"""The quote command: one request, answered as a table or as the contract's JSON."""

from pathlib import Path
from typing import Any

import click

from gramhour.contract.problem import Fault, Refused
from gramhour_service.commandline.asking import by_own_rates, by_service, by_sheet, by_store
from gramhour_service.commandline.explained import show_explanations
from gramhour_service.commandline.files import (
    Document,
    read_bytes,
    read_document,
    shown,
    write_file,
)
from gramhour_service.commandline.meant import REQUEST, SHEET, STANDARD_INPUT, Kind
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.part_options import mesh_asked, part_options
from gramhour_service.commandline.quote_part import PartQuoted, Place, Wish, quoted_part, show_part
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.refusals import NotAnswered, placed, told_when_refused
from gramhour_service.commandline.screen import screen
from gramhour_service.commandline.service import is_typed, key_option, url_option
from gramhour_service.commandline.store import has_store, store_option, written_json
from gramhour_service.commandline.stored import sheet_option
from gramhour_service.commandline.table import show_quote

NO_RATES = (
    "name a rate sheet with --rates SHEET, put one into the request as 'rates', or store one: "
    "gramhour rates import SHEET. To begin a sheet: gramhour demo-sheet > my-rates.toml, with "
    "your own prices in it"
)

WRITTEN = (
    "{} is written. Open it in an office that reads OpenDocument (.ods), such as LibreOffice Calc, "
    "and change a yellow cell on Rates or Description: the quote computes anew. It shows all costs."
)

TWO_SHEETS = (
    "here is a rate sheet, and {} is another: say which one counts; "
    "take 'rates' out of the request, or leave --rates away"
)


@click.command(cls=Once, short_help="Quote a product: its cost, its price, alone and in quantity.")
@click.argument("file")
@sheet_option
@store_option
@url_option
@key_option
@part_options
@click.option(
    "--explain", is_flag=True, help="Say how each figure came about, and what was assumed."
)
@click.option(
    "--workbook",
    "workbook_file",
    metavar="FILE",
    help="Write a workbook too (.ods), whose cells are formulas.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="The whole answer, or what is wrong, as JSON."
)
@told_when_refused
def quote(  # noqa: PLR0913 (one for each option)
    *,
    file: str,
    sheet_file: str | None,
    store_path: Path,
    url: str | None,
    key: str | None,
    explain: bool,
    workbook_file: str | None,
    as_json: bool,
    **of_a_part: Any,
) -> None:
    """Quote the product in FILE: what it costs and what to ask for it, alone and in quantity.

    FILE is a request in TOML or JSON; - reads it from standard input. It is priced by its own
    rates if it brings some, else by the sheet named with --rates, else by a running service's
    rates if its --url is known, else by those of the store on this machine.

    Or FILE is a mesh, STL (taken in mm) or 3MF: a part that is measured, and made as a --service
    of the rates says, its work and packing included; or, without one, as a --profile, a --machine
    and a --nozzle print it, sold on a --channel, with nobody's work in it.
    """
    if file == sheet_file == STANDARD_INPUT:
        raise click.UsageError("standard input can be read once: as FILE or as --rates, not both")
    if key is not None and url is None and is_typed("key"):
        raise click.UsageError("--key is for a running service: name it with --url")
    _check_meant(workbook_file)
    options = {name: value for name, value in of_a_part.items() if value is not None}
    part = None
    if kind := mesh_asked(file, options):
        if url is None and sheet_file is None and not has_store(store_path):
            raise _no_rates(file, store_path)
        at = Place(url, key, sheet_file, store_path)
        part = quoted_part(Wish(file, _mesh(file), kind, options), at, explain=explain)
        quoted = part.quoted
    elif url is not None and sheet_file is None:
        quoted = by_service(read_one(file, REQUEST), url, key, explain=explain)
    else:
        quoted = _ask(file, sheet_file, store_path, explain=explain)
    if workbook_file is not None:
        _write_workbook(workbook_file, quoted)
    if as_json:
        click.echo(written_json(quoted.answer))
    else:
        _show(quoted, part, file, explain=explain)
    if workbook_file is not None:
        click.echo(WRITTEN.format(workbook_file), err=True)


def _check_meant(workbook_file: str | None) -> None:
    """Refuse options of which one would not count, and a name that is not of its file's kind."""
    if sum(map(is_typed, ("sheet_file", "store_path", "url"))) > 1:
        raise click.UsageError("--rates, --store and --url each say whose rates count: name one")
    if workbook_file is not None and not workbook_file.lower().endswith(".ods"):
        raise click.UsageError("--workbook writes an OpenDocument: let the name end in .ods")


def _show(quoted: Quoted, part: PartQuoted | None, file: str, *, explain: bool) -> None:
    """Show a quote on the screen, below the part that was measured for it."""
    console = screen()
    if part is not None:
        show_part(console, part, file)
    show_quote(console, quoted, explained=explain)
    if explain:
        show_explanations(console, quoted)


def _write_workbook(file: str, quoted: Quoted) -> None:
    """Write the workbook of a quote. Raises ``NotAnswered`` if it cannot be made or written."""
    try:
        write_file(file, quoted.workbook())
    except Refused as refused:
        raise placed(refused, file) from None


def _ask(file: str, sheet_file: str | None, store_path: Path, *, explain: bool) -> Quoted:
    """Read request and sheet, and ask. Raises ``NotAnswered`` with every fault found."""
    if sheet_file is not None:
        request, sheet = read_all((file, REQUEST), (sheet_file, SHEET))
        if own_rates(request) is not None:
            twice = Fault("/rates", TWO_SHEETS.format(shown(sheet_file)))
            raise placed(Refused("two-rate-sheets", (twice,)), file)
        return by_sheet(request, sheet, explain=explain)
    request = read_one(file, REQUEST)
    if own_rates(request) is not None:
        return by_own_rates(request, explain=explain)
    if has_store(store_path):
        return by_store(request, store_path, explain=explain)
    raise _no_rates(file, store_path)


def _no_rates(file: str, store_path: Path) -> NotAnswered:
    remedy = f"there is no store at {store_path}; {NO_RATES}"
    return placed(Refused("no-rates", (Fault("/rates", remedy),)), file)


def _mesh(file: str) -> bytes:
    try:
        return read_bytes(file)
    except Refused as refused:
        raise placed(refused, file) from None


def read_one(file: str, wanted: Kind) -> Document:
    """Read a file. Raises ``NotAnswered`` with what is wrong with it."""
    (document,) = read_all((file, wanted))
    return document


def read_all(*files: tuple[str, Kind]) -> list[Document]:
    """Read all files. Raises ``NotAnswered`` with what is wrong with any of them."""
    documents: list[Document] = []
    refusals: list[NotAnswered] = []
    for file, wanted in files:
        try:
            documents.append(read_document(file, wanted))
        except Refused as refused:
            refusals.append(placed(refused, file))
    if refusals:
        raise NotAnswered(refusals[0].kind, [fault for each in refusals for fault in each.faults])
    return documents


def own_rates(request: Document) -> Any:
    """Find the rates that a request brings itself."""
    return request.says.get("rates") if isinstance(request.says, dict) else None
