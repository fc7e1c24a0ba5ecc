"""What the order takes and what is to be bought for it."""

from itertools import groupby

from rich.console import Console

from gramhour.contract.answer import Purchase
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.screen import (
    Row,
    bare,
    heading,
    money,
    paragraph,
    physical,
    show_table,
)
from gramhour_service.commandline.words import counted


def show_needs(console: Console, quoted: Quoted) -> None:
    """Show the physical totals of the asked quantity and the purchases made for it."""
    _show_use(console, quoted)
    purchases = quoted.answer.at_quantity.purchases
    units = counted(quoted.answer.at_quantity.quantity, "unit")
    if not purchases:
        paragraph(console, f"Nothing has to be bought just for {units}.")
        return
    heading(console, f"To buy for {units}, {quoted.answer.currency}")
    header = ("Part or feedstock", "Packs", "Pack of", "Price", "Shipping", "Left over")
    rows = [
        row
        for thing, packs in groupby(purchases, lambda bought: (bought.material, bought.component))
        for row in _rows(quoted, list(packs))
    ]
    show_table(console, header, rows)


def _show_use(console: Console, quoted: Quoted) -> None:
    use = quoted.answer.at_quantity.use
    feedstock = (
        f"{physical(grams, 1)} g {quoted.name_of('materials', code)}"
        for code, grams in use.feedstock_g.items()
    )
    machines = (
        f"{physical(hours)} h {quoted.name_of('machines', code)}"
        for code, hours in use.machine_h_by.items()
    )
    people = f"{physical(use.labour_min, 1)} min of people's work"
    builds = f"{counted(use.builds, 'good build')} ({physical(use.build_starts)} starts expected)"
    heading(console, "The order takes, failed builds and remade units included")
    for takes in (
        "; ".join(feedstock),
        "; ".join(machines),
        f"{builds}; {people}; {physical(use.energy_kwh)} kWh",
    ):
        if takes:
            paragraph(console, takes, others="  ")


def _rows(quoted: Quoted, bought: list[Purchase]) -> list[Row]:
    """One row a pack size; shipping stands once, on the first, what is left over on the last."""
    first = bought[0]
    if first.material:
        name, unit = quoted.name_of("materials", first.material), " g"
    else:
        assert first.component
        name = quoted.name_of("components", first.component)
        measure = quoted.rates["components"][first.component].get("measure", "piece")
        unit = "" if measure == "piece" else f" {measure}"
    return [
        Row(
            (
                name if n == 0 else "",
                str(packs.packs),
                f"{bare(packs.pack_quantity)}{unit}",
                money(packs.price),
                money(packs.shipping) if n == 0 else "",
                f"{bare(packs.left_over)}{unit}" if n == len(bought) - 1 else "",
            )
        )
        for n, packs in enumerate(bought)
    ]
