"""The rules of the sale that compare, as formulas: minimum order, parcels, ratios over zero."""

from collections.abc import Sequence
from decimal import Decimal

from gramhour_service.calculation import contribution, postage, settle
from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.job import PostageRow
from gramhour_service.calculation.postage import Postage
from gramhour_service.workbook.figures import Figure, formula, named, plain
from gramhour_service.workbook.roundings import half_even


def goods_value(unit_price: Decimal, units: Decimal, minimum_order: Decimal) -> Decimal:
    """Take the goods, or the minimum order if that is more."""
    goods = unit_price * units
    return formula("MAX({0};{1})", max(plain(goods), plain(minimum_order)), goods, minimum_order)


def postage_of(rows: Sequence[PostageRow], units: Decimal) -> Postage:
    """Add up an order's parcels."""
    if not rows:
        return Postage(ZERO, ZERO)
    value = postage.postage(
        [PostageRow(int(plain(r.up_to_units)), plain(r.cost), plain(r.charged)) for r in rows],
        int(plain(units)),
    )
    full = named(units // rows[-1].up_to_units, "parcels that are full")
    rest = named(units % rows[-1].up_to_units, "units beyond them")
    return Postage(
        named(_parcels(value.cost, full, rest, rows, "cost"), "postage cost"),
        named(_parcels(value.charged, full, rest, rows, "charged"), "postage charged"),
    )


def _parcels(
    value: Decimal, full: Decimal, rest: Decimal, rows: Sequence[PostageRow], what: str
) -> Figure:
    """Pay for the full parcels, and for the smallest that holds the rest."""
    largest_one = getattr(rows[-1], what)
    beyond = largest_one
    for row in reversed(rows[:-1]):
        fits = plain(rest) <= plain(row.up_to_units)
        amount = getattr(row, what)
        now = plain(amount) if fits else plain(beyond)
        beyond = formula("IF({0}<={1};{2};{3})", now, rest, row.up_to_units, amount, beyond)
    return formula("{0}*{1}+IF({2}=0;0;{3})", value, full, largest_one, rest, beyond)


def margin_pct(profit: Decimal, net: Decimal) -> Decimal | None:
    """Take profit in per cent of the net."""
    return _per_cent(profit, net, settle.margin_pct(plain(profit), plain(net)))


def markup_pct(profit: Decimal, cost: Decimal) -> Decimal | None:
    """Take profit in per cent of the cost."""
    return _per_cent(profit, cost, settle.markup_pct(plain(profit), plain(cost)))


def _per_cent(profit: Decimal, whole: Decimal, value: Decimal | None) -> Decimal:
    share = plain(profit) * 100 / plain(whole) if plain(whole) else ZERO
    ratio = named(formula("IF({1}=0;0;{0}*100/{1})", share, profit, whole), "before rounding")
    return or_nothing(half_even(ratio, 2), whole, value)


def contribution_per_machine_hour(amount: Decimal, machine_h: Decimal) -> Decimal | None:
    """Divide the contribution by machine hours."""
    value = contribution.contribution_per_machine_hour(plain(amount), plain(machine_h))
    return _by(amount, machine_h, value)


def contribution_per_labour_hour(
    amount: Decimal, labour_min: Decimal, rate_per_hour: Decimal
) -> Decimal | None:
    """Divide the contribution and the cost of the work by hours worked."""
    value = contribution.contribution_per_labour_hour(
        plain(amount), plain(labour_min), plain(rate_per_hour)
    )
    worked = (amount + labour_min * rate_per_hour / 60) * 60
    return _by(worked, labour_min, value)


def _by(amount: Decimal, hours: Decimal, value: Decimal | None) -> Decimal | None:
    if not isinstance(hours, Figure):
        return None
    now = plain(amount) / plain(hours) if plain(hours) else ZERO
    ratio = named(formula("IF({1}=0;0;{0}/{1})", now, amount, hours), "before rounding")
    return or_nothing(half_even(ratio, 4), hours, value)


def or_nothing(figure: Decimal, whole: Decimal, value: Decimal | None) -> Decimal:
    """Show nothing where a ratio is over zero."""
    return formula('IF({0}=0;"";{1})', Decimal("NaN") if value is None else value, whole, figure)
