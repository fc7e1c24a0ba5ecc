"""A bar that shows how far long work is, on a terminal only; it leaves nothing behind."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

Told = Callable[[int, int], None]
"""Hears how many are done, and of how many."""


@contextmanager
def shown_progress(what: str) -> Iterator[Told]:
    """Show progress on standard error, if that is a terminal."""
    if not sys.stderr.isatty():
        yield lambda _done, _of: None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    console = Console(stderr=True)
    with Progress(*columns, TimeRemainingColumn(), console=console, transient=True) as progress:
        task = progress.add_task(what, total=None)
        yield lambda done, of: progress.update(task, completed=done, total=of)
