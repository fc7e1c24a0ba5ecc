"""An example or two of each command, shown below its help; a test runs them, in this order."""

from collections.abc import Iterator, Sequence

import click

EXAMPLES: dict[str, Sequence[str]] = {
    "demo-sheet": ("gramhour demo-sheet > my-rates.toml",),
    "rates import": (
        'gramhour rates import my-rates.toml --note "how we begin"',
        "gramhour rates import my-nozzles.csv --kind nozzles --from 2999-01-05",
    ),
    "rates show": (
        "gramhour rates show materials",
        "gramhour rates show machines large --on 2999-01-05",
    ),
    "rates export": (
        "gramhour rates export > my-stored-rates.toml",
        "gramhour rates export materials > my-materials.csv",
    ),
    "rates change": (
        "gramhour rates change my-changes.toml --trial",
        'gramhour rates change my-changes.toml --from 2999-01-05 --note "price list of January"',
    ),
    "rates history": ("gramhour rates history --limit 5",),
    "rates changes": ("gramhour rates changes 2",),
    "quote": (
        "gramhour quote my-product.toml --rates my-rates.toml",
        "gramhour quote my-product.toml --explain",
        "cat my-product.toml | gramhour quote - --json",
        "gramhour quote my-part.stl --service own-parts --material pla-chalk --quantity 12",
    ),
    "compare": ("gramhour compare my-nozzles.toml",),
    "workload": ("gramhour workload large=4.5 small-1=12", "gramhour workload"),
    "measure": (
        "gramhour measure my-part.stl",
        "gramhour measure my-part.stl --profile fine-04 --machine small-1 --material pla-chalk",
        "gramhour measure my-toolpath.gcode --machine large --material asa-green",
    ),
    "calibrate": ("gramhour calibrate my-builds.toml --rates my-rates.toml",),
    "demo-products": ("gramhour demo-products > my-products.ndjson",),
    "products import": ("gramhour products import my-products.ndjson",),
    "products export": ("gramhour products export > my-products.ndjson",),
    "demo-listings": ("gramhour demo-listings > my-listings.csv",),
    "listings import": ("gramhour listings import my-listings.csv",),
    "listings export": (
        "gramhour listings export > my-listings.csv",
        "gramhour listings export --channel own-shop --uses materials/asa-green",
    ),
    "reprice": (
        "gramhour reprice --propose my-changes.toml",
        'gramhour reprice --apply --except BB-green-T --note "how we begin"',
    ),
    "services": ("gramhour services",),
    "prices": ("gramhour prices own-shop", "gramhour prices own-shop --since 12"),
    "keys add": (
        "gramhour keys add desk --scope cost > my-desk.key",
        "gramhour keys add web --scope price --channel own-shop --expires 2999-12-31",
    ),
    "keys list": ("gramhour keys list",),
    "keys rotate": ("gramhour keys rotate desk desk-2 --days 3 > my-desk.key",),
    "keys revoke": ("gramhour keys revoke web",),
    "seals issuer": ("gramhour seals issuer https://shop.example",),
    "seals show": ("gramhour seals show",),
    "seals rotate": ("gramhour seals rotate",),
    "seals verify": ("gramhour seals verify my-seal.txt",),
    "seals distrust": ('gramhour seals distrust KEY --note "a laptop was lost"',),
    "seals recall": ('gramhour seals recall --revision 1 --note "a wage was mistyped"',),
    "store check": ("gramhour store check",),
    "store backup": ("gramhour store backup my-copy.sqlite",),
    "store trail": ("gramhour store trail --limit 20",),
    "store restore": ("gramhour store restore my-copy.sqlite --store my-restored.sqlite",),
    "serve": (
        "gramhour serve --port 8751",
        "gramhour serve --port 8752 --local-cells",
    ),
}


def show_examples(command: click.Command, name: str) -> None:
    """Put each command's examples below its help."""
    for called, each in commands_of(command, name):
        if called in EXAMPLES:
            # \b keeps the lines as they stand.
            each.epilog = "\n".join(("\b", "Examples:", *map("  {}".format, EXAMPLES[called])))


def commands_of(command: click.Command, name: str = "") -> Iterator[tuple[str, click.Command]]:
    """List the commands that do something, with the words that they are called by."""
    if not isinstance(command, click.Group):
        yield name, command
        return
    with click.Context(command) as context:
        for own in command.list_commands(context):
            found = command.get_command(context, own)
            assert found is not None, "it is listed"
            yield from commands_of(found, f"{name} {own}".strip())
