"""The shop's keys to sign with: made once, turned over, never lost, never shown."""

import sqlite3
import stat
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlite_utils import Database

from gramhour_service.keyring.turning import key_to_sign, keyring, turn_over
from gramhour_service.signing.keys import id_of, public_member
from gramhour_service.signing.tokens import signed, verified
from gramhour_service.store.opening import open_store
from gramhour_service.store.signing_keys import signing_keys

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
LATER = NOON + timedelta(hours=1)
TYP = "gramhour-test+jws"


def test_first_key_is_made_when_it_is_needed_and_stays(store: Database) -> None:
    assert keyring(store, "prices").signs is None
    first = key_to_sign(store, "prices", NOON)
    assert id_of(key_to_sign(store, "prices", LATER)) == id_of(first)
    assert [row.made_at for row in signing_keys(store, "prices")] == ["2026-12-01T12:00:00+00:00"]


def test_each_purpose_has_keys_of_its_own(store: Database) -> None:
    prices, measurements = (key_to_sign(store, each, NOON) for each in ("prices", "measurements"))
    assert id_of(prices) != id_of(measurements)
    assert set(keyring(store, "prices").known) == {id_of(prices)}


def test_after_a_turn_the_new_key_signs_and_what_the_old_one_signed_counts(store: Database) -> None:
    old = key_to_sign(store, "prices", NOON)
    token = signed(b"{}", TYP, old)
    new = turn_over(store, "prices", LATER)
    assert id_of(key_to_sign(store, "prices", LATER)) == id_of(new) != id_of(old)
    assert verified(token, TYP, keyring(store, "prices").known) == b"{}"
    rows = signing_keys(store, "prices")
    assert [(row.kid, row.retired_at, row.hidden_at) for row in rows] == [
        (id_of(new), None, None),
        (id_of(old), "2026-12-01T13:00:00+00:00", None),
    ]


def test_a_turn_that_hides_tells_no_older_key_but_knows_them(store: Database) -> None:
    old = key_to_sign(store, "prices", NOON)
    new = turn_over(store, "prices", LATER, hide=True)
    rows = signing_keys(store, "prices")
    assert [row.kid for row in rows if row.hidden_at is None] == [id_of(new)]
    assert id_of(old) in keyring(store, "prices").known


def test_of_several_processes_that_need_the_first_key_one_makes_it(
    store: Database, path: Path
) -> None:
    def need(_: int) -> str:
        with closing(open_store(path)) as own:
            return id_of(key_to_sign(own, "measurements", NOON))

    with ThreadPoolExecutor(8) as many:
        ids = set(many.map(need, range(16)))
    assert ids == {row.kid for row in signing_keys(store, "measurements")}
    assert len(ids) == 1


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM signing_key",
        "UPDATE signing_key SET secret = '{}'",
        "UPDATE signing_key SET kid = 'mine'",
        "UPDATE signing_key SET purpose = 'measurements'",
        "UPDATE signing_key SET retired_at = NULL WHERE retired_at IS NOT NULL",
        "INSERT OR REPLACE INTO signing_key VALUES ('second', 'prices', '{}', 'now', NULL, NULL)",
        "INSERT INTO signing_key VALUES ('second', 'prices', '{}', 'now', NULL, NULL)",
    ],
)
def test_no_program_loses_a_key_or_puts_one_in_its_place(
    store: Database, path: Path, statement: str
) -> None:
    key_to_sign(store, "prices", NOON)
    turn_over(store, "prices", LATER)
    with closing(sqlite3.connect(path)) as plain, pytest.raises(sqlite3.IntegrityError):
        plain.execute(statement)


def test_secret_is_for_the_owner_of_the_file_and_is_not_printed(
    store: Database, path: Path
) -> None:
    key = key_to_sign(store, "prices", NOON)
    (row,) = signing_keys(store, "prices")
    secret = row.secret.split('"d":"')[1][:43]
    files = sorted(path.parent.glob(path.name + "*"))
    assert {stat.S_IMODE(each.stat().st_mode) for each in files} == {0o600}
    assert secret not in repr(row) + str(row) + f"{row}" + repr(keyring(store, "prices"))
    assert secret not in str(public_member(key))
