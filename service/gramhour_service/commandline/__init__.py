"""The command line: reads files, asks as every caller does, and shows the answer to a person.

Results go to standard output, everything else to standard error; the exit code is 0, 1 (refused
or failed) or 2 (the command was not understood). This room never calculates a cost or a price.
"""

import gc
from importlib import import_module

import click

import gramhour_service.store  # noqa: F401 (it loads sqlite-utils without what it may leave)
from gramhour_service.commandline.examples import show_examples

WHERE = {
    "calibrate": "calibrate:calibrate",
    "compare": "compare:compare",
    "demo-listings": "demo_shop:demo_listings",
    "demo-products": "demo_shop:demo_products",
    "demo-sheet": "demo_sheet:demo_sheet",
    "keys": "keys:keys",
    "listings": "offer:listings",
    "measure": "measure:measure",
    "prices": "prices:prices",
    "products": "offer:products",
    "quote": "quote:quote",
    "rates": "rates:rates",
    "reprice": "reprice:reprice",
    "seals": "seals:seals",
    "serve": "serve:serve",
    "services": "services:services",
    "store": "copies:store",
    "workload": "workload:workload",
}
"""The module of each command, and its name there."""


class _Commands(click.Group):
    """Loads a command when it is called: a service starts without what draws tables."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """List the commands by name."""
        return sorted({*super().list_commands(ctx), *WHERE})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Find a command; for a name that is none, load all, so that the nearest can be told."""
        for name in (cmd_name,) if cmd_name in WHERE else WHERE:
            if name not in self.commands:
                self.add_command(_loaded(name), name)
        return super().get_command(ctx, cmd_name)


def _loaded(name: str) -> click.Command:
    module, _, own = WHERE[name].partition(":")
    gc.disable()  # modules stay: to look for cycles in them again and again is a sixth of the time
    try:
        command: click.Command = getattr(import_module(f"{__name__}.{module}"), own)
    finally:
        gc.enable()
    show_examples(command, name)
    return command


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="To begin: gramhour demo-sheet > my-rates.toml, and put your own prices in.",
)
@click.version_option(package_name="gramhour-service", message="gramhour %(version)s")
def main() -> None:
    """Say what 3D-printed goods cost to make and what to ask for them."""
