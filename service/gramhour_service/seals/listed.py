"""Seals of listed prices: signed when a price is applied, kept with it, signed anew in time.

A kept seal is given while it has as many days left as a quote holds for, its key is told to the
world and its revision is not recalled. Else the price is signed anew by whoever meets that first.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import NamedTuple

from sqlite_utils import Database

from gramhour.contract.problem import Refused
from gramhour_service.seals.offers import (
    DAYS_LISTED,
    ListedBy,
    end_after,
    listed_offer,
    recalled_fault,
    sealed,
    usual_days,
)
from gramhour_service.seals.standing import MOST_DAYS, Standing, made_ready, standing
from gramhour_service.sheets.in_force import NothingInForce, Pinned, Sheets
from gramhour_service.store.opening import writing
from gramhour_service.store.prices import PriceChange, prices_between
from gramhour_service.store.seals import (
    KeptSeal,
    confirmed_by,
    forget_ended_seals,
    keep_seals,
    seals_kept,
)

AT_ONCE = 500
"""Signed between two writings, so that other writers come in between."""


class Ground(NamedTuple):
    """What listed prices are sealed upon."""

    store: Database
    sheets: Sheets
    standing: Standing
    today: Pinned
    now: datetime


def ground(store: Database, sheets: Sheets, now: datetime) -> Ground:
    """Read what listed prices are sealed upon. Raises ``NothingInForce``."""
    return Ground(store, sheets, standing(store), sheets.pinned(now), now)


def good_seals(on: Ground, prices: Iterable[PriceChange]) -> dict[int, str]:
    """Find the kept seals that are still given, by the numbers of their changes."""
    told = {row.kid for row in on.standing.told(on.now)}
    needed = end_after(on.today.on, usual_days(), on.today.in_force.sheet)
    return {
        change: kept.seal
        for change, kept in seals_kept(on.store, (price.change for price in prices)).items()
        if kept.kid in told
        and kept.expires >= needed
        and kept.rates_revision not in on.standing.recalled
    }


def seal_of(on: Ground, price: PriceChange) -> str:
    """Give the seal of a price, a new one where the kept one is not given any more.

    Raises ``Refused`` if its revision was recalled.
    """
    kept = good_seals(on, (price,)).get(price.change)
    if kept is not None:
        return kept
    made = signed_anew(on, price)
    if made is None:
        raise Refused("cannot-be-sealed", (recalled_fault(price.rates_revision),))
    return made.seal


def is_near(on: Ground, price: PriceChange) -> bool:
    """Say whether a price begins so soon that its promise ends while its key is told for sure."""
    begins = date.fromisoformat(price.effective_from)
    return begins - on.today.on <= timedelta(days=MOST_DAYS - DAYS_LISTED)


def signed_anew(on: Ground, price: PriceChange) -> KeptSeal | None:
    """Sign a listed price; none that is planned for long after, or whose revision was recalled.

    Raises ``Refused`` without a key.
    """
    by = _listed_by(on, price)
    if by is None or not is_near(on, price):
        return None
    issuer = on.standing.issuer or ""
    offer = listed_offer(price, by, issuer, on.now, on.today.in_force.sheet)
    kid = on.standing.ring.rows[0].kid
    return KeptSeal(price.change, kid, by.revision, offer.exp, sealed(offer, on.standing))


def sign_and_keep(on: Ground, prices: Sequence[PriceChange]) -> dict[int, str]:
    """Sign listed prices and keep the seals. Raises ``StoreTrouble``."""
    made = [each for price in prices if (each := signed_anew(on, price)) is not None]
    with writing(on.store):
        keep_seals(on.store, made)
    return {each.change: each.seal for each in made}


def seal_listed(
    store: Database,
    now: datetime,
    after: int,
    to: int,
    told: Callable[[int], None] = lambda _: None,
) -> int:
    """Sign all prices, of changes after one number and up to another, that have no good seal.

    Those that were superseded need none. Say how many were signed.

    ``told`` hears how far it is. Raises ``StoreTrouble``.
    """
    made_ready(store, now)
    try:
        on = ground(store, Sheets(store), now)
    except NothingInForce:
        return 0
    with writing(store):
        forget_ended_seals(store, int(now.timestamp()))
    done = 0
    while prices := prices_between(store, on.today.on, after, to, AT_ONCE):
        good = good_seals(on, prices)
        done += len(sign_and_keep(on, [each for each in prices if each.change not in good]))
        after = prices[-1].change
        told(after)
    return done


def _listed_by(on: Ground, price: PriceChange) -> ListedBy | None:
    """Say which rates stand behind a price: those that confirmed it last, else its own."""
    own = (price.rates_revision, price.rates_on)
    confirmed = confirmed_by(on.store, price.sku, price.change) or own
    for revision, day in (confirmed, own):
        if revision not in on.standing.recalled:
            return ListedBy(revision, day, on.sheets.at(revision, day).sheet)
    return None
