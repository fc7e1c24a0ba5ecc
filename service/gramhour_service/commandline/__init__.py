"""The command line: reads files, asks as every caller does, and shows the answer to a person.

Results go to standard output, everything else to standard error; the exit code is 0, 1 (refused
or failed) or 2 (the command was not understood). This room never calculates a cost or a price.
"""

import click

from gramhour_service.commandline.calibrate import calibrate
from gramhour_service.commandline.compare import compare
from gramhour_service.commandline.copies import store
from gramhour_service.commandline.demo_sheet import demo_sheet
from gramhour_service.commandline.demo_shop import demo_listings, demo_products
from gramhour_service.commandline.examples import show_examples
from gramhour_service.commandline.keys import keys
from gramhour_service.commandline.measure import measure
from gramhour_service.commandline.offer import listings, products
from gramhour_service.commandline.prices import prices
from gramhour_service.commandline.quote import quote
from gramhour_service.commandline.rates import rates
from gramhour_service.commandline.reprice import reprice
from gramhour_service.commandline.seals import seals
from gramhour_service.commandline.serve import serve
from gramhour_service.commandline.workload import workload


@click.group(
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="To begin: gramhour demo-sheet > my-rates.toml, and put your own prices in.",
)
@click.version_option(package_name="gramhour-service", message="gramhour %(version)s")
def main() -> None:
    """Say what 3D-printed goods cost to make and what to ask for them."""


for command in (
    demo_sheet,
    demo_products,
    demo_listings,
    keys,
    measure,
    quote,
    calibrate,
    compare,
    rates,
    products,
    listings,
    prices,
    reprice,
    workload,
    seals,
    store,
    serve,
):
    main.add_command(command)
show_examples(main)
