"""Days on the command line: as a file and the contract write them, 2099-01-05."""

import re
from collections.abc import Sequence
from datetime import datetime

import click

from gramhour.contract.times import why_no_time

DAY, INSTANT = "%Y-%m-%d", "%Y-%m-%dT%H:%M:%S%z"
DAY_FIRST = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", re.ASCII)


class Day(click.DateTime):
    """A day; where it is written in another way, how to write it is told."""

    def __init__(self, formats: Sequence[str] = (DAY,)) -> None:
        """Take days, or whatever other formats."""
        super().__init__(formats)

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        """Read a day. Raises ``BadParameter``."""
        if isinstance(value, datetime):
            return value
        for each in self.formats:
            try:
                return datetime.strptime(str(value), each)  # noqa: DTZ007 (a day has no zone)
            except ValueError:
                continue
        day = str(value)
        told = why_no_time(day if INSTANT in self.formats else day[:10])
        else_told = f"{value!r} is no day, year first, such as {_meant(day)}"
        return self.fail(told or else_told, param, ctx)


def _meant(text: str) -> str:
    """Write a day that was written day first, or any."""
    if found := DAY_FIRST.fullmatch(text):
        day, month, year = map(int, found.groups())
        try:
            return f"{datetime(year, month, day):{DAY}}"  # noqa: DTZ001 (a day has no zone)
        except ValueError:
            pass
    return "2099-01-05"
