"""What was saved stays as it was, whoever writes: the tables themselves refuse anything else."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from sqlite_utils import Database

from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.keys import (
    NameTaken,
    NoSuchKey,
    add_key,
    find_key,
    list_keys,
    revoke_key,
)
from gramhour_service.store.opening import open_store
from tests import demo
from tests.store.shops import NOON, filament, sheet

SECRET = "gramhour-test-secret-of-no-shop"


@pytest.fixture
def plain(path: Path) -> Iterator[sqlite3.Connection]:
    """Connect as any other program would, to a store of two revisions and two keys."""
    store = open_store(path, create=True)
    for labour in (30, 36):
        import_sheet(store, sheet(labour, materials={"pla": filament(20)}), now=NOON, made_by="ada")
    add_key(store, "shop", SECRET, ["price"], now=NOON, channels=["own-shop"])
    add_key(store, "old", f"{SECRET}-2", ["cost"], now=NOON)
    revoke_key(store, "old", now=NOON)
    store.close()
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        yield connection


def everything(connection: sqlite3.Connection) -> list[str]:
    return list(connection.iterdump())


CHANGE = "INTO rate_change (kind, code, effective_from, revision, value) VALUES"
REVISION = "INTO revision (number, known_since, effective_from, made_by, note, changes) VALUES"
ACCESS_KEY = "INTO access_key (name, hash, scopes, added_at) VALUES"
LABOUR = "'shop', 'labour_rate_per_hour', '2026-11-25'"
REFUSED = {
    "a note reworded": ("UPDATE revision SET note = 'other'", "only added to"),
    "a revision renumbered": ("UPDATE revision SET number = 3 WHERE number = 2", "only added to"),
    "a revision deleted": ("DELETE FROM revision WHERE number = 2", "only added to"),
    "a rate changed": ("UPDATE rate_change SET value = '\"9\"'", "only added to"),
    "a rate moved to another day": (
        "UPDATE rate_change SET effective_from = '2020-01-01' WHERE code = 'pla'",
        "only added to",
    ),
    "a rate deleted": ("DELETE FROM rate_change WHERE code = 'pla'", "only added to"),
    "a rate in an older revision": (
        f"INSERT {CHANGE} ('materials', 'asa', '2026-11-25', 1, NULL)",
        "revision is closed",
    ),
    "a rate in a revision to come": (
        f"INSERT {CHANGE} ('materials', 'asa', '2026-11-25', 3, NULL)",
        "revision is closed",
    ),
    "a rate saved over": (f"INSERT OR REPLACE {CHANGE} ({LABOUR}, 2, '\"9\"')", "only added to"),
    "a rate saved twice": (f"INSERT {CHANGE} ({LABOUR}, 2, '\"9\"')", "only added to"),
    "a rate added to the newest revision": (
        f"INSERT {CHANGE} ('shop', 'x', '2026-11-25', 2, '\"9\"')",
        "revision is closed",
    ),
    "a rate of another day than its revision": (
        f"INSERT {CHANGE} ('shop', 'x', '2026-11-26', 2, '\"9\"')",
        "of another day",
    ),
    "a key replaced": (
        f"INSERT OR REPLACE {ACCESS_KEY} ('shop', x'00', '[]', '')",
        "revoke it instead",
    ),
    "a revoked key replaced": (
        f"INSERT OR REPLACE {ACCESS_KEY} ('old', x'00', '[]', '')",
        "revoke it instead",
    ),
    "a number left out": (
        f"INSERT {REVISION} (4, '', '2026-11-25', '', '', 1)",
        "follow each other",
    ),
    "a number used again": (
        f"INSERT {REVISION} (2, '', '2026-11-25', '', '', 1)",
        "follow each other",
    ),
    "a revision saved over": (
        f"INSERT OR REPLACE {REVISION} (2, '', '2026-11-25', '', '', 1)",
        "follow each other",
    ),
    "a number below one": (
        f"INSERT {REVISION} (0, '', '2026-11-25', '', '', 1)",
        "follow each other",
    ),
    "a key deleted": ("DELETE FROM access_key", "revoke it instead"),
    "a key saved over": (
        f"INSERT OR REPLACE {ACCESS_KEY} ('shop', x'00', '[]', '')",
        "revoke it instead",
    ),
    "a key renamed": ("UPDATE access_key SET name = 'x' WHERE name = 'shop'", "revoked, or sooner"),
    "a key that may do more": (
        "UPDATE access_key SET scopes = '[\"operate\"]' WHERE name = 'shop'",
        "revoked, or sooner",
    ),
    "a key of every channel": (
        "UPDATE access_key SET channels = NULL WHERE name = 'shop'",
        "revoked, or sooner",
    ),
    "a key that ends later": (
        "UPDATE access_key SET expires_at = '2099-01-01' WHERE name = 'shop'",
        "revoked, or sooner",
    ),
    "a key that opens again": (
        "UPDATE access_key SET revoked_at = NULL WHERE name = 'old'",
        "revoked, or sooner",
    ),
    "a key revoked twice": (
        "UPDATE access_key SET revoked_at = '2026-12-01' WHERE name = 'old'",
        "revoked, or sooner",
    ),
}


@pytest.mark.parametrize(("statement", "reason"), REFUSED.values(), ids=list(REFUSED))
def test_no_program_rewrites_what_was_saved(
    plain: sqlite3.Connection, statement: str, reason: str
) -> None:
    before = everything(plain)
    with pytest.raises(sqlite3.IntegrityError, match=reason):
        plain.execute(statement)
    assert everything(plain) == before


def test_a_rate_without_any_revision_is_refused(path: Path, store: Database) -> None:
    assert store.table("revision").count == 0
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as plain,
        pytest.raises(sqlite3.IntegrityError),
    ):
        plain.execute(f"INSERT {CHANGE} ({LABOUR}, 1, '\"9\"')")


WRONG_TYPES = {
    "a revision that is a word": f"INSERT {REVISION} ('three', '', '2026-11-25', '', '', 1)",
    "a note of bytes": f"INSERT {REVISION} (3, '', '2026-11-25', '', x'00', 1)",
    "no author": f"INSERT {REVISION} (3, '', '2026-11-25', NULL, '', 1)",
    "a day that is a word": f"INSERT {REVISION} (3, '', 'tomorrow', '', '', 1)",
    "a day that no month has": f"INSERT {REVISION} (3, '', '2026-02-30', '', '', 1)",
    "a revision of nothing": f"INSERT {REVISION} (3, '', '2026-11-25', '', '', 0)",
    "a hash that is a text": f"INSERT {ACCESS_KEY} ('x', 'word', '[]', '')",
    "a key without a name": f"INSERT {ACCESS_KEY} (NULL, x'00', '[]', '')",
    "scopes that are no JSON": f"INSERT {ACCESS_KEY} ('x', x'00', 'cost', '')",
}


@pytest.mark.parametrize("statement", WRONG_TYPES.values(), ids=list(WRONG_TYPES))
def test_a_value_of_a_wrong_type_is_refused(plain: sqlite3.Connection, statement: str) -> None:
    before = everything(plain)
    with pytest.raises(
        sqlite3.IntegrityError, match=r"cannot store|datatype mismatch|NOT NULL|CHECK"
    ):
        plain.execute(statement)
    assert everything(plain) == before


@pytest.mark.parametrize(
    "values",
    [
        "'shop', x'00', '2026-11-25', 3, NULL",
        "'shop', 'x', NULL, 3, NULL",
        "'shop', 'x', '2026-11-25', 3, '9,5'",
    ],
    ids=["a code of bytes", "a day of none", "a rate that is no JSON"],
)
def test_a_rate_of_a_wrong_type_is_refused_in_an_open_revision_too(
    plain: sqlite3.Connection, values: str
) -> None:
    plain.execute(f"INSERT {REVISION} (3, '', '2026-11-25', '', '', 1)")
    with pytest.raises(sqlite3.IntegrityError, match=r"cannot store|NOT NULL|CHECK"):
        plain.execute(f"INSERT {CHANGE} ({values})")


def test_every_table_of_ours_is_strict_and_has_no_column_for_binary_fractions(
    plain: sqlite3.Connection,
) -> None:
    ours = (
        *("revision", "rate_change", "access_key", "answered_call"),
        *("entry_version", "product", "product_use", "listing", "price_change"),
        *("repricing", "repricing_line", "comparison", "workload", "desk_sign_in", "signing_key"),
        *("distrusted_key", "key_use", "price_seal", "price_standing", "recalled_revision"),
        *("seal_issuer", "repricing_moves"),
    )
    strict = plain.execute("SELECT name FROM pragma_table_list WHERE strict ORDER BY name")
    assert [name for (name,) in strict] == sorted(ours)
    columns = "SELECT name, type FROM pragma_table_xinfo(?)"
    types = {(table, *each) for table in ours for each in plain.execute(columns, [table])}
    assert {type_ for _, _, type_ in types} == {"INTEGER", "TEXT", "BLOB", "REAL"}
    # Lines of a repricing are only sorted by these; what they tell is kept as text.
    assert {(table, name) for table, name, type_ in types if type_ == "REAL"} == {
        ("repricing_line", "moves"),
        ("repricing_line", "standing"),
    }


def test_all_money_is_kept_as_text_with_its_digits(path: Path, store: Database) -> None:
    import_sheet(store, demo.sheet(), now=NOON, made_by="ada")
    fine = sheet("0.100000001", materials={"pla": filament("20.10")})
    import_sheet(store, fine, now=NOON, made_by="ada")
    with closing(sqlite3.connect(path)) as plain:
        kept = "SELECT DISTINCT typeof(value) FROM rate_change WHERE value IS NOT NULL"
        assert plain.execute(kept).fetchall() == [("text",)]
        binary = "SELECT count(*) FROM rate_change AS r, json_tree(r.value) AS t WHERE t.type = ?"
        assert plain.execute(binary, ["real"]).fetchone() == (0,)
        assert plain.execute(binary, ["text"]).fetchone()[0] > 50
        newest = "SELECT value FROM rate_change WHERE revision = 2 AND code = ?"
        assert plain.execute(newest, ["labour_rate_per_hour"]).fetchone() == ('"0.100000001"',)
        assert plain.execute(newest, ["pla"]).fetchone() == ('{"price_per_kg":"20.10"}',)


def test_a_key_is_revoked_once_and_its_name_never_used_again(store: Database) -> None:
    add_key(store, "shop", SECRET, ["price"], now=NOON, expires_at=NOON + timedelta(hours=1))
    key = find_key(store, SECRET)
    assert key is not None
    assert (key.is_good(NOON), key.is_good(NOON + timedelta(hours=1))) == (True, False)
    revoke_key(store, "shop", now=NOON)
    with pytest.raises(NoSuchKey):
        revoke_key(store, "shop", now=NOON + timedelta(days=1))
    with pytest.raises(NoSuchKey):
        revoke_key(store, "other", now=NOON)
    with pytest.raises(NameTaken):
        add_key(store, "shop", f"{SECRET}-2", ["price"], now=NOON)
    assert list_keys(store) == [key._replace(revoked_at=NOON)]
    assert not list_keys(store)[0].is_good(NOON)
    assert find_key(store, f"{SECRET}-2") is None


def test_a_secret_stands_nowhere_in_the_files(path: Path, store: Database) -> None:
    add_key(store, "shop", SECRET, ["price"], now=NOON)
    files = [file.read_bytes() for file in path.parent.iterdir()]
    assert any(b"access_key" in file for file in files)
    assert [file for file in files if SECRET.encode() in file] == []
