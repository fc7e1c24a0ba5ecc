"""Run as a program: for each line read it forks, and the child changes rates until it is killed.

Each change keeps its answer with it, as a call that may be sent twice does, and is told once it is
saved. All rates of a change have the same figure, the revision, so that half of one would be seen.
"""

import os
import sys
from pathlib import Path

from gramhour.contract.changes import RateChange, RateChanges
from gramhour_service.sheets.changing import change_rate, change_rates
from gramhour_service.sheets.saving import Dated
from gramhour_service.store.answered import Answer, Call, keep_answer
from gramhour_service.store.opening import open_store, writing
from gramhour_service.store.rates import newest_revision
from tests.store.shops import NOON

MATERIALS = 20
ROUTE = "/v1/rate-changes"


def changes(figure: int) -> list[RateChange]:
    labour = RateChange(kind="shop", code="labour_rate_per_hour", value=figure)
    materials = [
        RateChange(kind="materials", code=f"m{n}", value={"price_per_kg": figure})
        for n in range(MATERIALS)
    ]
    return [labour, *materials]


def change_for_ever(path: Path) -> None:
    """Make every third change of one rate alone, the others of all of them."""
    store = open_store(path)
    while True:
        figure = newest_revision(store) + 1
        dated = Dated(NOON, "ada")
        if figure % 3 == 0:
            labour = ("shop", "labour_rate_per_hour")
            told = change_rate(store, labour, figure, dated, lambda _: None).revision
        else:
            sent = RateChanges(changes=changes(figure), based_on_revision=figure - 1)
            call = Call("ada", ROUTE, str(figure), str(figure).encode())
            with writing(store):
                told = change_rates(store, sent, dated).revision
                keep_answer(store, call, Answer(201, str(told).encode()), dated.now)
        os.write(1, f"{told}\n".encode())


def main() -> None:
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            os.write(1, f"{os.getpid()}\n".encode())
            change_for_ever(Path(line.strip()))
        _, status = os.waitpid(child, 0)
        os.write(1, f"ended {os.waitstatus_to_exitcode(status)}\n".encode())


if __name__ == "__main__":
    main()
