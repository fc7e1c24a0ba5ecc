"""The calculation and the reading of members, bound to figures: the same code, other numbers.

Only the rules that compare, count or search are given as formulas, in ``choices``, ``sale`` and
``buying``. Every figure that a rule answers keeps the rule's name.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from gramhour_service.answer import explanation
from gramhour_service.calculation import (
    aim,
    arithmetic,
    build,
    builds,
    components,
    contribution,
    costs,
    design,
    energy,
    failures,
    feedstock,
    fees,
    labour,
    learning,
    machine,
    nozzle_wear,
    overheads,
    price,
    rejects,
    scrap,
    settle,
    use,
)
from gramhour_service.calculation.build import Build, amounts_of_builds
from gramhour_service.calculation.builds import BuildPlan, OrderLine, PlannedBuild
from gramhour_service.calculation.failures import Chances
from gramhour_service.calculation.job import Piece
from gramhour_service.calculation.rebinding import rebound
from gramhour_service.calculation.rules import RULES
from gramhour_service.resolve import kinds, measured, product
from gramhour_service.workbook import buying, choices, estimates, roundings, sale
from gramhour_service.workbook.figures import CELL, Figure, formula, named, plain
from gramhour_service.workbook.members import FigureMembers

CALCULATION = (
    aim, arithmetic, build, builds, components, contribution, costs, design, energy, failures,
    feedstock, fees, labour, learning, machine, nozzle_wear, overheads, price, rejects, scrap,
    settle, use,
)  # fmt: skip
RESOLVING = (kinds, product, measured, explanation)


def by_rule(function: Callable[..., Any]) -> Callable[..., Any]:
    """Let what a rule answers keep the rule's name, and so get a cell of its own."""
    name = function.__name__
    if name not in RULES:
        return function

    @wraps(function)
    def noted(*args: Any, **kwargs: Any) -> Any:
        answer = function(*args, **kwargs)
        if isinstance(answer, Figure) and answer.sign != CELL and not answer.rule:
            answer.rule, answer.depth = name, 0
        return answer

    return noted


def called(amount: Any, *name: str | int) -> Any:
    """Give an amount the name under which explanations speak of it."""
    return named(amount, " ".join(str(part) for part in name).replace("_", " "))


def named_chances(fares: Chances, piece: Piece, fill: str) -> Chances:
    """Name how a build fares."""
    of = f"piece {piece.number}, {fill} build"
    return Chances(
        good=named(fares.good, f"chance of a good start, {of}"),
        wasted=named(fares.wasted, f"builds wasted, {of}"),
        failed_starts=named(fares.failed_starts, f"failed starts, {of}"),
    )


def build_plan(line: OrderLine) -> BuildPlan:
    """Plan full builds and part-filled ones, whether or not there are any at this quantity."""
    planned = []
    for full in line.made.full:
        piece = full.piece
        pieces = bound.pieces_needed(line.quantity, piece.count)
        planned.append(PlannedBuild(bound.full_builds(pieces, piece.pieces_per_build), full))
        left = bound.pieces_left_over(pieces, piece.pieces_per_build)
        started: Any = formula("IF({0}>0;1;0)", 1 if plain(left) else 0, left)
        part = bound.part_build(line.made, full, left)
        planned.append(
            PlannedBuild(named(started, f"part-filled builds, piece {piece.number}"), part)
        )
    times = [each.times for each in planned]
    return BuildPlan(
        made=line.made,
        quantity=line.quantity,
        builds=tuple(planned),
        number=named(sum(times), "builds"),
        amounts=amounts_of_builds(times, [each.build for each in planned]),
    )


def part_build(made: Any, full: Build, pieces: int) -> Build:
    """Work out the part-filled build of a piece."""
    part: Build = bound.build_of(full.piece, pieces, made.rates, made.attending, full)
    return part


AS_FORMULAS: dict[str, Any] = {
    "half_even": roundings.half_even,
    "half_up": roundings.half_up,
    "ceiling": roundings.ceiling,
    "standing": roundings.standing,
    "called": called,
    "_named": named_chances,
    "build_plan": build_plan,
    "part_build": part_build,
    "Members": FigureMembers,
    "full_build": estimates.full_build,
    "postage": sale.postage_of,
    "purchase": buying.purchase,
    **{
        function.__name__: by_rule(function)
        for function in (
            choices.filament_area,
            choices.tier_discount,
            choices.shipping_per_pack,
            choices.usable_grams,
            choices.depreciation_per_year,
            choices.packs_for,
            choices.whole_pack_addition,
            choices.packs_bought,
            choices.largest_failure_factor,
            choices.chance_by_hours,
            choices.wasted_by_hours,
            choices.failed_starts,
            choices.learning_factor,
            sale.goods_value,
            sale.margin_pct,
            sale.markup_pct,
            sale.contribution_per_machine_hour,
            sale.contribution_per_labour_hour,
            buying.usual_price_per_piece,
            buying.whole_need,
        )
    },
}

bound = rebound((*CALCULATION, *RESOLVING), AS_FORMULAS, by_rule)
