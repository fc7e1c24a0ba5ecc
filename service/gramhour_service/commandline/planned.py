"""What is said of planned prices that came from recalled rates: they take over, unless mended."""

from collections.abc import Sequence

import click

from gramhour_service.commandline.words import counted


def tell_planned_by_recalled(days: Sequence[tuple[str, int]]) -> None:
    """Say of each day how many there are, and the command that puts right ones in their place."""
    for day, prices in days:
        click.echo(
            f"{counted(prices, 'planned price')} by recalled rates will take over on {day}, until "
            f"right ones are in their place: gramhour reprice --all --on {day} --apply",
            err=True,
        )
