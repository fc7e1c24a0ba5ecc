"""Sign-ins at the desk: each stands for a key, until it ends or the key does.

The browser holds a random word; only its hash is kept, as of a key. A sign-in never outlives its
key: which one it stands for is looked up with it, each time.
"""

from datetime import datetime
from typing import NamedTuple

from sqlite_utils import Database

from gramhour_service.store.keys import AccessKey, hash_of, key_named
from gramhour_service.store.opening import writing


class SignIn(NamedTuple):
    """A sign-in: the key that it stands for, and when it ends by itself."""

    key: AccessKey
    ends_at: datetime

    def is_good(self, now: datetime) -> bool:
        """Say whether it opens anything at a moment."""
        return now < self.ends_at and self.key.is_good(now)


def begin_sign_in(
    store: Database, key: AccessKey, secret: str, now: datetime, ends_at: datetime
) -> None:
    """Keep a new sign-in, and forget those that have ended."""
    with writing(store):
        store.conn.execute("DELETE FROM desk_sign_in WHERE ends_at < ?", (_written(now),))
        store.conn.execute(
            "INSERT INTO desk_sign_in VALUES (?, ?, ?, ?)",
            (hash_of(secret), key.name, _written(now), _written(ends_at)),
        )


def find_sign_in(store: Database, secret: str) -> SignIn | None:
    """Find the sign-in of a word, whether or not it is still good."""
    row = store.conn.execute(
        "SELECT key_name, ends_at FROM desk_sign_in WHERE hash = ?", (hash_of(secret),)
    ).fetchone()
    if row is None:
        return None
    name, ends_at = row
    key = key_named(store, name)
    return None if key is None else SignIn(key, datetime.fromisoformat(ends_at))


def end_sign_in(store: Database, secret: str) -> None:
    """End a sign-in; one that has ended already stays so."""
    with writing(store):
        store.conn.execute("DELETE FROM desk_sign_in WHERE hash = ?", (hash_of(secret),))


def _written(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds")
