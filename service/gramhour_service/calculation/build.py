"""One build: what it takes in all its starts until it comes out good, and what that costs."""

from collections.abc import Sequence
from decimal import Decimal
from operator import mul
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.energy import energy_cost, printing_kwh
from gramhour_service.calculation.failures import Chances, chances
from gramhour_service.calculation.feedstock import feedstock_of_build
from gramhour_service.calculation.job import Feed, Piece, ShopRates, YieldForm
from gramhour_service.calculation.machine import machine_time
from gramhour_service.calculation.nozzle_wear import nozzle_wear_of_build
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.scrap import repeated_starts, wasted_printing
from gramhour_service.calculation.worked import Worked, called


class BuildAmounts(NamedTuple):
    """What adds up over builds: money of good ones, warm-up included, then of failed ones.

    ``machine_time`` is money, and ``kwh`` energy, of a good build and the failed ones before it.
    """

    feedstock: Decimal
    nozzle_wear: Decimal
    machine: Decimal
    energy: Decimal
    scrap: Decimal
    failed_starts: Decimal
    machine_time: Decimal
    kwh: Decimal


NO_BUILD = BuildAmounts._make([ZERO] * len(BuildAmounts._fields))


class Build(NamedTuple):
    """One build of a piece: how it fares, and what it takes in all its starts until it is good.

    ``grams`` of each feed and ``minutes`` of the machine have the failed ones in them.
    """

    piece: Piece
    fares: Chances
    grams: tuple[Decimal, ...]
    minutes: Decimal
    amounts: BuildAmounts


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


def build_of(
    piece: Piece, pieces: int, rates: ShopRates, attending: Decimal, full: Build | None = None
) -> Build:
    """Work out one build that holds so many pieces; ``full`` is the full one, if known.

    ``attending`` is the money for people's work at it.
    """
    machine = piece.machine
    minutes = minutes_of_build(piece, pieces)
    if full is not None and isinstance(machine.failures, YieldForm):
        fares = full.fares
    else:
        fill = "part" if full else "full"
        fares = _named(chances(piece, minutes, fill), piece, fill)
    grams = [grams_of_build(feed, pieces, piece.pieces_per_build) for feed in piece.feeds]
    starts, worth = 1 + fares.failed_starts, 1 + fares.wasted
    return Build(
        piece=piece,
        fares=fares,
        grams=tuple([each * worth for each in grams]),
        minutes=minutes * worth + machine.warm_up_min * starts,
        amounts=_amounts(piece, grams, minutes, fares, rates, attending),
    )


def _amounts(
    piece: Piece,
    grams: Sequence[Decimal],
    minutes: Decimal,
    fares: Chances,
    rates: ShopRates,
    attending: Decimal,
) -> BuildAmounts:
    machine = piece.machine
    starts, worth = 1 + fares.failed_starts, 1 + fares.wasted
    feedstock = feedstock_of_build(piece.feeds, grams)
    wear = nozzle_wear_of_build(piece.nozzle, piece.feeds, grams)
    time = machine_time(minutes, machine.rate_per_hour)
    kwh = printing_kwh(piece.power_w, minutes)
    energy = energy_cost(kwh, rates.price_per_kwh)
    warm_up_time = machine_time(machine.warm_up_min, machine.rate_per_hour)
    warm_up_energy = energy_cost(machine.warm_up_kwh, rates.price_per_kwh)
    wasted = wasted_printing(fares.wasted, feedstock + energy + time + wear)
    repeated = repeated_starts(fares.failed_starts, warm_up_time, warm_up_energy, attending)
    return BuildAmounts(
        feedstock=feedstock,
        nozzle_wear=wear,
        machine=time + warm_up_time,
        energy=energy + warm_up_energy,
        scrap=wasted + repeated,
        failed_starts=fares.failed_starts,
        machine_time=time * worth + warm_up_time * starts,
        kwh=kwh * worth + machine.warm_up_kwh * starts,
    )


def _named(fares: Chances, piece: Piece, fill: str) -> Chances:
    if not isinstance(fares.good, Worked):
        return fares
    return Chances(
        good=called(fares.good, "good", piece.number, fill),
        wasted=called(fares.wasted, "wasted", piece.number, fill),
        failed_starts=called(fares.failed_starts, "failed_starts", piece.number, fill),
    )


def amounts_of_builds(times: Sequence[int], builds: Sequence[Build]) -> BuildAmounts:
    """Add up, amount by amount, so many of each build."""
    if not builds:
        return NO_BUILD
    columns = zip(*[build.amounts for build in builds], strict=True)
    return BuildAmounts._make([sum(map(mul, times, column), ZERO) for column in columns])
