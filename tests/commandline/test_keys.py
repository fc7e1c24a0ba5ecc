"""Keys of the shop: printed once, kept as a hash, named once, revoked for good."""

import base64
import hashlib
import json
import re
import stat
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.store.keys import add_key, find_key
from gramhour_service.store.opening import open_store
from tests.commandline.conftest import Run

ADD = ("keys", "add", "till", "--scope", "cost")
KEY = re.compile(r"[A-Za-z0-9_-]{43}")
"""256 random bits, six in each character."""
pytestmark = pytest.mark.usefixtures("shop")


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "shop" / "store.sqlite"


def listed(run: Run) -> list[dict[str, Any]]:
    result = run("keys", "list", "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    found: list[dict[str, Any]] = json.loads(result.stdout)
    return found


def test_a_key_is_printed_alone_and_nowhere_else(run: Run) -> None:
    result = run(*ADD)
    assert (result.exit_code, result.stderr) == (0, "")
    assert KEY.fullmatch(result.stdout.removesuffix("\n"))
    key = result.stdout.strip()
    for arguments in (("keys", "list"), ("keys", "list", "--json"), ("keys", "revoke", "till")):
        assert key not in run(*arguments).output


def test_a_channel_that_the_rates_do_not_have_is_warned_of(run: Run) -> None:
    none = run(*ADD, "--channel", "stal")
    assert (none.exit_code, none.stderr) == (0, ""), "there are no rates yet"
    assert run("rates", "import", "rates.toml").exit_code == 0
    told = run("keys", "add", "shop", "--scope", "price", "--channel", "stal", "--channel", "stall")
    assert (told.exit_code, bool(KEY.fullmatch(told.stdout.strip()))) == (0, True)
    assert told.stderr == (
        "The rates in force have no channel 'stal'; did you mean 'stall'? If that is a slip, "
        "revoke 'shop' and add another key.\n"
    )


def test_the_store_holds_the_hash_of_a_key_and_not_the_key(run: Run, store: Path) -> None:
    key = run(*ADD).stdout.strip()
    kept = b"".join(path.read_bytes() for path in store.parent.iterdir())
    raw = base64.urlsafe_b64decode(key + "=")
    assert hashlib.sha256(key.encode()).digest() in kept
    for form in (key.encode(), key.encode("utf-16-le"), raw, raw.hex().encode()):
        assert form not in kept
        assert form[: len(form) // 2] not in kept
    assert stat.S_IMODE(store.stat().st_mode) == 0o600


def test_keys_are_drawn_anew_each_time(run: Run) -> None:
    drawn = {run("keys", "add", f"till {n}", "--scope", "price").stdout for n in range(20)}
    assert len(drawn) == 20


def test_as_json_the_key_stands_beside_its_name(run: Run, store: Path) -> None:
    result = run(*ADD, "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    told = json.loads(result.stdout)
    assert told.keys() == {"name", "key"}
    with closing(open_store(store)) as opened:
        found = find_key(opened, told["key"])
    assert found is not None
    assert found.name == told["name"] == "till"


@pytest.mark.parametrize("is_revoked", [False, True])
def test_a_name_is_used_once_even_if_its_key_is_revoked(run: Run, is_revoked: bool) -> None:
    run(*ADD)
    if is_revoked:
        run("keys", "revoke", "till")
    before = listed(run)
    again = run("keys", "add", "till", "--scope", "price")
    assert (again.exit_code, again.stdout) == (1, "")
    assert "there is, or was, a key 'till'; names are used once, take another" in again.stderr
    told = run("keys", "add", "till", "--scope", "price", "--json")
    assert (told.exit_code, told.stdout) == (1, "")
    assert json.loads(told.stderr)["type"] == "/problems/key"
    assert listed(run) == before


def test_a_key_that_would_open_nothing_is_not_added(run: Run) -> None:
    today = datetime.now(UTC).date()
    for past in ("2020-01-01", f"{today}"):
        assert run(*ADD, "--expires", past).exit_code == 2
    result = run(*ADD, "--expires", f"{today}")
    assert result.stdout == ""
    says = " ".join(result.stderr.replace("│", " ").split())
    (told,) = re.findall(r"from the beginning of its day on \(UTC\); name ([0-9-]+) or a", says)
    assert run(*ADD, "--expires", told).exit_code == 0


def test_a_key_is_listed_with_what_it_opens_and_how_it_stands(run: Run, store: Path) -> None:
    run("keys", "add", "shop", "--scope", "price", "--channel", "stall", "--channel", "own-shop")
    run("keys", "add", "desk", "--scope", "rates", "--scope", "operate", "--expires", "2099-05-01")
    then = datetime(2020, 1, 1, tzinfo=UTC)
    with closing(open_store(store)) as opened:
        add_key(opened, "old", "a secret of then", ["price"], now=then, expires_at=then)
    run("keys", "add", "lost", "--scope", "cost")
    run("keys", "revoke", "lost")
    rows = {
        key["name"]: (key["scopes"], key["channels"], key["expires_at"], bool(key["revoked_at"]))
        for key in listed(run)
    }
    assert rows == {
        "desk": (["operate", "rates"], [], "2099-05-01T00:00:00Z", False),
        "lost": (["cost"], [], None, True),
        "old": (["price"], [], "2020-01-01T00:00:00Z", False),
        "shop": (["price"], ["own-shop", "stall"], None, False),
    }
    result = run("keys", "list")
    assert (result.exit_code, result.stderr) == (0, "")
    shown = [re.split(r" {2,}", line.strip()) for line in result.stdout.splitlines()]
    assert shown[0] == ["Key", "Scopes", "Channels", "Added", "Used", "State"]
    assert [(row[0], row[1], row[2]) for row in shown[1:]] == [
        ("desk", "operate, rates", "all"),
        ("lost", "cost", "all"),
        ("old", "price", "all"),
        ("shop", "price", "own-shop, stall"),
    ]
    states = [re.sub(r"revoked \d{4}-\d\d-\d\d", "revoked", row[5]) for row in shown[1:]]
    assert states == ["good until 2099-05-01", "revoked", "expired 2020-01-01", "good"]


def test_a_moment_of_another_time_zone_may_end_a_key(run: Run, store: Path) -> None:
    key = run(*ADD, "--expires", "2099-05-01T00:00:00+0200").stdout.strip()
    with closing(open_store(store)) as opened:
        found = find_key(opened, key)
    assert found is not None
    assert found.expires_at is not None
    assert found.expires_at.timestamp() == 4081269600  # 2099-04-30 22:00 UTC, by date -d
    assert listed(run)[0]["expires_at"] in ("2099-05-01T00:00:00+02:00", "2099-04-30T22:00:00Z")


def test_a_revoked_key_stays_in_the_list_and_is_not_revoked_twice(run: Run) -> None:
    run(*ADD)
    result = run("keys", "revoke", "till")
    assert (result.exit_code, result.stdout) == (0, "")
    assert result.stderr == "'till' opens nothing any more.\n"
    before = listed(run)
    assert before[0]["revoked_at"] is not None
    for name in ("till", "nobody"):
        again = run("keys", "revoke", name)
        assert (again.exit_code, again.stdout) == (1, "")
        assert f"there is no key '{name}' that opens anything" in again.stderr
    assert listed(run) == before


def test_revoking_is_told_as_json_too(run: Run) -> None:
    run(*ADD)
    result = run("keys", "revoke", "till", "--json")
    assert (result.exit_code, json.loads(result.stdout)) == (0, {"revoked": "till"})
    refused = run("keys", "revoke", "till", "--json")
    assert (refused.exit_code, refused.stdout) == (1, "")
    assert json.loads(refused.stderr)["type"] == "/problems/key"


def test_where_there_are_no_keys_the_list_says_how_to_add_one(run: Run) -> None:
    run("rates", "import", "rates.toml")
    result = run("keys", "list")
    assert (result.exit_code, result.stdout) == (0, "")
    assert "gramhour keys add NAME --scope cost" in result.stderr
    assert listed(run) == []


@pytest.mark.parametrize("arguments", [("list",), ("revoke", "till")])
def test_without_a_store_the_remedy_is_told_and_none_is_made(
    run: Run, store: Path, arguments: tuple[str, ...]
) -> None:
    result = run("keys", *arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "import a rate sheet to make one" in result.stderr
    assert not store.exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ("till",),
        ("--scope", "cost"),
        ("till", "--scope", "all"),
        ("till", "--scope", "cost", "--channel", "Own shop"),
        ("till", "--scope", "cost", "--channel", ""),
        ("till", "--scope", "cost", "--expires", "soon"),
        ("till", "--scope", "cost", "--expires", "2026-02-30"),
        (" till", "--scope", "cost"),
        ("", "--scope", "cost"),
        ("x" * 64, "--scope", "cost"),
        ("till\n", "--scope", "cost"),
        ("Käse", "--scope", "cost"),
    ],
)
def test_what_is_not_understood_adds_nothing(
    run: Run, store: Path, arguments: tuple[str, ...]
) -> None:
    result = run("keys", "add", *arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "Error: " in result.stderr
    assert not store.exists()


def test_a_key_is_replaced_by_one_that_may_do_the_same_and_ends_a_week_later(run: Run) -> None:
    run("keys", "add", "shop", "--scope", "price", "--channel", "stall")
    result = run("keys", "rotate", "shop", "shop 2", "--json")
    assert result.exit_code == 0
    new = json.loads(result.stdout)
    assert new["name"] == "shop 2"
    assert len(new["key"]) == 43
    found = {key["name"]: key for key in listed(run)}
    assert (found["shop 2"]["scopes"], found["shop 2"]["channels"]) == (["price"], ["stall"])
    ends = datetime.fromisoformat(found["shop"]["revoked_at"])
    added = datetime.fromisoformat(found["shop 2"]["added_at"])
    assert (ends - added).days == 7
    assert run("keys", "revoke", "shop").exit_code == 0
    again = run("keys", "rotate", "shop", "shop 3")
    assert (again.exit_code, again.stdout) == (1, "")
    assert "there is no key 'shop' that opens anything" in again.stderr
