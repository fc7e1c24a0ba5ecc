"""The build plan: how many full and part-filled builds an order takes, and what each one needs."""

from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.energy import energy_cost, printing_kwh
from gramhour_service.calculation.failures import Chances, chances
from gramhour_service.calculation.feedstock import feedstock_of_build
from gramhour_service.calculation.job import Channel, Feed, Piece, Product, ShopRates, YieldForm
from gramhour_service.calculation.machine import machine_time
from gramhour_service.calculation.nozzle_wear import nozzle_wear_of_build
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import called


class Build(NamedTuple):
    """One build of a piece: what it takes, how it fares, and what it costs if it comes out good.

    Grams by feed, printing minutes, kWh; then money: printing and warm-up apart.
    """

    piece: Piece
    grams: tuple[Decimal, ...]
    minutes: Decimal
    printing_kwh: Decimal
    fares: Chances
    feedstock: Decimal
    nozzle_wear: Decimal
    machine: Decimal
    energy: Decimal
    warm_up_machine: Decimal
    warm_up_energy: Decimal


class PlannedBuild(NamedTuple):
    """So many equal good builds."""

    times: int
    build: Build


class OrderLine(NamedTuple):
    """So many units of one product; ``full_builds`` are its pieces' full builds, in their order."""

    product: Product
    quantity: int
    full_builds: tuple[Build, ...]


class Order(NamedTuple):
    """What one buyer orders on one channel."""

    lines: tuple[OrderLine, ...]
    channel: Channel
    rates: ShopRates


class BuildPlan(NamedTuple):
    """The good builds of one order line."""

    product: Product
    quantity: int
    builds: tuple[PlannedBuild, ...]


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


def build_of(piece: Piece, pieces: int, rates: ShopRates, full: Build | None = None) -> Build:
    """Work out one build that holds so many pieces; ``full`` is the full one, if known."""
    machine = piece.machine
    grams = tuple(grams_of_build(feed, pieces, piece.pieces_per_build) for feed in piece.feeds)
    minutes = minutes_of_build(piece, pieces)
    kwh = printing_kwh(piece.power_w, minutes)
    if full is not None and isinstance(machine.failures, YieldForm):
        fares = full.fares
    else:
        fares = _named(chances(piece, minutes), piece, "full" if full is None else "part")
    return Build(
        piece=piece,
        grams=grams,
        minutes=minutes,
        printing_kwh=kwh,
        fares=fares,
        feedstock=feedstock_of_build(piece.feeds, grams),
        nozzle_wear=nozzle_wear_of_build(piece.nozzle, piece.feeds, grams),
        machine=machine_time(minutes, machine.rate_per_hour),
        energy=energy_cost(kwh, rates.price_per_kwh),
        warm_up_machine=machine_time(machine.warm_up_min, machine.rate_per_hour),
        warm_up_energy=energy_cost(machine.warm_up_kwh, rates.price_per_kwh),
    )


def _named(fares: Chances, piece: Piece, fill: str) -> Chances:
    return Chances(
        good=called(fares.good, "good", piece.number, fill),
        wasted=called(fares.wasted, "wasted", piece.number, fill),
        failed_starts=called(fares.failed_starts, "failed_starts", piece.number, fill),
    )


def order_line(product: Product, quantity: int, rates: ShopRates) -> OrderLine:
    """Make an order line and work out its full builds."""
    full = (build_of(piece, piece.pieces_per_build, rates) for piece in product.pieces)
    return OrderLine(product, quantity, tuple(full))


def build_plan(line: OrderLine, rates: ShopRates) -> BuildPlan:
    """Plan the good builds of an order line: full ones, and a part-filled one for what is left."""
    builds = []
    for full in line.full_builds:
        piece = full.piece
        pieces = pieces_needed(line.quantity, piece.count)
        if whole := full_builds(pieces, piece.pieces_per_build):
            builds.append(PlannedBuild(whole, full))
        if left := pieces_left_over(pieces, piece.pieces_per_build):
            builds.append(PlannedBuild(1, build_of(piece, left, rates, full)))
    return BuildPlan(line.product, line.quantity, tuple(builds))
