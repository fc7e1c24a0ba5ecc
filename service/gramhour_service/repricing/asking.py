"""A repricing asked for: kept in the store with its rates pinned, ready to be run."""

import secrets
from datetime import date, timedelta

from msgspec import UNSET, json
from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.contract.problem import Fault, Refused
from gramhour.contract.repricing import RepricingRequest
from gramhour_service.repricing.holding import lock_of
from gramhour_service.repricing.target import target_of
from gramhour_service.store.entries import Written, entry_of
from gramhour_service.store.opening import path_of
from gramhour_service.store.prices import newest_change
from gramhour_service.store.repricings import Row, add_repricing, forget_before

KEPT = timedelta(days=30)
MOST_NAMED = 20
ASKED = json.Decoder(RepricingRequest)


def new_name() -> str:
    """Make a name for a repricing that is to be asked for."""
    return secrets.token_hex(8)


def add_asked(store: Database, name: str, asked: RepricingRequest, written: Written) -> Row:
    """Add a repricing by the rates that are in force as it is asked, within ``writing``.

    Whoever adds it holds its lock, so that it never seems to have broken off. Repricings older
    than 30 days are forgotten. Raises ``Refused`` with every fault found.
    """
    target = target_of(store, asked, written.at)
    _check_named(store, asked)
    pinned = replace(asked, rates_revision=target.revision, rates_on=date.fromisoformat(target.on))
    row = Row(
        id=name,
        asked=json.encode(pinned).decode(),
        asked_at=written.stamp,
        asked_by=written.by,
        rates_revision=target.revision,
        rates_on=target.on,
        newest_change=newest_change(store),
        ended=None,
        ended_at=None,
        says=None,
        lines=0,
        done=0,
        counts="{}",
        applied_at=None,
        applied_by=None,
    )
    for forgotten in forget_before(store, written._replace(at=written.at - KEPT).stamp):
        lock_of(path_of(store), forgotten).unlink(missing_ok=True)
    add_repricing(store, row)
    return row


def _check_named(store: Database, asked: RepricingRequest) -> None:
    named = () if asked.skus is UNSET else asked.skus
    faults = [
        Fault(f"/skus/{n}", f"there is no listing '{sku}'")
        for n, sku in enumerate(named)
        if entry_of(store, "listing", sku) is None
    ]
    if faults:
        raise Refused("invalid-request", tuple(faults[:MOST_NAMED]))
