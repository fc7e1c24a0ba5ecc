"""How sealing stands: who promises, with which key, what counts no more; made at first need."""

from collections.abc import Collection, Sequence
from datetime import UTC, datetime, timedelta
from typing import Final, NamedTuple
from uuid import uuid4

from joserfc.jwk import OKPKey
from sqlite_utils import Database

from gramhour_service.keyring.turning import Keyring, key_to_sign, keyring
from gramhour_service.signing.keys import public_member
from gramhour_service.store.opening import writing
from gramhour_service.store.seals import distrusts, issuer_of, put_issuer, recalls
from gramhour_service.store.signing_keys import KeyRow

PURPOSE: Final = "prices"
MEASUREMENTS: Final = "measurements"
MOST_DAYS: Final = 90
"""For so many days a promise may be given; a key that signs no more is told for longer."""
OVERLAP: Final = timedelta(days=MOST_DAYS + 2)


class Standing(NamedTuple):
    """Who promises, the keys, the revisions that were recalled, the keys believed no more."""

    issuer: str | None
    ring: Keyring
    recalled: frozenset[int]
    distrusted: frozenset[str]

    @property
    def signs(self) -> OKPKey | None:
        """The key that signs, once there is one and a name that promises."""
        return None if self.issuer is None else self.ring.signs

    @property
    def believed(self) -> dict[str, OKPKey]:
        """The keys whose signatures count, by their ids."""
        return _believed(self.ring, self.distrusted)

    def told(self, now: datetime) -> Sequence[KeyRow]:
        """List the keys that the world is told: the one that signs, and those before it a while."""
        return [
            row
            for row in self.ring.rows
            if row.hidden_at is None
            and row.kid not in self.distrusted
            and (row.retired_at is None or now < datetime.fromisoformat(row.retired_at) + OVERLAP)
        ]


def believed_of_measurements(store: Database) -> dict[str, OKPKey]:
    """Read the keys whose measurements count, by their ids: prices are made of them, and sealed."""
    return _believed(keyring(store, MEASUREMENTS), _distrusted(store))


def _believed(ring: Keyring, distrusted: Collection[str]) -> dict[str, OKPKey]:
    return {kid: key for kid, key in ring.known.items() if kid not in distrusted}


def _distrusted(store: Database) -> frozenset[str]:
    return frozenset(distrust.kid for distrust in distrusts(store))


def standing(store: Database) -> Standing:
    """Read how sealing stands."""
    return Standing(
        issuer_of(store),
        keyring(store, PURPOSE),
        frozenset(recall.revision for recall in recalls(store)),
        _distrusted(store),
    )


def made_ready(store: Database, now: datetime) -> Standing:
    """Make the first key and a name, where there are none. Raises ``StoreTrouble``."""
    found = standing(store)
    if found.signs is not None:
        return found
    with writing(store):
        key_to_sign(store, PURPOSE, now)
        if issuer_of(store) is None:
            put_issuer(store, f"urn:uuid:{uuid4()}")
    return standing(store)


def told_keys(standing: Standing, now: datetime) -> list[dict[str, str]]:
    """Tell the keys that verify seals, without their secrets."""
    known = standing.ring.known
    return [public_member(known[row.kid]) for row in standing.told(now.astimezone(UTC))]
