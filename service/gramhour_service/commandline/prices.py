"""The prices command: what is for sale on a channel."""

from collections.abc import Iterator
from pathlib import Path

import click
from msgspec import UNSET
from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.client import Client
from gramhour.contract.prices import PriceItem, Prices
from gramhour.contract.problem import Fault, Refused
from gramhour.paging import LARGEST
from gramhour_service.commandline.offered import rates_today
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.refusals import placed, told_when_refused
from gramhour_service.commandline.screen import money, screen, show_texts
from gramhour_service.commandline.service import asked_service, service_asked, service_options
from gramhour_service.commandline.store import opened, written_json
from gramhour_service.listings.selling import Selling, changed, for_sale, prices_told
from gramhour_service.store.prices import newest_told

ALL = 1_000_000_000


@click.command("prices", cls=Once, short_help="Show what is for sale on a channel.")
@click.argument("channel")
@click.option(
    "--since",
    type=click.IntRange(0, 999_999_999),
    metavar="N",
    help="Only what changed after change N, what is no longer for sale too.",
)
@service_options
@told_when_refused
def prices(
    *,
    channel: str,
    since: int | None,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
) -> None:
    """Show what is for sale on CHANNEL: the listed prices, today's and those planned."""
    service = service_asked(url)
    if service is not None:
        with asked_service(service, key) as client:
            found = _of_service(client, channel, since)
    else:
        found = _of_store(channel, since, store_path)
    if as_json:
        click.echo(written_json(found))
        return
    if found.items:
        _show(found)
    else:
        click.echo("Nothing changed." if since else "Nothing is for sale there.", err=True)
    click.echo(f"Change {found.change}; --since {found.change} tells what comes after.", err=True)


def _of_service(client: Client, channel: str, since: int | None) -> Prices:
    page = client.prices(channel, changed_since=since, limit=LARGEST)
    items = list(page.items)
    while page.next_cursor is not UNSET:
        page = client.prices(channel, changed_since=since, limit=LARGEST, cursor=page.next_cursor)
        items += page.items
    return replace(page, items=items)


def _of_store(channel: str, since: int | None, path: Path) -> Prices:
    try:
        with opened(path) as store:
            return _read(store, channel, since or 0)
    except Refused as refused:
        raise placed(refused, str(path)) from None


def _read(store: Database, channel: str, since: int) -> Prices:
    today = rates_today(store)
    channels = today.in_force.sheet.channels
    if channels is UNSET or channel not in channels:
        known = "" if channels is UNSET else f"; there are {', '.join(sorted(channels))}"
        detail = f"there is no channel '{channel}'{known}"
        raise Refused("unknown-entry", (Fault("", detail),))
    asked = Selling(channel, today.on, planned=True)
    newest = newest_told(store, channel, today.on, planned=True)
    told = changed(store, asked, since, newest, ALL) if since else for_sale(store, asked, "", ALL)
    return prices_told(today.in_force.sheet, asked, newest, told)


def _show(found: Prices) -> None:
    tax = "with" if found.prices_include_tax else "without"
    header = ("Sku", "Name", "From", "Units", f"{found.currency} {tax} tax", "Net")
    rows = [row for item in found.items for row in _rows(item)]
    show_texts(screen(), header, rows, numbers=(3, 4, 5))
    if found.minimum_order is not UNSET:
        least = f"{found.currency} {money(found.minimum_order)}"
        click.echo(f"The goods of an order come to {least} {tax} tax at least.")
    if found.multiple_of is not UNSET:
        click.echo(f"It is sold in multiples of {found.multiple_of}.")


def _rows(item: PriceItem) -> Iterator[tuple[str, ...]]:
    """Tell an item, a row a break; its name and day stand in the first row only."""
    told = (item.sku, item.name, str(item.valid_from))
    if not item.breaks:
        yield (*told, "none", "not for sale", "")
    for step in item.breaks:
        prices = (str(step.from_quantity), money(step.unit_price), money(step.unit_price_net))
        yield (*told, *prices)
        told = ("", "", "")
