"""The options that say how a mesh's file is made and sold."""

from collections.abc import Callable, Mapping
from pathlib import PurePath
from typing import Any, TypeVar

import click

from gramhour.calls_of_measurements import MeshType
from gramhour.contract.members import MOST_UNITS
from gramhour_service.http.meshes import OF_NAME
from gramhour_service.http.toolpaths import ENDING

Command = TypeVar("Command", bound=Callable[..., object])
OF_A_PROFILE = ("profile", "machine", "nozzle", "channel")


def part_options(command: Command) -> Command:
    """Add the options of a part, in the order in which help shows them."""
    for option in (
        click.option("--channel", metavar="CODE", help="Where it is sold."),
        click.option("--nozzle", metavar="CODE", help="The nozzle that is fitted."),
        click.option("--machine", metavar="CODE", help="The machine that prints it."),
        click.option(
            "--profile", metavar="CODE", help="Of a mesh without a service: how it is printed."
        ),
        click.option("--margin", metavar="PCT", help="Of a mesh: the margin to reach."),
        click.option(
            "--quantity",
            type=click.IntRange(1, MOST_UNITS),
            metavar="N",
            help="Of a mesh: how many; else one.",
        ),
        click.option("--material", metavar="CODE", help="Of a mesh: what it is printed in."),
        click.option("--service", metavar="CODE", help="Of a mesh: the service that makes it."),
    ):
        command = option(command)
    return command


def mesh_asked(file: str, options: Mapping[str, Any]) -> MeshType | None:
    """Say what kind of mesh a file is, if it is one.

    Raises ``UsageError`` for options that do not go with it, or with each other.
    """
    kind = OF_NAME.get(PurePath(file).suffix.lower())
    if kind is None and options:
        named = " and ".join(f"--{name}" for name in options)
        says = "a request says it"
        if PurePath(file).suffix.lower() == ENDING:
            says = f"a toolpath is measured: gramhour measure {file}"
        raise click.UsageError(f"{named} is for a mesh ({' or '.join(OF_NAME)}); {says}")
    of_profile = [name for name in OF_A_PROFILE if name in options]
    if of_profile and "service" in options:
        raise click.UsageError(f"--service has its own {of_profile[0]}: leave one of them away")
    missing = [name for name in (*OF_A_PROFILE, "material") if name not in options]
    if of_profile and missing:
        needed = " and ".join(f"--{name}" for name in missing)
        raise click.UsageError(f"without a --service, {needed} must be named too")
    return kind
