"""The quote command: one request, answered as a table or as the contract's JSON."""

from typing import Any

import click
import msgspec

from gramhour.contract.answer import Quote
from gramhour.contract.problem import Fault, Refused
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.commandline.explained import show_explanations
from gramhour_service.commandline.files import STANDARD_INPUT, Document, read_document, shown
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.refusals import NotAnswered, placed, show_refusal
from gramhour_service.commandline.screen import screen
from gramhour_service.commandline.table import show_quote
from gramhour_service.resolve.sheet import sound_sheet

NO_RATES = (
    "name a rate sheet with --rates SHEET, or put one into the request as 'rates'. "
    "To begin a sheet: gramhour demo-sheet > my-rates.toml, with your own prices in it"
)

TWO_SHEETS = (
    "here is a rate sheet, and {} is another: say which one counts; "
    "take 'rates' out of the request, or leave --rates away"
)


@click.command(short_help="Quote a product: its cost, its price, alone and in quantity.")
@click.argument("file")
@click.option("--rates", "sheet_file", metavar="SHEET", help="The rate sheet, TOML or JSON.")
@click.option(
    "--explain", is_flag=True, help="Say how each figure came about, and what was assumed."
)
@click.option(
    "--json", "as_json", is_flag=True, help="The whole answer, or what is wrong, as JSON."
)
@click.pass_context
def quote(
    context: click.Context, file: str, sheet_file: str | None, *, explain: bool, as_json: bool
) -> None:
    """Quote the product in FILE: what it costs and what to ask for it, alone and in quantity.

    FILE is a request in TOML or JSON; - reads it from standard input. It needs a rate sheet:
    name one with --rates, unless the request brings its own.
    """
    if file == sheet_file == STANDARD_INPUT:
        raise click.UsageError("standard input can be read once: as FILE or as --rates, not both")
    try:
        quoted = _ask(file, sheet_file, explain=explain)
    except NotAnswered as refusal:
        show_refusal(refusal, as_json=as_json)
        context.exit(1)
    if as_json:
        click.echo(msgspec.json.format(msgspec.json.encode(quoted.answer), indent=2))
        return
    console = screen()
    show_quote(console, quoted, explained=explain)
    if explain:
        show_explanations(console, quoted)


def _ask(file: str, sheet_file: str | None, *, explain: bool) -> Quoted:
    """Read request and sheet, and ask. Raises ``NotAnswered`` with every fault found."""
    if sheet_file is None:
        (request,) = _read(file)
        rates = _own_rates(request)
        if rates is None:
            raise placed(Refused("no-rates", (Fault("/rates", NO_RATES),)), file)
        answer = _answer(request, None, explain=explain)
    else:
        request, sheet = _read(file, sheet_file)
        rates = sheet.says
        if _own_rates(request) is not None:
            twice = Fault("/rates", TWO_SHEETS.format(shown(sheet_file)))
            raise placed(Refused("two-rate-sheets", (twice,)), file)
        answer = _answer(request, sheet, explain=explain)
    return Quoted(answer, request.says, rates, sheet_file)


def _read(*files: str) -> list[Document]:
    """Read all files. Raises ``NotAnswered`` with what is wrong with any of them."""
    documents: list[Document] = []
    refusals: list[NotAnswered] = []
    for file in files:
        try:
            documents.append(read_document(file))
        except Refused as refused:
            refusals.append(placed(refused, file))
    if refusals:
        raise NotAnswered(refusals[0].kind, [fault for each in refusals for fault in each.faults])
    return documents


def _own_rates(request: Document) -> Any:
    """Find the rates that a request brings itself."""
    return request.says.get("rates") if isinstance(request.says, dict) else None


def _answer(request: Document, sheet: Document | None, *, explain: bool) -> Quote:
    sheet_file = None if sheet is None else sheet.file
    try:
        rates = None if sheet is None else sound_sheet(sheet.says)
    except Refused as refused:
        raise placed(refused, str(sheet_file)) from None
    try:
        return answer_quote(request.says, rates, explain=explain)
    except Refused as refused:
        raise placed(refused, request.file, sheet_file) from None
