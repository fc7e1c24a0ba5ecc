"""The keys of a purpose, the first one made when it is first needed, and the next one."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import NamedTuple

from joserfc.jwk import OKPKey
from sqlite_utils import Database

from gramhour_service.signing.keys import id_of, made_key, read_key, secret_text
from gramhour_service.store.opening import writing
from gramhour_service.store.signing_keys import (
    KeyRow,
    Purpose,
    add_signing_key,
    hide_retired_keys,
    retire_signing_key,
    signing_keys,
)


class Keyring(NamedTuple):
    """The keys of a purpose as they stand: the one that signs, if there is one, before others."""

    rows: Sequence[KeyRow]

    @property
    def signs(self) -> OKPKey | None:
        """The key that signs."""
        row = self.rows[0] if self.rows and self.rows[0].retired_at is None else None
        return None if row is None else read_key(row.secret)

    @property
    def known(self) -> dict[str, OKPKey]:
        """All keys by their ids: what they signed was signed here."""
        return {row.kid: read_key(row.secret) for row in self.rows}


def keyring(store: Database, purpose: Purpose) -> Keyring:
    """Read the keys of a purpose."""
    return Keyring(signing_keys(store, purpose))


def key_to_sign(store: Database, purpose: Purpose, now: datetime) -> OKPKey:
    """Find the key that signs; make the first one. Raises ``StoreTrouble``."""
    found = keyring(store, purpose).signs
    if found is not None:
        return found
    with writing(store):
        # Another process may have made it meanwhile.
        return keyring(store, purpose).signs or _next_key(store, purpose, now)


def turn_over(store: Database, purpose: Purpose, now: datetime, *, hide: bool = False) -> OKPKey:
    """Make a new key that signs from now on; what older ones signed counts.

    With ``hide`` their public keys are told to nobody any more.
    """
    with writing(store):
        retire_signing_key(store, purpose, _stamp(now))
        if hide:
            hide_retired_keys(store, purpose, _stamp(now))
        return _next_key(store, purpose, now)


def _next_key(store: Database, purpose: Purpose, now: datetime) -> OKPKey:
    key = made_key()
    add_signing_key(store, KeyRow(id_of(key), purpose, secret_text(key), _stamp(now)))
    return key


def _stamp(now: datetime) -> str:
    return now.astimezone(UTC).isoformat(timespec="seconds")
