"""Explains a break: each figure as its rule in words and the working that its number carries."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from msgspec import UNSET

from gramhour.contract.explanation import Explanation, Input, Step
from gramhour_service.calculation.arithmetic import as_line
from gramhour_service.calculation.breaks import Break, FlaggedBreak
from gramhour_service.calculation.rules import RULES
from gramhour_service.calculation.use import Use
from gramhour_service.calculation.worked import Worked
from gramhour_service.calculation.workings import Workings, steps_of

Figure = tuple[str, str, Decimal | None]
"""The dotted name of a figure, the name of its rule, and its number if it has one."""

RULE_OF_LINE = {
    "feedstock": "feedstock_line",
    "components": "components_line",
    "machine": "machine_line",
    "energy": "energy_line",
    "nozzle_wear": "nozzle_wear_line",
    "labour": "labour_line",
    "scrap": "scrap_line",
    "rejects": "rejects_line",
    "packaging": "packaging_line",
    "design": "design_line",
    "material_overhead": "material_overhead_line",
    "production_overhead": "production_overhead_line",
    "admin_overhead": "admin_overhead_line",
    "total": "total_cost",
}
RULE_OF_FEE = {
    "channel": "channel_fee",
    "payment": "payment_fee",
    "fixed": "fixed_fees",
    "postage": "parcels",
    "design_share": "design_share_fee",
    "total": "total_fees",
}


def explanations(flagged: FlaggedBreak) -> list[Explanation]:
    """Explain every figure of a break, computed with numbers that remember, and its flags."""
    figures = (
        *figures_of_break(flagged.priced),
        *figures_of_use(flagged.priced.use),
        *_raised(flagged),
    )
    return [
        _explanation(figure, RULES[rule].sentence, value)
        for figure, rule, value in figures
        if value is not None
    ]


def without_working(priced: Break) -> Break:
    """Give a break's numbers as plain decimals, without the working that they carry."""
    told = _plain(priced)
    assert isinstance(told, Break)
    return told


def _plain(value: Any) -> Any:
    match value:
        case Worked():
            return Decimal(value)
        case dict():
            return {name: _plain(each) for name, each in value.items()}
        case tuple() if hasattr(value, "_make"):
            return value._make(map(_plain, value))
        case tuple():
            return tuple(map(_plain, value))
    return value


def figures_of_use(use: Use) -> Iterator[Figure]:
    """Name what the order takes."""
    for code, grams in use.feedstock_g.items():
        yield f"use.feedstock_g.{code}", "grams_used", as_line(grams)
    for code, hours in use.machine_h_by.items():
        yield f"use.machine_h_by.{code}", "machine_hours", as_line(hours)
    yield "use.machine_h", "machine_hours", as_line(use.machine_h)
    yield "use.build_starts", "build_starts", as_line(use.build_starts)
    yield "use.labour_min", "minutes_worked", as_line(use.labour_min)
    yield "use.energy_kwh", "energy_used", as_line(use.energy_kwh)


def _raised(flagged: FlaggedBreak) -> Iterator[Figure]:
    """Name each flag that was raised, with the figure that it was raised on."""
    each, settled = flagged.priced, flagged.priced.priced.settled
    raised_on = {
        "minimum_order_applied": settled.goods,
        "postage_pays_for_goods": each.priced.raw_price,
        "below_margin_floor": each.margin_pct,
        "below_cost": settled.profit,
        "above_smaller_break": settled.unit_price,
        "next_total_is_lower": settled.gross,
    }
    yield from ((f"flags.{flag}", flag, raised_on[flag]) for flag in flagged.flags)


def figures_of_break(each: Break) -> Iterator[Figure]:
    """Name each figure, its rule and its number, in the order in which they are computed."""
    settled = each.priced.settled
    lines = each.costs.lines._asdict()
    fees = settled.fees._asdict()
    yield from ((f"cost.{line}", rule, lines[line]) for line, rule in RULE_OF_LINE.items())
    yield "unit_cost", "unit_cost", each.unit_cost
    yield "raw_unit_price", "raw_shown_price", each.priced.raw_price
    yield "unit_price", each.priced.price_rule, settled.unit_price
    yield "order_goods", "goods_value", settled.goods
    yield "order_postage", "parcels", settled.postage_charged
    yield "order_net", "order_net", settled.net
    yield "order_tax", "order_tax", settled.tax
    yield "order_gross", "order_gross", settled.gross
    yield "unit_price_net", "unit_price_net", each.unit_price_net
    yield from ((f"fees.{fee}", rule, fees[fee]) for fee, rule in RULE_OF_FEE.items())
    yield "profit", "order_profit", settled.profit
    yield "margin_pct", "margin_pct", each.margin_pct
    yield "markup_pct", "markup_pct", each.markup_pct
    for figure in ("contribution_per_machine_hour", "contribution_per_labour_hour"):
        yield figure, figure, getattr(each, figure)


def _explanation(figure: str, rule: str, value: Decimal) -> Explanation:
    in_numbers, in_names = Workings(by_name=False), Workings(by_name=True)
    in_full = Workings(by_name=True, formulas=True)
    reads, formula = in_names.of(value), in_full.of(value)
    return Explanation(
        figure=figure,
        rule=rule,
        expression=in_numbers.of(value),
        reads=reads,
        formula=UNSET if formula == reads else formula,
        where=[_step(step) for step in steps_of(in_full)],
        inputs=[
            Input(pointer=s.pointer, value=Decimal(s.value)) for s in in_numbers.sources.values()
        ],
        value=Decimal(value),
    )


def _step(step: Worked) -> Step:
    expression = Workings(by_name=True).of(step)
    formula = Workings(by_name=True, formulas=True).of(step)
    return Step(
        name=step.name,
        expression=expression,
        formula=UNSET if formula == expression else formula,
        value=Decimal(step),
    )
