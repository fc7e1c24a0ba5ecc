"""The demo rate sheet, to start a sheet of one's own from."""

from importlib.resources import files

import click
import msgspec

from gramhour.contract.documents import parse_toml
from gramhour_service.commandline.once import Once


@click.command("demo-sheet", cls=Once, short_help="Print a rate sheet to start your own from.")
@click.option("--json", "as_json", is_flag=True, help="The same sheet as JSON.")
def demo_sheet(*, as_json: bool) -> None:
    """Print the demo rate sheet: an invented workshop, every price made up.

    Keep it as a file of your own and put your prices in, for quotes to use:

    \b
        gramhour demo-sheet > my-rates.toml
        gramhour quote FILE --rates my-rates.toml
    """  # noqa: D301 (the backslash asks click to keep the lines)
    sheet = files("gramhour_service").joinpath("demo/sheet.toml").read_bytes()
    click.echo(_as_json(sheet) if as_json else sheet, nl=as_json)


def _as_json(sheet: bytes) -> bytes:
    """Write a TOML document as JSON, its numbers as they stand there."""
    encoder = msgspec.json.Encoder(decimal_format="number")
    return msgspec.json.format(encoder.encode(parse_toml(sheet)), indent=2)
