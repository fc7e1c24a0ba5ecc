"""What is wrong with a file: every fault with its line, as many as a person would read."""

from typing import NamedTuple

MOST_FAULTS = 100
MOST_QUOTED = 24


class ToolpathFault(NamedTuple):
    """What is wrong, and on which line of the file, counted from 1."""

    line: int
    detail: str


class ToolpathRefused(Exception):
    """A file that cannot be read as a toolpath, and why: at most ``MOST_FAULTS`` faults."""

    def __init__(self, faults: tuple[ToolpathFault, ...]) -> None:
        super().__init__("; ".join(f"line {line}: {detail}" for line, detail in faults[:3]))
        self.faults = faults


class LineFault(Exception):
    """A line that cannot be carried out; whoever reads the lines knows its number."""


def quoted(text: str) -> str:
    """Quote a piece of a file so that it can be shown: short, and printable."""
    return ascii(text[:MOST_QUOTED]) + ("…" if len(text) > MOST_QUOTED else "")
