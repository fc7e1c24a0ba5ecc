"""The services command: what the shop makes of customers' own parts, and in which materials."""

from collections.abc import Iterator
from pathlib import Path

import click

from gramhour.contract.problem import Refused
from gramhour.contract.services import OpenService, OpenServices
from gramhour_service.commandline.offered import rates_today
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.refusals import placed, told_when_refused
from gramhour_service.commandline.screen import screen, show_texts
from gramhour_service.commandline.service import asked_service, service_asked, service_options
from gramhour_service.commandline.store import opened, written_json
from gramhour_service.commandline.stored import sheet_of_file, sheet_option
from gramhour_service.own_parts.offered import Caller
from gramhour_service.own_parts.told import told_services

HEADER = ("Service", "Called", "Material", "Called", "Largest part, mm")


@click.command("services", cls=Once, short_help="Show what is made of customers' own parts.")
@sheet_option
@service_options
@told_when_refused
def services(
    *,
    sheet_file: str | None,
    store_path: Path,
    url: str | None,
    key: str | None,
    as_json: bool,
) -> None:
    """Show what is made of customers' own parts: the services, their materials, the largest part.

    A running service tells a key those of its channels; the store on this machine tells all, as
    does a sheet of a file (--rates).
    """
    service = service_asked(url)
    if sheet_file is not None:
        found = told_services(sheet_of_file(sheet_file), Caller())
    elif service is not None:
        with asked_service(service, key) as client:
            found = list(client.all_services())
    else:
        found = _of_store(store_path)
    if as_json:
        click.echo(written_json(OpenServices(items=found)))
        return
    if found:
        show_texts(screen(), HEADER, [row for each in found for row in _rows(each)])
    else:
        click.echo("No service makes own parts.", err=True)


def _of_store(path: Path) -> list[OpenService]:
    try:
        with opened(path) as store:
            return told_services(rates_today(store).in_force.sheet, Caller())
    except Refused as refused:
        raise placed(refused, str(path)) from None


def _rows(told: OpenService) -> Iterator[tuple[str, ...]]:
    """Tell a service, a row a material; what it is called stands in the first row only."""
    box = told.largest_box
    first = (told.service, told.name, f"{box.x_mm:g} × {box.y_mm:g} × {box.z_mm:g}")
    for each in told.materials:
        code, name, largest = first
        yield (code, name, each.material, each.name, largest)
        first = ("", "", "")
