"""The demo's products and listings, to start a shop of one's own from."""

from collections.abc import Iterator
from importlib.resources import files
from typing import Any

import click
import msgspec

from gramhour.contract.documents import parse_toml
from gramhour_service.commandline.once import Once

DEMO = files("gramhour_service").joinpath("demo")


@click.command("demo-products", cls=Once, short_help="Print products to start your own from.")
def demo_products() -> None:
    """Print the demo's products, a line of JSON each.

    \b
        gramhour demo-products > my-products.ndjson
        gramhour products import my-products.ndjson
    """  # noqa: D301 (the backslash asks click to keep the lines)
    for row in _products():
        click.echo(msgspec.json.encode(row))


@click.command("demo-listings", cls=Once, short_help="Print listings to start your own from.")
def demo_listings() -> None:
    """Print the demo's listings as CSV: what is sold on which channel, and how its price is made.

    \b
        gramhour demo-listings > my-listings.csv
        gramhour listings import my-listings.csv
    """  # noqa: D301
    click.echo(DEMO.joinpath("shop/listings.csv").read_bytes(), nl=False)


def _products() -> Iterator[dict[str, Any]]:
    variants = parse_toml(DEMO.joinpath("shop/variants.toml").read_bytes())
    for code, others in sorted(variants.items()):
        request = parse_toml(DEMO.joinpath(f"{code}.toml").read_bytes())
        yield {"code": code, "product": request["product"], "variants": others}
