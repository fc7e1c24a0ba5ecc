"""Lines of listings that are priced at once, written down from columns of whole numbers.

The contract's own structs are encoded once, with places in them for what differs from listing to
listing, in the order of their members: how a line looks is said by them alone.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import lru_cache
from typing import Any

from msgspec import UNSET, Raw

from gramhour.contract.listed import ListedBreak
from gramhour.contract.repricing import LineBreak, RateEffect, RepricingLine
from gramhour_service.repricing.alike.columns import COST, PER_CENT, Break, ToPrice, Wholes
from gramhour_service.repricing.alike.moves import Moves
from gramhour_service.repricing.effects import Effects, effects_on
from gramhour_service.repricing.evaluating import Figures
from gramhour_service.repricing.lines import name_of
from gramhour_service.repricing.reported import ENCODER, Reported, standing
from gramhour_service.store.rates import Key

ONE, WHOLE = Raw(b"%s"), Raw(b"%d")
NOTHING = "[]"
TRUTH = ("false", "true")


def written(
    items: Sequence[ToPrice],
    breaks: Sequence[Break],
    digits: int,
    moves: Moves,
    under: tuple[list[bool], list[bool]],
) -> list[Reported]:
    """Write lines down; ``under`` says whose new and whose listed price is under its floor."""
    is_listed = breaks[0].before is not None
    changes = _amounts(moves.change_pct, PER_CENT)
    lines = _lines_of(items[0].offered.listing.channel, breaks, digits, is_listed=is_listed)
    columns: list[Sequence[Any]] = [
        [item.offered.sku for item in items],
        [_text(name_of(item.offered)) for item in items],
        moves.outcomes,
        *([changes] if is_listed else []),
        *([TRUTH[each] for each in of_all] for of_all in under),
    ]
    for at, moved_by in zip(breaks, _moved_by(items, breaks, digits), strict=True):
        columns += [*_cells(at, digits), moved_by]
    shown = [abs(change) for change in changes] if is_listed else [0.0] * len(items)
    return [
        Reported(outcome, *is_under, move, standing(move, failed=False, is_under=any(is_under)),
                 prices, line.encode())
        for outcome, is_under, move, prices, line in zip(
            moves.outcomes, zip(*under, strict=True), shown, _prices(breaks, digits),
            map(lines.__mod__, zip(*columns, strict=True)), strict=True,
        )
    ]  # fmt: skip


def _lines_of(channel: str, breaks: Sequence[Break], digits: int, *, is_listed: bool) -> str:
    return _line_of(channel, tuple([at.quantity for at in breaks]), digits, is_listed=is_listed)


@lru_cache
def _line_of(channel: str, quantities: tuple[int, ...], digits: int, *, is_listed: bool) -> str:
    """Encode a line with places for what differs: as ``columns`` of ``written`` have it."""
    price, cost, share = _places(digits)
    line = RepricingLine(
        sku="%s",
        name=ONE,  # type: ignore[arg-type]
        channel=channel,
        outcome="%s",
        change_pct=share if is_listed else UNSET,
        under_floor=ONE,  # type: ignore[arg-type]
        under_floor_if_kept=ONE,  # type: ignore[arg-type]
        breaks=[
            LineBreak(
                from_quantity=quantity,
                old_unit_price=price if is_listed else UNSET,
                unit_price=price,
                unit_cost_before=cost if is_listed else UNSET,
                unit_cost=cost,
                margin_if_kept_pct=share if is_listed else UNSET,
                margin_pct=share,
                least_margin_pct=share,
                least_margin_at=WHOLE,  # type: ignore[arg-type]
                least_margin_if_kept_pct=share if is_listed else UNSET,
                moved_by=ONE,  # type: ignore[arg-type]
            )
            for quantity in quantities
        ],
    )
    return _text(line)


def _cells(at: Break, digits: int) -> Iterator[Sequence[Any]]:
    """Give the columns of a break in the order of its members."""
    now, before, if_kept = at.now, at.before, at.if_kept
    if before is not None:
        yield _amounts(before.unit_price, digits)
    yield _amounts(now.unit_price, digits)
    if before is not None:
        yield _amounts(before.unit_cost, COST)
    yield _amounts(now.unit_cost, COST)
    if if_kept is not None:
        yield _amounts(if_kept.margin_pct, PER_CENT)
    yield _amounts(now.margin_pct, PER_CENT)
    yield _amounts(now.least_margin_pct, PER_CENT)
    yield now.least_margin_at.tolist()
    if if_kept is not None:
        yield _amounts(if_kept.least_margin_pct, PER_CENT)


def _prices(breaks: Sequence[Break], digits: int) -> Iterator[str]:
    """Write the prices down that applying the lines would list."""
    columns: list[list[float]] = []
    for each in (at.now for at in breaks):
        columns += [
            _amounts(each.unit_price, digits),
            _amounts(each.unit_price_net, COST),
            _amounts(each.unit_cost, COST),
        ]
    prices = _prices_of(tuple([at.quantity for at in breaks]), digits)
    return map(prices.__mod__, zip(*columns, strict=True))


@lru_cache
def _prices_of(quantities: tuple[int, ...], digits: int) -> str:
    price, cost, _ = _places(digits)
    return _text(
        [
            ListedBreak(from_quantity=each, unit_price=price, unit_price_net=cost, unit_cost=cost)
            for each in quantities
        ]
    )


def _moved_by(items: Sequence[ToPrice], breaks: Sequence[Break], digits: int) -> list[list[str]]:
    """Write down, for each break, what moved each listing: rates one by one, and the rest."""
    texts = [[NOTHING] * len(items) for _ in breaks]
    by_one: dict[Key, list[int]] = defaultdict(list)
    for n, item in enumerate(items):
        if item.listed is None:
            continue
        keys = item.listed.moved.used_by(item.offered)
        if item.listed.is_as_described and len(keys) == 1:
            by_one[keys[0]].append(n)
        else:
            for text, effects in zip(texts, _effects(item, breaks, n, digits), strict=True):
                text[n] = _effects_text(effects)
    for key, those in by_one.items():
        for text, at in zip(texts, breaks, strict=True):
            for n, effect in zip(those, _by_one(key, at, those, digits), strict=True):
                text[n] = effect
    return texts


def _by_one(key: Key, at: Break, those: list[int], digits: int) -> Iterator[str]:
    """Write down what the only rate that differs moved some listings by."""
    assert at.before is not None, "what has no price was not moved"
    template = _effect_of(key, digits)
    costs = _amounts((at.now.unit_cost - at.before.unit_cost)[those], COST)
    prices = _amounts((at.now.unit_price - at.before.unit_price)[those], digits)
    return (
        template % each if each[0] or each[1] else NOTHING
        for each in zip(costs, prices, strict=True)
    )


@lru_cache
def _effect_of(key: Key, digits: int) -> str:
    price, cost, _ = _places(digits)
    return _text([RateEffect(kind=key[0], code=key[1], unit_cost=cost, unit_price=price)])


def _effects(item: ToPrice, breaks: Sequence[Break], n: int, digits: int) -> list[Effects]:
    """Split what moved one listing."""
    assert item.listed is not None, "what has no price was not moved"
    return effects_on(
        item.offered,
        item.listed.moved,
        [at.quantity for at in breaks],
        [Figures(each.unit_cost, each.unit_price) for each in item.listed.breaks],
        [Figures(_decimal(at.now.unit_cost, n, COST), _decimal(at.now.unit_price, n, digits))
         for at in breaks],
        is_as_described=item.listed.is_as_described,
    )  # fmt: skip


def _effects_text(effects: Effects) -> str:
    """Write down the rates, and after them the members that are there only at times."""
    others = {"description": effects.description, "together": effects.together}
    return _text(effects.moved_by) + "".join(
        f',"{name}":{_text(effect)}' for name, effect in others.items() if effect is not UNSET
    )


def _text(told: Any) -> str:
    return ENCODER.encode(told).decode()


def _places(digits: int) -> tuple[Any, Any, Any]:
    """Give the places of a price, a cost and a percentage, which stand as texts in a line."""
    return f"%.{digits}f", f"%.{COST}f", f"%.{PER_CENT}f"


def _amounts(numbers: Wholes, places: int) -> list[float]:
    """Put the point where it belongs; written with so many decimals the floats are exact."""
    amounts: list[float] = (numbers / 10.0**places).tolist()
    return amounts


def _decimal(numbers: Wholes, n: int, places: int) -> Decimal:
    return Decimal(int(numbers[n])).scaleb(-places)
