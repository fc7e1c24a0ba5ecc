"""The build plan: how many full and part-filled builds an order takes, and what each one needs."""

from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.build import Build, BuildAmounts, amounts_of_builds, build_of
from gramhour_service.calculation.job import Channel, Product, ShopRates
from gramhour_service.calculation.kept import LastMade
from gramhour_service.calculation.labour import (
    labour_cost,
    nozzle_change_minutes,
    once_minutes,
)
from gramhour_service.calculation.rules import rule

MOST_PART_BUILDS = 256


class PlannedBuild(NamedTuple):
    """So many equal good builds."""

    times: int
    build: Build


class ProductBuilds(NamedTuple):
    """A product's builds, each worked out once whatever the quantities ordered.

    ``full`` are its pieces' full builds, in their order. ``part`` has the part-filled ones that
    were needed last, by piece and how many pieces they hold, and gets more. ``attending`` is
    the money for people's work at one build, ``once_min`` their minutes once an order, ``again``
    the units made for each good one: itself, and those made again.
    """

    product: Product
    rates: ShopRates
    attending: Decimal
    once_min: Decimal
    again: Decimal
    full: tuple[Build, ...]
    part: LastMade[tuple[int, int], Build]


class OrderLine(NamedTuple):
    """So many units of one product."""

    made: ProductBuilds
    quantity: int


class Order(NamedTuple):
    """What one buyer orders on one channel."""

    lines: tuple[OrderLine, ...]
    channel: Channel
    rates: ShopRates


class BuildPlan(NamedTuple):
    """The good builds of one order line, their number, and what they come to together."""

    made: ProductBuilds
    quantity: int
    builds: tuple[PlannedBuild, ...]
    number: int
    amounts: BuildAmounts


@rule
def pieces_needed(quantity: int, count: int) -> int:
    """Each unit needs its count of a piece."""
    return quantity * count


@rule
def full_builds(pieces: int, pieces_per_build: int) -> int:
    """There are as many full builds as the pieces fill."""
    return pieces // pieces_per_build


@rule
def pieces_left_over(pieces: int, pieces_per_build: int) -> int:
    """Pieces that fill no build are printed in one part-filled build."""
    return pieces % pieces_per_build


@rule
def remade_per_good_unit(reject_share: Decimal) -> Decimal:
    """Of R rejected, R/(1 − R) units are made again for each good one."""
    return reject_share / (1 - reject_share)


def builds_of_product(product: Product, rates: ShopRates) -> ProductBuilds:
    """Work out a product's full builds."""
    work = product.work
    attending = labour_cost(work.build_min, rates.labour_rate_per_hour)
    full = tuple(
        build_of(piece, piece.pieces_per_build, rates, attending) for piece in product.pieces
    )
    return ProductBuilds(
        product=product,
        rates=rates,
        attending=attending,
        once_min=once_minutes(work.order_min, nozzle_change_minutes(product)),
        again=1 + product.remade,
        full=full,
        part=LastMade(MOST_PART_BUILDS),
    )


def build_plan(line: OrderLine) -> BuildPlan:
    """Plan the good builds of an order line: full ones, and a part-filled one for what is left."""
    builds = []
    for full in line.made.full:
        piece = full.piece
        pieces = pieces_needed(line.quantity, piece.count)
        if whole := full_builds(pieces, piece.pieces_per_build):
            builds.append(PlannedBuild(whole, full))
        if left := pieces_left_over(pieces, piece.pieces_per_build):
            builds.append(PlannedBuild(1, part_build(line.made, full, left)))
    times = [planned.times for planned in builds]
    return BuildPlan(
        made=line.made,
        quantity=line.quantity,
        builds=tuple(builds),
        number=sum(times),
        amounts=amounts_of_builds(times, [planned.build for planned in builds]),
    )


def part_build(made: ProductBuilds, full: Build, pieces: int) -> Build:
    """Find the part-filled build of a piece that holds so many; worked out once."""
    key = full.piece.number, pieces
    return made.part.of(key, lambda: build_of(full.piece, pieces, made.rates, made.attending, full))
