"""Which rate moved a price by how much: each one's effect alone, and what they cause together.

A rate's effect is that of the old sheet with only that rate new, minus the old sheet. What is
left of the whole difference they cause together, and so does a rate that cannot stand alone in
the old sheet because it refers to another new one. Listing or product may have been changed too:
that effect (with a discount's, if one began or ended) is the old sheet with what is asked today,
minus what was listed.
"""

from collections.abc import Sequence
from typing import NamedTuple

from msgspec import UNSET, UnsetType

from gramhour.contract.problem import Refused
from gramhour.contract.repricing import Effect, RateEffect
from gramhour_service.calculation.kept import LastMade
from gramhour_service.listings.variants import channels_packing
from gramhour_service.repricing.evaluating import (
    NOTHING,
    Figures,
    Makings,
    Offered,
    figures_by,
)
from gramhour_service.repricing.target import (
    Target,
    rates_that_differ,
    with_only,
)
from gramhour_service.store.rates import Key

MOST_KEPT = 50


class Effects(NamedTuple):
    """What moved one break: rates one by one, the description, and all of them together."""

    moved_by: list[RateEffect]
    description: Effect | UnsetType
    together: Effect | UnsetType


NO_EFFECTS = Effects([], UNSET, UNSET)


class Moved:
    """From which rates to which: the old sheet, the new one, and each with one rate new."""

    def __init__(self, base: Target, now: Makings) -> None:
        """Compare sheets, for all listings that were priced by ``base`` and are ``now``."""
        self.base, self.target = Makings(base, now), now.target
        self.changed = sorted(rates_that_differ(base.sheet, self.target.sheet))
        self._alone = LastMade[Key, Makings](MOST_KEPT)
        self._used_by = LastMade[tuple[frozenset[Key], str], list[Key]]()

    def alone(self, key: Key) -> Makings:
        """Take the old sheet with only one rate new; the last ones are kept."""
        return self._alone.of(key, lambda: self._with_only(key))

    def _with_only(self, key: Key) -> Makings:
        base = self.base.target
        only = with_only(base.sheet, self.target.sheet, key)
        return Makings(base._replace(sheet=only, kept={}), self.base)

    def used_by(self, offered: Offered) -> list[Key]:
        """Name the changed rates that can move a listing."""
        uses, channel = offered.uses, offered.listing.channel
        return self._used_by.of(
            (uses, channel),
            lambda: [key for key in self.changed if _touches(key, uses, channel, self)],
        )


def _touches(key: Key, used: frozenset[Key], channel: str, moved: Moved) -> bool:
    kind, code = key
    if kind == "shop" or key in used or key == ("channels", channel):
        return True
    return kind == "components" and any(
        channel in channels_packing(sheet, frozenset({code}))
        for sheet in (moved.base.target.sheet, moved.target.sheet)
    )


def looked_at_too(offered: Offered, moved: Moved, *, is_as_described: bool) -> list[Makings]:
    """Say by which other sheets a listing is costed and priced to split what moved it."""
    keys = moved.used_by(offered)
    base = [] if is_as_described else [moved.base]
    return base if len(keys) == 1 else [*base, *map(moved.alone, keys)]


def effects_on(
    offered: Offered,
    moved: Moved,
    quantities: list[int],
    listed: Sequence[Figures],
    now: Sequence[Figures],
    *,
    is_as_described: bool,
) -> list[Effects]:
    """Split the difference of listed and present figures at each quantity; it adds up exactly.

    ``is_as_described`` says that product and listing are as they were when the price was made.
    """
    keys = moved.used_by(offered)
    if is_as_described and len(keys) == 1:  # the new sheet is the old one with only that rate new
        return [_by_one(keys[0], *each) for each in zip(listed, now, strict=True)]
    base = list(listed) if is_as_described else _figures_if_any(offered, moved.base, quantities)
    if base is None:  # what is described today could not be made, or sold, then
        keys, base = [], list(now)
    if len(keys) == 1:
        alone = {keys[0]: list(now)}
    else:
        tried = {key: _figures_if_any(offered, moved.alone(key), quantities) for key in keys}
        alone = {key: figures for key, figures in tried.items() if figures is not None}
    return [
        _split(base[n], listed[n], now[n], {key: each[n] for key, each in alone.items()})
        for n in range(len(quantities))
    ]


def _by_one(key: Key, listed: Figures, now: Figures) -> Effects:
    effect = now.minus(listed)
    return Effects([] if effect == NOTHING else [_effect(key, effect)], UNSET, UNSET)


def _effect(key: Key, effect: Figures) -> RateEffect:
    cost, price = effect
    return RateEffect(kind=key[0], code=key[1], unit_cost=cost, unit_price=price)


def _figures_if_any(
    offered: Offered, makings: Makings, quantities: list[int]
) -> list[Figures] | None:
    """Cost and price quantities by a sheet; none where it cannot price what is listed."""
    if not makings.can_price(offered):
        return None
    try:
        return figures_by(offered, makings, quantities)
    except Refused:
        return None


def _split(base: Figures, listed: Figures, now: Figures, alone: dict[Key, Figures]) -> Effects:
    single = {key: figures.minus(base) for key, figures in alone.items()}
    described = base.minus(listed)
    together = now.minus(base)
    for effect in single.values():
        together = together.minus(effect)
    return Effects(
        moved_by=[_effect(key, effect) for key, effect in single.items() if effect != NOTHING],
        description=UNSET if described == NOTHING else Effect(**described._asdict()),
        together=UNSET if together == NOTHING else Effect(**together._asdict()),
    )
