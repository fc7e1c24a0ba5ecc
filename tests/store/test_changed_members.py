"""What changed between two revisions, against a comparison by leaves."""

from contextlib import closing
from datetime import date
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gramhour_service.sheets.history import differences_between
from gramhour_service.store.opening import writing
from gramhour_service.store.rates import add_revision
from tests.http.door import open_empty
from tests.store.shops import NOON

DAYS = [date(2026, 12, day) for day in (1, 4, 7)]
LEAVES = st.sampled_from([True, "1", "1.5", [1], [1, {"a": "2"}]])
LEAF_NAMES, NAMES_WITHIN = st.sampled_from("ab"), st.sampled_from(["a", "x/y", "~"])
GROUPS = st.dictionaries(NAMES_WITHIN, LEAVES)
RATE = st.builds(
    lambda leaves, groups: {**leaves, **groups},
    st.dictionaries(LEAF_NAMES, LEAVES, min_size=1),
    st.fixed_dictionaries({"c": GROUPS, "d": GROUPS}),
)
"""A group is never where another rate has a leaf, or nothing: it would be told whole."""
MISSING = object()
KEYS = [("shop", "p"), ("materials", "p"), ("materials", "q")]
HISTORIES = st.lists(
    st.tuples(
        st.sampled_from(DAYS),
        st.dictionaries(st.sampled_from(KEYS), st.none() | RATE, min_size=1),
    ),
    min_size=1,
    max_size=5,
)


def flat(value: Any, place: str = "") -> dict[str, Any]:
    """List the leaves of a rate by their pointers (RFC 6901)."""
    if not isinstance(value, dict):
        return {place: value}
    found: dict[str, Any] = {}
    for name, inner in value.items():
        found |= flat(inner, f"{place}/{name.replace('~', '~0').replace('/', '~1')}")
    return found


def compared(before: Any, after: Any) -> list[dict[str, Any]]:
    """Compare two rates by their leaves; a whole rate has the pointer of the whole (empty)."""
    if before is None:
        return [{"pointer": "", "after": after}]
    if after is None:
        return [{"pointer": "", "before": before}]
    old, new = flat(before), flat(after)
    told = []
    for place in {*old, *new}:
        sides = {"before": old, "after": new}
        values = {side: of[place] for side, of in sides.items() if place in of}
        if old.get(place, MISSING) != new.get(place, MISSING):
            told.append({"pointer": place, **values})
    return sorted(told, key=lambda member: member["pointer"].split("/"))


def state(history: Any, revision: int, day: date, key: tuple[str, str]) -> Any:
    """Say what a rate is on a day as known at a revision: the latest day, then revision, wins."""
    rows = [(on, number, values[key]) for number, (on, values) in enumerate(history, start=1)
            if number <= revision and on <= day and key in values]  # fmt: skip
    return max(rows, key=lambda row: row[:2])[2] if rows else None


@settings(max_examples=60)
@given(HISTORIES, st.data())
def test_what_is_told_to_have_changed_is_all_that_a_naive_comparison_finds(
    tmp_path_factory: pytest.TempPathFactory, history: Any, data: st.DataObject
) -> None:
    revision = data.draw(st.integers(1, len(history)))
    since = data.draw(st.integers(0, revision - 1))
    store = open_empty(tmp_path_factory.mktemp("drawn") / "gramhour.sqlite")
    with closing(store):
        for on, values in history:
            rows = {key: None if value is None else msgspec.json.encode(value).decode()
                    for key, value in values.items()}  # fmt: skip
            with writing(store):
                add_revision(store, rows, effective_from=on, now=NOON, made_by="ada", note="")
        told = msgspec.to_builtins(differences_between(store, since, revision))
    expected = []
    for day in DAYS:
        changed = {key for on, values in history[since:revision] if on == day for key in values}
        for kind, code in sorted(changed):
            before, after = (state(history, at, day, (kind, code)) for at in (since, revision))
            if before != after:
                done = "added" if before is None else "removed" if after is None else "changed"
                place = {"kind": kind, "code": code, "effective_from": day.isoformat()}
                members = compared(before, after)
                expected.append({**place, "done": done, "members": members})
    assert told == expected
