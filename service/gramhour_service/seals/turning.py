"""Keys turned over, seals recalled, a key believed no more, the name that promises."""

import re
from collections.abc import Collection
from typing import Final

from sqlite_utils import Database

from gramhour_service.keyring.turning import key_to_sign, keyring, turn_over
from gramhour_service.seals.standing import MEASUREMENTS, PURPOSE, Standing, made_ready, standing
from gramhour_service.store.entries import Written
from gramhour_service.store.opening import writing
from gramhour_service.store.rates import newest_revision
from gramhour_service.store.seals import (
    Distrust,
    Recall,
    add_distrust,
    add_recall,
    put_issuer,
)

ISSUER: Final = re.compile(r"[!-~]{1,200}")
"""A name without blanks, such as a web address (RFC 7519, 4.1.1, has names and URIs)."""


class NoSuchRevision(Exception):
    """A revision was to be recalled that does not exist; ``newest`` is the last that does."""

    def __init__(self, newest: int) -> None:
        """Keep the number of the newest revision."""
        super().__init__(newest)
        self.newest = newest


class NoSuchKey(Exception):
    """A key was to be distrusted that is none of the shop's."""


def rotate(store: Database, written: Written) -> Standing:
    """Sign with a new key from now on; seals by the older ones count until they expire."""
    with writing(store):
        made_ready(store, written.at)
        turn_over(store, PURPOSE, written.at)
    return standing(store)


def recall(store: Database, revisions: Collection[int], note: str, written: Written) -> Standing:
    """Let no seal by some revisions of the rates count any more, whoever verifies it.

    Who verifies with us is told so; who verifies alone meets a key that is not told any more,
    and asks us. Raises ``NoSuchRevision``.
    """
    with writing(store):
        newest = newest_revision(store)
        if any(not 1 <= revision <= newest for revision in revisions):
            raise NoSuchRevision(newest)
        made_ready(store, written.at)
        for revision in sorted(revisions):
            add_recall(store, Recall(revision, written.stamp, written.by, note))
        turn_over(store, PURPOSE, written.at, hide=True)
    return standing(store)


def distrust(store: Database, kid: str, note: str, written: Written) -> Standing:
    """Believe nothing that a key signed: somebody else has it. Raises ``NoSuchKey``.

    Whoever has it has a copy of the store, and with it the keys before it and those of
    measurements, of which any price could be made: none of them is believed.
    """
    with writing(store):
        rows = standing(store).ring.rows
        place = next((n for n, row in enumerate(rows) if row.kid == kid), None)
        if place is None:
            raise NoSuchKey(kid)
        of_measurements = keyring(store, MEASUREMENTS).rows
        for row in (*rows[place:], *of_measurements):
            add_distrust(store, Distrust(row.kid, written.stamp, written.by, note))
        if not place:
            turn_over(store, PURPOSE, written.at)
        if of_measurements:
            turn_over(store, MEASUREMENTS, written.at)
        key_to_sign(store, PURPOSE, written.at)
    return standing(store)


def rename(store: Database, issuer: str) -> None:
    """Promise under another name from now on. Raises ``ValueError`` for what is no name."""
    if not ISSUER.fullmatch(issuer):
        raise ValueError("1 to 200 letters, digits and signs without blanks, such as an address")
    with writing(store):
        put_issuer(store, issuer)
