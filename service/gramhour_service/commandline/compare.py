"""The compare command: ways to make a product side by side, as tables or as the contract's JSON."""

from pathlib import Path

import click

from gramhour.contract.problem import Fault, Refused
from gramhour_service.commandline.compared import show_comparison
from gramhour_service.commandline.comparing_by import (
    Answered,
    by_own_rates,
    by_service,
    by_sheet,
    by_store,
)
from gramhour_service.commandline.files import shown
from gramhour_service.commandline.meant import COMPARISON, SHEET, STANDARD_INPUT
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.quote import (
    NO_RATES,
    TWO_SHEETS,
    own_rates,
    read_all,
    read_one,
)
from gramhour_service.commandline.refusals import placed, told_when_refused
from gramhour_service.commandline.screen import screen
from gramhour_service.commandline.service import is_typed, key_option, url_option
from gramhour_service.commandline.store import has_store, store_option, written_json
from gramhour_service.commandline.stored import sheet_option


@click.command(cls=Once, short_help="Compare ways to make a product: nozzles, filaments, printers.")
@click.argument("file")
@sheet_option
@store_option
@url_option
@key_option
@click.option(
    "--json", "as_json", is_flag=True, help="The whole answer, or what is wrong, as JSON."
)
@told_when_refused
def compare(
    *,
    file: str,
    sheet_file: str | None,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
) -> None:
    """Compare the ways to make a product in FILE: which one is best, and at how many?

    FILE is a comparison in TOML or JSON; - reads it from standard input. Its rates are found as
    those of a quote are: its own, those of --rates, a running service's, the store's.
    """
    if file == sheet_file == STANDARD_INPUT:
        raise click.UsageError("standard input can be read once: as FILE or as --rates, not both")
    if key is not None and url is None and is_typed("key"):
        raise click.UsageError("--key is for a running service: name it with --url")
    if url is not None and sheet_file is None:
        answered = by_service(read_one(file, COMPARISON), url, key)
    else:
        answered = _answered(file, sheet_file, store_path)
    if as_json:
        click.echo(written_json(answered.comparison))
        return
    show_comparison(screen(), answered.comparison, answered.request)


def _answered(file: str, sheet_file: str | None, store_path: Path) -> Answered:
    """Read request and sheet, and compare. Raises ``NotAnswered`` with every fault found."""
    if sheet_file is not None:
        request, sheet = read_all((file, COMPARISON), (sheet_file, SHEET))
        if own_rates(request) is not None:
            twice = Fault("/rates", TWO_SHEETS.format(shown(sheet_file)))
            raise placed(Refused("two-rate-sheets", (twice,)), file)
        return by_sheet(request, sheet)
    request = read_one(file, COMPARISON)
    if own_rates(request) is not None:
        return by_own_rates(request)
    if has_store(store_path):
        return by_store(request, store_path)
    remedy = f"there is no store at {store_path}; {NO_RATES}"
    raise placed(Refused("no-rates", (Fault("/rates", remedy),)), file)
