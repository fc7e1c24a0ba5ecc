"""Times what the service does for a quote within a process, without HTTP: all, and each step.

Three kinds of callers: one that asks the same again, one that asks for other quantities of a
product each time, and one that describes another product each time. In CPU time.
"""

import statistics
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from itertools import cycle
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
from sqlite_utils import Database

from gramhour.contract.answer import Quote
from gramhour.contract.documents import parse_json
from gramhour_service.answer.quoting import answer_request
from gramhour_service.http.running import look_for_cycles_seldom
from gramhour_service.sheets.asked import Asked, read_asked
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.sheets.workload import outside_of, stored_workload
from gramhour_service.store.keys import find_key
from gramhour_service.store.opening import open_store, read_only
from tests import demo
from tests.http.door import secret

REPEATS = 300
BREAKS = {"1 break": [25], "6 breaks": [1, 5, 10, 25, 50, 100]}
GOALS = {"1 break": 100, "6 breaks": 250}
MANY = 100
"""More products than the service keeps."""
SHIFTS = 40
"""More quantities of a product than the service keeps."""
STEP = 7
"""Shifts breaks so that none is one of the last requests'."""
BEGINS = "2026-12-01T09:00:00Z"
ENCODER = msgspec.json.Encoder()

Say = Callable[..., None]


def body_of(breaks: Sequence[int], name: str = "", shift: int = 0) -> bytes:
    """Ask for some herb planters, maybe under another name or some more of them."""
    sent = demo.request("herb-planter")
    product = {**sent["product"], **({"name": name} if name else {})}
    asked = {"product": product, "quantity": sent["quantity"] + shift, "breaks": breaks}
    return msgspec.json.encode({**sent, **asked, "from": BEGINS})


def bodies_of(breaks: Sequence[int]) -> dict[str, list[bytes]]:
    """List what each kind of caller asks."""
    shifted = ([quantity + STEP * n for quantity in breaks] for n in range(SHIFTS))
    return {
        "the same": [body_of(breaks)],
        "quantities": [body_of(each, shift=STEP * n) for n, each in enumerate(shifted)],
        "products": [body_of(breaks, f"Herb planter {n}") for n in range(MANY)],
    }


class Took(NamedTuple):
    """Microseconds of CPU: the median, and the quartiles about it."""

    lower: float
    median: float
    upper: float

    @property
    def spread(self) -> str:
        return f"{self.lower:.0f}-{self.upper:.0f}"

    def over(self, parts: int) -> "Took":
        return Took._make(each / parts for each in self)


def timed(step: Callable[[], Any]) -> Took:
    """Time a step again and again."""
    took = []
    for _ in range(REPEATS):
        begun = time.process_time()
        step()
        took.append(1_000_000 * (time.process_time() - begun))
    return Took._make(statistics.quantiles(took, n=4))


class Within:
    """The steps of a quote, as the service takes them."""

    def __init__(self, store: Database) -> None:
        self._store, self._sheets = store, Sheets(store)

    def key(self) -> Any:
        return find_key(self._store, secret("cost"))

    def sheet(self) -> Any:
        return self._sheets.pinned(datetime.now(UTC))

    def read(self, sent: Any) -> Asked:
        now = datetime.now(UTC)
        return read_asked(lambda *asked: self._sheets.pinned(now, *asked), now, sent)

    def answer(self, asked: Asked) -> Quote:
        now = datetime.now(UTC)
        return answer_request(
            asked.request,
            asked.sheet,
            revision=asked.revision,
            on=asked.on,
            kept=asked.kept,
            outside=outside_of(asked, now, lambda: stored_workload(self._store)),
        )

    def together(self, body: bytes) -> bytes:
        self.key()
        return ENCODER.encode(self.answer(self.read(parse_json(body))))

    def times(self, bodies: Sequence[bytes]) -> list[Took]:
        """Time all steps together, then key, sheet, parsing, reading with it, answer, encoding."""
        sent = [parse_json(body) for body in bodies]
        read = [self.read(each) for each in sent]
        quotes = cycle([self.answer(each) for each in read])
        all_bodies, again, all_sent, all_read = map(cycle, (bodies, bodies, sent, read))
        return [
            timed(lambda: self.together(next(all_bodies))),
            timed(self.key),
            timed(self.sheet),
            timed(lambda: parse_json(next(again))),
            timed(lambda: self.read(next(all_sent))),
            timed(lambda: self.answer(next(all_read))),
            timed(lambda: ENCODER.encode(next(quotes))),
        ]


def within_a_process(path: Path, say: Say) -> None:
    """Time what the service does for a quote, lead time included, without HTTP."""
    look_for_cycles_seldom()  # as its workers do
    store = read_only(open_store(path))
    titles = ("asked", "together", "spread", "goal", "key", "sheet", "parse", "read", "answer")
    say("within a process, us", *titles, "encode")
    for name, breaks in BREAKS.items():
        for kind, bodies in bodies_of(breaks).items():
            steps = Within(store).times(bodies)
            together, *each = (f"{step.median:.0f}" for step in steps)
            say(name, kind, together, steps[0].spread, f"<= {GOALS[name]}", *each)
    store.close()
