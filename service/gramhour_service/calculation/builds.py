"""The build plan: how many full and part-filled builds an order takes, and what each one needs."""

from collections.abc import Sequence
from decimal import Decimal
from operator import mul
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.energy import energy_cost, printing_kwh
from gramhour_service.calculation.failures import Chances, chances
from gramhour_service.calculation.feedstock import feedstock_of_build
from gramhour_service.calculation.job import Channel, Feed, Piece, Product, ShopRates, YieldForm
from gramhour_service.calculation.labour import labour_cost
from gramhour_service.calculation.machine import machine_time
from gramhour_service.calculation.nozzle_wear import nozzle_wear_of_build
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.scrap import repeated_starts, wasted_printing
from gramhour_service.calculation.worked import called


class BuildAmounts(NamedTuple):
    """What adds up over builds: money of good ones, then of failed ones; warm-up stands apart.

    ``machine_time`` is money, and ``kwh`` energy, of a good build and the failed ones before it.
    """

    feedstock: Decimal
    nozzle_wear: Decimal
    machine: Decimal
    energy: Decimal
    warm_up_machine: Decimal
    warm_up_energy: Decimal
    wasted_printing: Decimal
    repeated_starts: Decimal
    failed_starts: Decimal
    machine_time: Decimal
    kwh: Decimal


class Build(NamedTuple):
    """One build of a piece: how it fares, and what it takes in all its starts until it is good.

    ``grams`` of each feed and ``minutes`` of the machine have the failed ones in them.
    """

    piece: Piece
    fares: Chances
    grams: tuple[Decimal, ...]
    minutes: Decimal
    amounts: BuildAmounts


class PlannedBuild(NamedTuple):
    """So many equal good builds."""

    times: int
    build: Build


class ProductBuilds(NamedTuple):
    """A product's builds, each worked out once whatever the quantities ordered.

    ``full`` are its pieces' full builds, in their order. ``part`` has the part-filled ones that
    were needed so far, by piece and how many pieces they hold, and gets more. ``attending`` is
    the money for people's work at one build, ``again`` the units made for each good one.
    """

    product: Product
    rates: ShopRates
    attending: Decimal
    again: Decimal
    full: tuple[Build, ...]
    part: dict[tuple[int, int], Build]


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
    """The good builds of one order line, and what they come to together.

    ``again`` is the units made for each good one: itself, and those made again.
    """

    product: Product
    quantity: int
    again: Decimal
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
def part_of_build(amount: Decimal, pieces: int, pieces_per_build: int) -> Decimal:
    """A part-filled build takes the share of its pieces in a full one."""
    return amount * pieces / pieces_per_build


@rule
def grams_of_build(feed: Feed, pieces: int, pieces_per_build: int) -> Decimal:
    """Grams that a build needs however full it is stay whole; the others follow its share."""
    if pieces == pieces_per_build:
        return feed.grams
    varying = feed.grams - feed.per_build_g
    return part_of_build(varying, pieces, pieces_per_build) + feed.per_build_g


@rule
def minutes_of_build(piece: Piece, pieces: int) -> Decimal:
    """Minutes that a build needs however full it is stay whole; the others follow its share."""
    if pieces == piece.pieces_per_build:
        return piece.print_min
    varying = piece.print_min - piece.per_build_min
    return part_of_build(varying, pieces, piece.pieces_per_build) + piece.per_build_min


@rule
def remade_per_good_unit(reject_share: Decimal) -> Decimal:
    """Of R rejected, R/(1 − R) units are made again for each good one."""
    return reject_share / (1 - reject_share)


def builds_of_product(product: Product, rates: ShopRates) -> ProductBuilds:
    """Work out a product's full builds."""
    attending = labour_cost(product.work.build_min, rates.labour_rate_per_hour)
    full = tuple(
        build_of(piece, piece.pieces_per_build, rates, attending) for piece in product.pieces
    )
    return ProductBuilds(product, rates, attending, 1 + product.remade, full, {})


def build_of(
    piece: Piece, pieces: int, rates: ShopRates, attending: Decimal, full: Build | None = None
) -> Build:
    """Work out one build that holds so many pieces; ``full`` is the full one, if known."""
    minutes = minutes_of_build(piece, pieces)
    grams = tuple(grams_of_build(feed, pieces, piece.pieces_per_build) for feed in piece.feeds)
    kwh = printing_kwh(piece.power_w, minutes)
    machine = piece.machine
    if full is None:
        fares = _named(chances(piece, minutes), piece, "full")
        warm_up = machine_time(machine.warm_up_min, machine.rate_per_hour)
        warm_up_energy = energy_cost(machine.warm_up_kwh, rates.price_per_kwh)
    else:
        by_yield = isinstance(machine.failures, YieldForm)
        fares = full.fares if by_yield else _named(chances(piece, minutes), piece, "part")
        warm_up, warm_up_energy = full.amounts.warm_up_machine, full.amounts.warm_up_energy
    feedstock = feedstock_of_build(piece.feeds, grams)
    wear = nozzle_wear_of_build(piece.nozzle, piece.feeds, grams)
    printing = machine_time(minutes, machine.rate_per_hour)
    energy = energy_cost(kwh, rates.price_per_kwh)
    starts, worth = 1 + fares.failed_starts, 1 + fares.wasted
    return Build(
        piece=piece,
        fares=fares,
        grams=tuple(each * worth for each in grams),
        minutes=minutes * worth + machine.warm_up_min * starts,
        amounts=BuildAmounts(
            feedstock=feedstock,
            nozzle_wear=wear,
            machine=printing,
            energy=energy,
            warm_up_machine=warm_up,
            warm_up_energy=warm_up_energy,
            wasted_printing=wasted_printing(fares.wasted, feedstock + energy + printing + wear),
            repeated_starts=repeated_starts(
                fares.failed_starts, warm_up, warm_up_energy, attending
            ),
            failed_starts=fares.failed_starts,
            machine_time=printing * worth + warm_up * starts,
            kwh=kwh * worth + machine.warm_up_kwh * starts,
        ),
    )


def _named(fares: Chances, piece: Piece, fill: str) -> Chances:
    return Chances(
        good=called(fares.good, "good", piece.number, fill),
        wasted=called(fares.wasted, "wasted", piece.number, fill),
        failed_starts=called(fares.failed_starts, "failed_starts", piece.number, fill),
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
            builds.append(PlannedBuild(1, _part_build(line.made, full, left)))
    times = [planned.times for planned in builds]
    return BuildPlan(
        product=line.made.product,
        quantity=line.quantity,
        again=line.made.again,
        builds=tuple(builds),
        number=sum(times),
        amounts=_added(times, [planned.build.amounts for planned in builds]),
    )


def _part_build(made: ProductBuilds, full: Build, pieces: int) -> Build:
    key = full.piece.number, pieces
    found = made.part.get(key)
    if found is None:
        found = made.part[key] = build_of(full.piece, pieces, made.rates, made.attending, full)
    return found


def _added(times: Sequence[int], amounts: Sequence[BuildAmounts]) -> BuildAmounts:
    """Add up, amount by amount, so many builds of each."""
    if not amounts:
        return NO_BUILD
    return BuildAmounts._make(
        [sum(map(mul, times, amount), ZERO) for amount in zip(*amounts, strict=True)]
    )


NO_BUILD = BuildAmounts._make([ZERO] * len(BuildAmounts._fields))
