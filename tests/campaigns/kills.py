"""Kills a service of two workers again and again under mixed load, and looks at what is left.

``python -m tests.campaigns.kills [TIMES] [SEED]``. Of every three times the whole service is
killed twice, and a worker once. Callers meanwhile ask for quotes, change a rate with an
Idempotency-Key, and read. Afterwards: no acknowledged change is lost or there twice, every quote
that was answered is computed again by the revision that it names, to the byte, and the store is
sound. Told: how long the service took to answer again.
"""

import os
import random
import signal
import statistics
import sys
import tempfile
import threading
import time
from contextlib import closing
from datetime import UTC, datetime
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import NamedTuple

import msgspec

from gramhour.contract.documents import parse_json
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.sheets.in_force import Sheets
from gramhour_service.store.copies import look_over
from gramhour_service.store.opening import open_store
from gramhour_service.store.rates import newest_revision, revisions_before
from tests.server.running import QUOTE, Service, ask, demo_store, serving

QUOTERS = 3
LONGEST = 1.5
LABOUR = "labour_rate_per_hour"


class Kept:
    """What callers were told: by revision its note, and each quote with its revision."""

    def __init__(self) -> None:
        self.acknowledged: dict[str, int] = {}
        self.quotes: dict[int, bytes] = {}
        self.different: list[int] = []
        self.answers = 0
        self.broken = 0
        self.strange: list[str] = []
        self.lock = threading.Lock()


class Round(NamedTuple):
    """A service between its start and its end."""

    service: Service
    kept: Kept
    over: threading.Event


def quote(of: Round) -> None:
    while not of.over.is_set():
        try:
            with closing(of.service.connect()) as connection:
                while not of.over.is_set():
                    _quote_once(of, connection)
        except (OSError, HTTPException):
            with of.kept.lock:
                of.kept.broken += 1
            time.sleep(0.02)


def _quote_once(of: Round, connection: HTTPConnection) -> None:
    answer = ask(connection, "POST", "/v1/quotes", "cost", body=QUOTE)
    with of.kept.lock:
        of.kept.answers += 1
        if answer.status != 200:
            of.kept.strange.append(f"{answer.status} {answer.body[:120]!r}")
            return
        revision = msgspec.json.decode(answer.body)["rates_revision"]
        if of.kept.quotes.setdefault(revision, answer.body) != answer.body:
            of.kept.different.append(revision)


def change(of: Round, number: int) -> None:
    """Change the labour rate; try again with the same word until it is acknowledged."""
    turn = 0
    while not of.over.is_set():
        turn += 1
        word = f"{number}-{turn}"
        try:
            _change_once(of, word, f"{20 + (number * 37 + turn) % 4000 / 100:.2f}")
        except (OSError, HTTPException):
            with of.kept.lock:
                of.kept.broken += 1
        time.sleep(0.03)


def _change_once(of: Round, word: str, rate: str) -> None:
    told = of.service.ask("GET", "/v1/revisions?limit=1", "rates")
    if told.status != 200:
        return
    newest = msgspec.json.decode(told.body)["items"][0]["rates_revision"]
    sent = {
        "based_on_revision": newest,
        "note": word,
        "changes": [{"kind": "shop", "code": LABOUR, "value": rate}],
    }
    body = msgspec.json.encode(sent)
    headers = {"Idempotency-Key": word}
    answer = of.service.ask("POST", "/v1/rate-changes", "rates", body=body, headers=headers)
    with of.kept.lock:
        if answer.status == 201:
            of.kept.acknowledged[word] = msgspec.json.decode(answer.body)["rates_revision"]
        elif answer.status not in (409, 503):
            of.kept.strange.append(f"{answer.status} {answer.body[:120]!r}")


def a_round(store: Path, kept: Kept, number: int, chance: random.Random) -> float:
    """Start, load, kill; say how long it took until the service answered."""
    began = time.monotonic()
    options = ("--workers", "2", "--no-log")
    with serving(store, *options, cuts_off=True, loads_itself=True) as service:
        started = time.monotonic() - began
        of = Round(service, kept, threading.Event())
        callers = [threading.Thread(target=quote, args=(of,)) for _ in range(QUOTERS)]
        callers.append(threading.Thread(target=change, args=(of, number)))
        for caller in callers:
            caller.start()
        time.sleep(chance.uniform(0.1, LONGEST))
        if number % 3 == 2:
            worker = int(service.ask("GET", "/health").worker)
            os.kill(worker, signal.SIGKILL)
            time.sleep(chance.uniform(0.1, LONGEST))
        os.killpg(service.process.pid, signal.SIGKILL)
        service.process.wait()
        of.over.set()
        for caller in callers:
            caller.join()
    return started


def check(store: Path, kept: Kept) -> list[str]:
    """Hold what callers were told against what is there."""
    faults = [f"strange: {each}" for each in kept.strange]
    faults += [f"two answers at revision {each}" for each in kept.different]
    faults += list(look_over(store).faults)
    with closing(open_store(store)) as opened:
        newest = newest_revision(opened)
        notes = [each.note for each in revisions_before(opened, newest + 1, newest)]
        by_number = {
            each.number: each.note for each in revisions_before(opened, newest + 1, newest)
        }
        faults += [f"{n} is there twice" for n in set(notes) if n and notes.count(n) > 1]
        for word, revision in kept.acknowledged.items():
            if by_number.get(revision) != word:
                faults.append(f"{word} was acknowledged as {revision} and is not there")
        sheets, now = Sheets(opened), datetime.now(UTC)
        asked = parse_json(QUOTE)
        for revision, answer in kept.quotes.items():
            sheet = sheets.pinned(now, revision, None).in_force.sheet
            again = msgspec.json.encode(answer_quote(asked, sheet, revision=revision))
            if again != answer:
                faults.append(f"the quote of revision {revision} is another one now")
    return faults


def main(times: int, seed: int) -> int:
    chance, kept, starts = random.Random(seed), Kept(), list[float]()
    with tempfile.TemporaryDirectory() as folder:
        store = demo_store(Path(folder) / "shop" / "gramhour.sqlite")
        for number in range(times):
            starts.append(a_round(store, kept, number, chance))
        faults = check(store, kept)
    sys.stdout.write(
        f"{times} kills, seed {seed}: {kept.answers} quotes answered at {len(kept.quotes)} "
        f"revisions and computed again, {len(kept.acknowledged)} changes acknowledged, "
        f"{kept.broken} calls cut off; answers again after {statistics.median(starts):.2f} s "
        f"(median), {max(starts):.2f} s (most), at a load of {os.getloadavg()[1]:.1f} "
        f"on {os.cpu_count()} cores; {len(faults)} faults\n"
    )
    sys.stdout.writelines(f"{fault}\n" for fault in faults[:20])
    return bool(faults)


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:]]
    sys.exit(main(*(given + [200, 1][len(given) :])))
