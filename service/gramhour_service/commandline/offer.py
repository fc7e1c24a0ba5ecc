"""The products and listings commands: what the shop offers, in from a file and out to one."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast

import click
import msgspec
from sqlite_utils import Database

from gramhour.calls_of_listings import ListingFilter
from gramhour.client import Client
from gramhour.contract.problem import Refused
from gramhour.contract.stored_listing import RowOutcomes
from gramhour_service.commandline.characters import printable
from gramhour_service.commandline.offered import rates_today, take_into_service, take_into_store
from gramhour_service.commandline.once import Several
from gramhour_service.commandline.refusals import placed, told_when_refused
from gramhour_service.commandline.service import asked_service, service_asked, service_options
from gramhour_service.commandline.slips import tell_cautions
from gramhour_service.commandline.store import opened, written_json
from gramhour_service.commandline.words import counted
from gramhour_service.http.forms_sent import RATE_USED
from gramhour_service.listings.exporting import listing_lines, listing_table, product_lines
from gramhour_service.listings.variants import channels_packing
from gramhour_service.store.entries import EntryKind, Filter
from gramhour_service.store.rates import Key

MOST_NAMED = 20
MOST_UNLIKELY = 10


@click.group(cls=Several, short_help="Products, described once.")
def products() -> None:
    """The products that listings are of, each described once, with its variants."""


@click.group(cls=Several, short_help="What is for sale where, and how its price is made.")
def listings() -> None:
    """The listings: products and variants for sale on channels, and how their prices are made."""


@products.command("import", short_help="Add or change products.")
@click.argument("file")
@service_options
@told_when_refused
def import_products(
    *, file: str, store_path: Path, url: str | None, key: str | None, as_json: bool
) -> None:
    """Add or change the products in FILE: all of them, or none if one has a fault.

    FILE is NDJSON as `gramhour products export` prints it (a line a product), or JSON or TOML with
    a list of `items`; - is standard input. Products that are not in it stay as they are.
    """
    _show_outcomes(_taken("product", file, store_path, url, key), as_json=as_json)


@listings.command("import", short_help="Add or change listings.")
@click.argument("file")
@service_options
@told_when_refused
def import_listings(
    *, file: str, store_path: Path, url: str | None, key: str | None, as_json: bool
) -> None:
    """Add or change the listings in FILE: all of them, or none if one has a fault.

    FILE is CSV (a column that is not there changes nothing) or NDJSON as `gramhour listings export`
    prints them, or JSON or TOML with a list of `items`; - is standard input. Listings that are not
    in it stay as they are, and so do prices, until the listings are repriced.
    """
    _show_outcomes(_taken("listing", file, store_path, url, key), as_json=as_json)


def _taken(
    kind: EntryKind, file: str, store_path: Path, url: str | None, key: str | None
) -> RowOutcomes:
    service = service_asked(url)
    if service is not None:
        return take_into_service(kind, file, service, key)
    return take_into_store(kind, file, store_path)


def _show_outcomes(outcomes: RowOutcomes, *, as_json: bool) -> None:
    _print_outcomes(outcomes, as_json=as_json)
    said = [
        caution
        for row in outcomes.rows
        for caution in ([] if row.cautions is msgspec.UNSET else row.cautions)
    ]
    tell_cautions(said[:MOST_UNLIKELY])
    if len(said) > MOST_UNLIKELY:
        click.echo(f"{counted(len(said) - MOST_UNLIKELY, 'more unlikely size')}.", err=True)


def _print_outcomes(outcomes: RowOutcomes, *, as_json: bool) -> None:
    if as_json:
        click.echo(written_json(outcomes))
        return
    click.echo(
        f"{outcomes.added} added, {outcomes.changed} changed, {outcomes.unchanged} unchanged."
    )
    if 0 < outcomes.changed <= MOST_NAMED:
        for row in outcomes.rows:
            if row.done == "changed":
                click.echo(f"  {printable(row.name or '')}: changed")


@products.command("export", short_help="Print the products, a line each.")
@service_options
@told_when_refused
def export_products(*, store_path: Path, url: str | None, key: str | None, as_json: bool) -> None:
    """Print the products as NDJSON, or with --json as one document: import takes both back."""
    service = service_asked(url)
    if service is not None:
        with asked_service(service, key) as client:
            _print_lines(_lines(map(_product_row, client.all_products())), as_json=as_json)
        return
    with opened(store_path) as store:
        _print_lines(product_lines(lambda work: work(store)), as_json=as_json)


def _uses(_: click.Context, __: click.Parameter, used: str | None) -> str | None:
    """Refuse what names no rate."""
    if used is not None and not RATE_USED.fullmatch(used):
        raise click.BadParameter("write a kind and a code, such as materials/asa-green")
    return used


@listings.command("export", short_help="Print the listings for a spreadsheet.")
@click.option(
    "--format",
    "form",
    type=click.Choice(["csv", "ndjson"]),
    default="csv",
    help="csv for a spreadsheet (the usual), or ndjson: a line of JSON each.",
)
@click.option("--channel", metavar="CODE", help="Only those on this channel.")
@click.option("--product", metavar="CODE", help="Only those of this product.")
@click.option(
    "--uses",
    callback=_uses,
    metavar="KIND/CODE",
    help="Only those whose cost depends on this rate.",
)
@click.option("--below-floor", is_flag=True, help="Only those whose price is under its floor.")
@service_options
@told_when_refused
def export_listings(  # noqa: PLR0913 (an option each)
    *,
    form: str,
    channel: str | None,
    product: str | None,
    uses: str | None,
    below_floor: bool,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
) -> None:
    """Print the listings, all or those chosen: import takes them back.

    As CSV, a column each member, or as NDJSON; with --json as one document.
    """
    said = {"channel": channel, "product": product, "uses": uses, "below_floor": below_floor}
    chosen = cast(ListingFilter, {name: value for name, value in said.items() if value})
    service = service_asked(url)
    if service is not None:
        with asked_service(service, key) as client:
            _export_from_service(client, chosen, form, as_json=as_json)
        return
    with opened(store_path) as store:
        rows = _filter(store, store_path, chosen)
        if form == "csv" and not as_json:
            for part in listing_table(lambda work: work(store), rows):
                click.echo(part, nl=False)
        else:
            _print_lines(listing_lines(lambda work: work(store), rows), as_json=as_json)


def _export_from_service(
    client: Client, chosen: ListingFilter, form: str, *, as_json: bool
) -> None:
    if form == "csv" and not as_json:
        click.echo(client.listings_csv(**chosen), nl=False)
    else:
        rows = ({"sku": each.sku, **_plain(each.listing)} for each in client.all_listings(**chosen))
        _print_lines(_lines(rows), as_json=as_json)


def _filter(store: Database, path: Path, chosen: ListingFilter) -> Filter:
    """Choose among the listings of a store as a service does."""
    try:
        today = rates_today(store)
    except Refused as refused:
        raise placed(refused, str(path)) from None
    used = RATE_USED.fullmatch(chosen.get("uses", ""))
    key: Key | None = (used[1], used[2]) if used else None
    using: frozenset[str] = frozenset()
    if key is not None and key[0] == "channels":
        using = frozenset({key[1]})
    elif key is not None and key[0] == "components":
        using = channels_packing(today.in_force.sheet, frozenset({key[1]}))
    return Filter(
        channel=chosen.get("channel"),
        product=chosen.get("product"),
        uses=key,
        using=using,
        below_floor=chosen.get("below_floor", False),
        on=today.on.isoformat(),
    )


def _product_row(stored: Any) -> dict[str, Any]:
    return {"code": stored.code, **_plain(stored.entry)}


def _plain(entry: msgspec.Struct) -> dict[str, Any]:
    plain: dict[str, Any] = msgspec.to_builtins(entry)
    return plain


def _lines(rows: Iterator[dict[str, Any]]) -> Iterator[bytes]:
    """Write rows as the store's own are written: a line each, and a last one that counts them."""
    done = 0
    for row in rows:
        yield msgspec.json.encode(row) + b"\n"
        done += 1
    yield b'{"done":%d}\n' % done


def _print_lines(lines: Iterator[bytes], *, as_json: bool) -> None:
    """Print lines as they come, or as one document."""
    if as_json:
        *rows, _ = lines
        click.echo(written_json({"items": [msgspec.Raw(row.rstrip(b"\n")) for row in rows]}))
        return
    for line in lines:
        click.echo(line, nl=False)
