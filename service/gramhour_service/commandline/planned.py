"""What is said of planned prices that came from recalled rates: they take over, unless mended."""

from collections.abc import Sequence

import click
from msgspec import UNSET

from gramhour.contract.repricing import PlannedByRecalled
from gramhour_service.commandline.words import counted


def tell_planned_by_recalled(days: Sequence[PlannedByRecalled]) -> None:
    """Say of each day how many there are, and the command that puts right ones in their place.

    While the newest rates are recalled themselves, that command would make wrong ones again.
    """
    for told in days:
        day = told.valid_from
        first = ": "
        if told.recalled_revision is not UNSET:
            first = (
                f". Save right rates first, in force by {day} (those stored are of revision "
                f"{told.recalled_revision}, which is recalled), then: "
            )
        click.echo(
            f"{counted(told.prices, 'planned price')} by recalled rates will take over on {day}, "
            f"until right ones are in their place{first}gramhour reprice --all --on {day} --apply",
            err=True,
        )
