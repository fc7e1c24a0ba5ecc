"""Access keys: kept as hashes, shown once, revoked but never deleted.

A key is 256 random bits, so a plain fast hash hides it as well as a slow one would, and finding
it by its hash tells an attacker nothing about it.
"""

import hashlib
import hmac
import json
from collections.abc import Collection
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from sqlite_utils import Database

from gramhour_service.store.opening import writing


class AccessKey(NamedTuple):
    """A key's name and what it may do. ``channels`` is empty for a key of every channel."""

    name: str
    scopes: frozenset[str]
    channels: frozenset[str]
    added_at: datetime
    expires_at: datetime | None
    revoked_at: datetime | None

    def is_good(self, now: datetime) -> bool:
        """Say whether the key opens anything at a moment."""
        ends = (self.expires_at, self.revoked_at)
        return all(end is None or now < end for end in ends)


class NameTaken(Exception):
    """A key of that name exists, or existed."""


class NoSuchKey(Exception):
    """No key has that name, or it is revoked already."""


SELECT = "SELECT name, scopes, channels, added_at, expires_at, revoked_at FROM access_key"
WITH_HASH = f"{SELECT.replace(' FROM', ', hash FROM')} WHERE hash = ?"


def add_key(
    store: Database,
    name: str,
    secret: str,
    scopes: Collection[str],
    *,
    now: datetime,
    channels: Collection[str] = (),
    expires_at: datetime | None = None,
) -> None:
    """Keep a new key. Raises ``NameTaken``: names stand in the history, so they are used once."""
    with writing(store):
        if store.table("access_key").count_where("name = ?", [name]):
            raise NameTaken(name)
        store.table("access_key").insert(
            {
                "name": name,
                "hash": hash_of(secret),
                "scopes": json.dumps(sorted(scopes)),
                "channels": json.dumps(sorted(channels)) if channels else None,
                "added_at": now.isoformat(timespec="seconds"),
                "expires_at": expires_at.isoformat(timespec="seconds") if expires_at else None,
                "revoked_at": None,
            }
        )


def revoke_key(store: Database, name: str, *, now: datetime) -> None:
    """Make a key open nothing from a moment on, which may be yet to come.

    Raises ``NoSuchKey``, also for one that is revoked by then already.
    """
    with writing(store):
        revoked = store.execute(
            "UPDATE access_key SET revoked_at = ?1 WHERE name = ?2 "
            "AND (revoked_at IS NULL OR revoked_at > ?1)",
            (now.isoformat(timespec="seconds"), name),
        )
        if revoked.rowcount != 1:
            raise NoSuchKey(name)


def rotate_key(
    store: Database, name: str, new_name: str, secret: str, *, now: datetime, ends_at: datetime
) -> None:
    """Keep a new key that may do what another may, which ends at a moment. All or nothing.

    Raises ``NoSuchKey`` if that opens nothing any more, and ``NameTaken``.
    """
    with writing(store):
        old = key_named(store, name)
        if old is None or not old.is_good(now):
            raise NoSuchKey(name)
        add_key(
            store,
            new_name,
            secret,
            old.scopes,
            now=now,
            channels=old.channels,
            expires_at=old.expires_at,
        )
        revoke_key(store, name, now=ends_at)


def list_keys(store: Database) -> list[AccessKey]:
    """List all keys, revoked ones too, by name."""
    return [_key(row) for row in store.execute(f"{SELECT} ORDER BY name")]


def find_key(store: Database, secret: str) -> AccessKey | None:
    """Find the key that a caller shows, whether or not it is still good."""
    shown = hash_of(secret)
    row = store.conn.execute(WITH_HASH, (shown,)).fetchone()
    # Compared once more without haste or halt; how far a guess came in the index tells little.
    if row is None or not hmac.compare_digest(row[-1], shown):
        return None
    return _key(row[:-1])


def key_named(store: Database, name: str) -> AccessKey | None:
    """Find a key by its name, whether or not it is still good."""
    row = store.conn.execute(f"{SELECT} WHERE name = ?", (name,)).fetchone()
    return None if row is None else _key(row)


def hash_of(secret: str) -> bytes:
    """Hash a secret as it is kept."""
    return hashlib.sha256(secret.encode("utf-8", "surrogateescape")).digest()


@lru_cache(maxsize=256)
def _key(row: tuple[str, str, str | None, str, str | None, str | None]) -> AccessKey:
    name, scopes, channels, added_at, expires_at, revoked_at = row
    return AccessKey(
        name=name,
        scopes=frozenset(json.loads(scopes)),
        channels=frozenset(json.loads(channels)) if channels else frozenset(),
        added_at=datetime.fromisoformat(added_at),
        expires_at=datetime.fromisoformat(expires_at) if expires_at else None,
        revoked_at=datetime.fromisoformat(revoked_at) if revoked_at else None,
    )
