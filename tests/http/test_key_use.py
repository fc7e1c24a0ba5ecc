"""When keys were used last, and keys that take the place of others."""

from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from gramhour_service.http.settings import Settings
from gramhour_service.store.key_use import last_uses
from gramhour_service.store.keys import NoSuchKey, list_keys, revoke_key, rotate_key
from gramhour_service.store.opening import open_store
from tests.http.door import NOW, opened, secret

LATER = NOW + timedelta(days=7)


def status_at(path: Path, key: str, after: timedelta) -> int:
    with opened(Settings(store=path), lambda: NOW + after) as door:
        return door.ask("GET", "/v1/rates", key).status_code


def test_when_a_key_was_used_last_is_written_once_the_service_ends(own_path: Path) -> None:
    with closing(open_store(own_path)) as store:
        assert last_uses(store) == {}
    with opened(Settings(store=own_path), lambda: NOW) as door:
        for key in ("cost", "rates", "nobody", "expired", "revoked"):
            door.ask("GET", "/v1/rates", key)
    with opened(Settings(store=own_path), lambda: LATER) as door:
        door.ask("GET", "/v1/rates", "cost")
    with opened(Settings(store=own_path), lambda: NOW) as door:  # a clock that was set back
        door.ask("GET", "/v1/rates", "cost")
    with closing(open_store(own_path)) as store:
        assert last_uses(store) == {"cost": LATER, "rates": NOW}


def test_a_key_that_is_replaced_opens_until_its_time_and_the_new_one_on(own_path: Path) -> None:
    with closing(open_store(own_path)) as store:
        rotate_key(store, "bound", "bound 2", secret("bound 2"), now=NOW, ends_at=LATER)
        (old, new) = (key for key in list_keys(store) if key.name.startswith("bound"))
        assert (new.scopes, new.channels) == (old.scopes, old.channels)
        rotate_key(store, "cost", "cost 2", secret("cost 2"), now=NOW, ends_at=LATER)
    day, week = timedelta(days=1), timedelta(days=7)
    assert [status_at(own_path, key, day) for key in ("cost", "cost 2")] == [200, 200]
    assert [status_at(own_path, key, week) for key in ("cost", "cost 2")] == [401, 200]


def test_a_key_that_is_being_replaced_can_be_revoked_at_once_but_never_later(
    own_path: Path,
) -> None:
    with closing(open_store(own_path)) as store:
        rotate_key(store, "cost", "cost 2", secret("cost 2"), now=NOW, ends_at=LATER)
        for later in (LATER, LATER + timedelta(days=1)):
            with pytest.raises(NoSuchKey):
                revoke_key(store, "cost", now=later)
        revoke_key(store, "cost", now=NOW)
        with pytest.raises(NoSuchKey):
            rotate_key(store, "cost", "cost 3", secret("cost 3"), now=NOW, ends_at=LATER)
        assert "cost 3" not in {key.name for key in list_keys(store)}
    assert status_at(own_path, "cost", timedelta(0)) == 401
    assert status_at(own_path, "cost 2", timedelta(0)) == 200
