"""The flags of a break as formulas, each 1 where it is raised."""

from collections.abc import Sequence
from decimal import Decimal

from gramhour_service.calculation.breaks import Break
from gramhour_service.calculation.job import Channel
from gramhour_service.workbook.figures import Figure, formula, plain


def flags_of(each: Break, channel: Channel, listed: Sequence[Break]) -> dict[str, Decimal]:
    """Write each flag of a break; ``listed`` are the breaks in rising order."""
    settled, raw = each.priced.settled, each.priced.raw_price
    flags: dict[str, Decimal] = {
        "minimum_order_applied": formula(
            "IF(ROUND({0}-{1}*{2};9)>0;1;0)",
            _one(plain(channel.minimum_order) > plain(settled.unit_price) * plain(each.quantity)),
            channel.minimum_order,
            settled.unit_price,
            each.quantity,
        )
    }
    if raw is not None:
        value = _one(plain(raw) <= 0)
        flags["postage_pays_for_goods"] = formula("IF({0}<=0;1;0)", value, raw)
    if channel.margin_floor_pct is not None:
        flags["below_margin_floor"] = _below_floor(each, channel.margin_floor_pct)
    flags["below_cost"] = formula("IF({0}<0;1;0)", _one(plain(settled.profit) < 0), settled.profit)
    flags |= _beside(each, listed)
    return flags


def _below_floor(each: Break, floor: Decimal) -> Figure:
    profit, net = each.priced.settled.profit, each.priced.settled.net
    below = bool(plain(net)) and plain(profit) * 100 < plain(floor) * plain(net)
    return formula(
        "IF({1}=0;0;IF({2}*{1}-{0}*100>1E-7+ABS({1})*1E-13;1;0))", _one(below), profit, net, floor
    )


def _beside(each: Break, listed: Sequence[Break]) -> dict[str, Decimal]:
    """Compare a break with the listed ones."""
    if not listed:
        return {}
    price, gross = each.priced.settled.unit_price, each.priced.settled.gross
    quantity = each.quantity
    cheaper, dearer = [], formula("0", 0)
    for other in listed:
        smaller = plain(other.quantity) < plain(quantity)
        cheaper.append(
            formula(
                "IF({0}<{1};IF({2}<{3};1;0);0)",
                _one(smaller and plain(other.priced.settled.unit_price) < plain(price)),
                other.quantity,
                quantity,
                other.priced.settled.unit_price,
                price,
            )
        )
    for other in reversed(listed):
        is_next = plain(other.quantity) > plain(quantity)
        lower = _one(plain(other.priced.settled.gross) < plain(gross))
        dearer = formula(
            "IF({0}>{1};IF({2}<{3};1;0);{4})",
            lower if is_next else plain(dearer),
            other.quantity,
            quantity,
            other.priced.settled.gross,
            gross,
            dearer,
        )
    holders = ";".join(f"{{{n}}}" for n in range(len(cheaper)))
    any_cheaper = max(plain(one) for one in cheaper)
    return {
        "above_smaller_break": formula(f"MAX({holders})", any_cheaper, *cheaper),
        "next_total_is_lower": dearer,
    }


def _one(raised: bool) -> Decimal:
    return Decimal(raised)
