"""Holds the contract's document against the service for long: schemathesis, with stateful links.

``python -m tests.campaigns.documented EXAMPLES CALLER... [--only PATTERN] [--phases PHASE,...]``
looks at so many examples of each operation whose path matches, for each caller (a key's scope, or
``nobody``), with all checks: each phase of schemathesis (examples, coverage, fuzzing, stateful),
unless some are named. Links are those that schemathesis infers from the document, and from the
``Location`` of answers. What a check says is told once for each operation, and the run goes on.
"""

import argparse
import sys
import time
from collections import Counter
from typing import Any

from schemathesis.engine import events, from_schema
from schemathesis.specs.openapi.checks import negative_data_rejection

from tests.http.door import secret
from tests.http.test_schemathesis import ACCEPTED, APP, CONTRACT

NOBODY = "nobody"
PHASES = ("examples", "coverage", "fuzzing", "stateful")
LONGEST_TOLD = 1_500


class Seen:
    """What was asked so far, and what the checks said."""

    def __init__(self) -> None:
        self.asked: Counter[str] = Counter()
        self.statuses: dict[str, Counter[int]] = {}
        self.said: set[tuple[str, str, str]] = set()

    def look_at(self, caller: str, recorder: Any) -> None:
        """Count the calls of a scenario, and tell what is new in what its checks said."""
        for name, interaction in recorder.interactions.items():
            operation = recorder.cases[name].value.operation.label
            self.asked[operation] += 1
            if interaction.response is not None:
                status = interaction.response.status_code
                self.statuses.setdefault(operation, Counter())[status] += 1
        for name, checks in recorder.checks.items():
            case = recorder.cases[name].value
            for check in checks:
                if check.failure_info is None or _is_in_words(case, check.name):
                    continue
                failure = check.failure_info.failure
                kind = (case.operation.label, check.name, failure.title)
                if kind not in self.said:
                    self.said.add(kind)
                    told = f"{failure.message}\n{check.failure_info.code_sample}"[:LONGEST_TOLD]
                    _tell(f"FOUND {caller}: {' · '.join(kind)}\n{told}")


def _is_in_words(case: Any, check: str) -> bool:
    """Say whether a cell asked for words: a refusal is a 200 then, as agreed."""
    asked = (case.query or {}).get("errors")
    return check == negative_data_rejection.__name__ and asked in ("text", ["text"])


def look(examples: int, caller: str, only: str, phases: list[str]) -> None:
    """Ask as one caller, phase after phase."""
    schema = CONTRACT.include(path_regex=only)
    schema.config.phases.update(phases=phases)
    schema.config.generation.update(max_examples=examples)
    schema.config.checks.positive_data_acceptance.expected_statuses = ACCEPTED
    headers = {} if caller == NOBODY else {"Authorization": f"Bearer {secret(caller)}"}
    schema.config.update(headers=headers)
    seen, began = Seen(), time.monotonic()
    for event in from_schema(schema).execute():
        match event:
            case events.ScenarioFinished():
                seen.look_at(caller, event.recorder)
                calls, lasted = len(event.recorder.interactions), time.monotonic() - began
                if event.phase.value != "stateful":
                    _tell(f"{caller} {event.recorder.label}: {calls:,} calls by {lasted:.0f} s")
            case events.PhaseFinished():
                total, lasted = sum(seen.asked.values()), time.monotonic() - began
                name = event.phase.name.value
                _tell(f"{caller}, {name}: {event.status.value}, {total:,} calls in {lasted:.0f} s")
            case events.NonFatalError() | events.FatalError():
                _tell(f"ERROR {caller}: {event.__dict__}"[:LONGEST_TOLD])
    for operation, times in sorted(seen.asked.items()):
        statuses = ", ".join(
            f"{each} {n:,}" for each, n in sorted(seen.statuses[operation].items())
        )
        _tell(f"{caller} {operation}: {times:,} calls ({statuses})")


def _tell(said: str) -> None:
    sys.stdout.write(said + "\n")
    sys.stdout.flush()


def main() -> None:
    """Look as each caller that is named."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("examples", type=int)
    asked.add_argument("callers", nargs="+")
    asked.add_argument("--only", default=".*")
    asked.add_argument("--phases", default=",".join(PHASES))
    given = asked.parse_args()
    for caller in given.callers:
        look(given.examples, caller, given.only, given.phases.split(","))
    APP.state.shop.close()


if __name__ == "__main__":
    main()
