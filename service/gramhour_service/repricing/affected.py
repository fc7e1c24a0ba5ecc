"""Which listings a repricing looks at: those that can have another price than the listed one.

A listing was looked at by the rates of some revision and day. It can differ now if a rate that
differs since is used by its product in its variant, or by its channel; if it or its product was
changed since; or if prices are planned for it. The index of uses says so without computing any.
"""

from collections.abc import Iterator

from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.repricing import RepricingRequest
from gramhour_service.repricing.target import Target, keys_touched
from gramhour_service.sheets.in_force import NoSuchRevision, NothingInForce, Sheets
from gramhour_service.store.looked_at import (
    looked_at_before,
    skus_all,
    skus_looked_at,
    skus_named,
    skus_not_looked_at,
    skus_using,
)


def skus_to_look_at(
    store: Database, sheets: Sheets, asked: RepricingRequest, target: Target
) -> list[str]:
    """Name the listings to price anew, each once, in their order."""
    if asked.skus is not UNSET:
        return skus_named(store, asked.skus)
    if asked.over == "all" or target.discount_pct:
        return skus_all(store)
    found = set(skus_not_looked_at(store, target.on))
    for revision, day in looked_at_before(store):
        found.update(_differing(store, sheets, revision, day, target))
    return sorted(found)


def _differing(
    store: Database, sheets: Sheets, revision: int, day: str, target: Target
) -> Iterator[str]:
    """Name those looked at by the rates of a revision and day that now can differ."""
    try:
        base = sheets.at(revision, day).sheet
    except (NoSuchRevision, NothingInForce):
        yield from skus_looked_at(store, revision, day)
        return
    keys = keys_touched(base, target.sheet)
    if keys is None:
        yield from skus_looked_at(store, revision, day)
        return
    for key in sorted(keys):
        yield from skus_using(store, key, revision, day)
