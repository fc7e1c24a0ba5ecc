"""Says why there is no answer: each fault with its file, its place in it, and the remedy."""

import functools
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

import click
import msgspec
from msgspec import UNSET

from gramhour.contract.problem import Refused
from gramhour_service.commandline.characters import printable
from gramhour_service.commandline.files import shown
from gramhour_service.http.problem_types import PROBLEMS

NARROWEST = 40
TITLES = {
    "unreadable-file": "A file cannot be read",
    "malformed-document": "A file is not sound TOML or JSON",
    "two-rate-sheets": "There are two rate sheets to price with",
    "wrong-file": "A file is of another kind",
    "no-answer": "The service gives no answer",
    "key": "The keys stay as they are",
    "repricing-failed": "The repricing has no result",
    "no-store": "There is no store",
    "not-a-store": "This is no store",
    "store-damaged": "The store is damaged",
    "is-there": "Nothing is overwritten",
    "store-newer": "The store is newer than this program",
    "serving": "The service does not start",
    "store-unavailable": "The store cannot be used",
}


class PlacedFault(NamedTuple):
    """A fault, and the file that it stands in."""

    file: str
    pointer: str
    detail: str
    line: int | None = None

    @property
    def place(self) -> str:
        """Write where in the file it is."""
        return self.pointer if self.line is None else f"line {self.line}"


class NotAnswered(Exception):
    """Nothing can be answered to these files."""

    def __init__(self, kind: str, faults: Iterable[PlacedFault]) -> None:
        """Keep the stable word for the kind of refusal, and all faults."""
        super().__init__(kind)
        self.kind = kind
        self.faults = tuple(faults)


def placed(refused: Refused, file: str, sheet_file: str | None = None) -> NotAnswered:
    """Place faults in their files: what the request calls ``/rates`` may be a sheet of its own."""
    faults = []
    for fault in refused.faults:
        pointer = fault.pointer or ""
        if sheet_file is not None and pointer.startswith("/rates/"):
            faults.append(PlacedFault(sheet_file, pointer.removeprefix("/rates"), fault.detail))
        else:
            line = None if fault.line is UNSET else fault.line
            faults.append(PlacedFault(file, pointer, fault.detail, line))
    return NotAnswered(refused.type, faults)


def told_when_refused(command: Callable[..., None]) -> Callable[..., None]:
    """Show why a command did nothing, on standard error, and end it with exit code 1."""

    @functools.wraps(command)
    def run(**options: Any) -> None:
        try:
            command(**options)
        except NotAnswered as refusal:
            show_refusal(refusal, as_json=options.get("as_json", False))
            click.get_current_context().exit(1)

    return run


def title_of(kind: str) -> str:
    """Say a kind of refusal in words."""
    if kind in PROBLEMS and kind not in TITLES:
        return PROBLEMS[kind].title
    return TITLES.get(kind, kind.replace("-", " ").capitalize())  # one of a newer service


def show_refusal(refusal: NotAnswered, *, as_json: bool) -> None:
    """Show a refusal on standard error."""
    click.echo(_as_json(refusal) if as_json else "\n".join(_lines(refusal)), err=True)


def _as_json(refusal: NotAnswered) -> bytes:
    errors = [
        {
            name: _encodable(said) if isinstance(said, str) else said
            for name, said in fault._asdict().items()
            if said is not None
        }
        for fault in refusal.faults
    ]
    problem = {
        "type": f"/problems/{refusal.kind}",
        "title": title_of(refusal.kind),
        "errors": errors,
    }
    return msgspec.json.format(msgspec.json.encode(problem), indent=2)


def _encodable(text: str) -> str:
    """Replace half characters, which a JSON document or a file's name may hold."""
    return text.encode(errors="replace").decode()


def _lines(refusal: NotAnswered) -> list[str]:
    """One fault a line, in columns; in a narrow terminal what is wrong stands below its place."""
    files = [printable(shown(fault.file)) for fault in refusal.faults]
    pointers = [printable(fault.place) for fault in refusal.faults]
    widest_file, widest_pointer = max(map(len, files)), max(map(len, pointers))
    gap = "  " if widest_pointer else ""
    width = _width()
    lines = [f"{title_of(refusal.kind)}:"]
    for file, pointer, fault in zip(files, pointers, refusal.faults, strict=True):
        place = f"{file:{widest_file}}  {pointer:{widest_pointer}}{gap}"
        detail = printable(fault.detail)
        if width is None:
            lines.append(place + detail)
        elif width - len(place) >= NARROWEST:
            lines += _wrapped(detail, width, place, " " * len(place))
        else:
            lines += [place.rstrip(), *_wrapped(detail, width, " " * 4, " " * 4)]
    return lines


def _wrapped(text: str, width: int, first: str, others: str) -> list[str]:
    return textwrap.wrap(
        text, width, initial_indent=first, subsequent_indent=others, break_on_hyphens=False
    )


def _width() -> int | None:
    """Measure the terminal; a file or a pipe has no width."""
    return shutil.get_terminal_size().columns if sys.stderr.isatty() else None
