"""Starts that are enough: against the binomial distribution of others, and of its definition.

The printed values are from memory of the cumulative tables in the backs of statistics textbooks
(four decimals, n = 10 and n = 20); scipy.stats.binom is a second one; the fractions are summed
from the definition, P(X = n) = C(N, n) pⁿ (1 − p)^(N − n).
"""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from scipy.stats import binom

from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.lead_time.starts import Batch, Starts, starts_needed
from gramhour_service.calculation.lead_time.terms import MOST_STARTS, CannotBeScheduled

HOUR = 3_600


def needed(*batches: Batch, promise: str) -> Starts:
    with costing_arithmetic():
        return starts_needed(batches, Decimal(promise))


def at_least(builds: int, starts: int, good: Fraction) -> Fraction:
    return sum(
        (
            math.comb(starts, n) * good**n * (1 - good) ** (starts - n)
            for n in range(builds, starts + 1)
        ),
        Fraction(0),
    )


@pytest.mark.parametrize(
    ("starts", "builds", "good", "printed"),
    [
        # P(X ≥ k) as 1 − the printed P(X ≤ k − 1)
        (10, 8, "0.9", "0.9298"),
        (10, 7, "0.8", "0.8791"),
        (10, 5, "0.5", "0.6230"),
        (10, 9, "0.95", "0.9139"),
        (20, 18, "0.9", "0.6769"),
        (20, 15, "0.8", "0.8042"),
        (20, 10, "0.5", "0.5881"),
    ],
)
def test_the_probability_is_that_of_the_printed_tables(
    starts: int, builds: int, good: str, printed: str
) -> None:
    batch = Batch(builds, Decimal(good), HOUR)
    found = needed(batch, promise=str(Decimal(printed) - Decimal("0.0001")))
    assert found.numbers == (starts,)
    assert round(found.probability, 4) == Decimal(printed)


@pytest.mark.parametrize("builds", [1, 2, 7, 30])
@pytest.mark.parametrize("good", ["0.05", "0.5", "0.93", "0.999"])
@pytest.mark.parametrize("promise", ["0", "0.5", "0.9", "0.999999"])
def test_one_batch_gets_the_fewest_starts_that_reach_the_promise(
    builds: int, good: str, promise: str
) -> None:
    found = needed(Batch(builds, Decimal(good), HOUR), promise=promise)
    (starts,) = found.numbers
    exact = at_least(builds, starts, Fraction(good))
    assert exact >= Fraction(promise)
    assert starts == builds or at_least(builds, starts - 1, Fraction(good)) < Fraction(promise)
    assert abs(Fraction(found.probability) - exact) < Fraction(1, 10**30)


@pytest.mark.parametrize("builds", [1, 13, 250])
@pytest.mark.parametrize("good", ["0.35", "0.91", "0.985"])
@pytest.mark.parametrize("promise", ["0.8", "0.95"])
def test_the_starts_are_those_of_a_library_of_statistics(
    builds: int, good: str, promise: str
) -> None:
    found = needed(Batch(builds, Decimal(good), HOUR), promise=promise)
    (starts,) = found.numbers
    assert float(found.probability) == pytest.approx(
        float(binom.sf(builds - 1, starts, float(good))), rel=1e-10
    )
    assert binom.sf(builds - 1, starts - 1, float(good)) < float(promise)


def test_a_promise_that_is_just_met_needs_no_further_start() -> None:
    assert needed(Batch(1, Decimal("0.9"), HOUR), promise="0.9").numbers == (1,)
    two = (Batch(1, Decimal("0.9"), HOUR), Batch(1, Decimal("0.8"), HOUR))
    assert needed(*two, promise="0.72").numbers == (1, 1)


def test_the_next_start_is_that_which_gains_most_a_machine_hour() -> None:
    # one more: 0.9 → 0.99 is 10 % of the product; 0.8 → 0.96 is 20 %, but takes three times as long
    short, long = Batch(1, Decimal("0.9"), HOUR), Batch(1, Decimal("0.8"), 3 * HOUR)
    assert needed(short, long, promise="0.75").numbers == (2, 1)
    assert needed(short, long._replace(seconds=HOUR), promise="0.75").numbers == (1, 2)


def test_of_equal_gains_the_batch_named_first_has_it() -> None:
    same = Batch(3, Decimal("0.9"), HOUR)
    assert needed(same, same, promise="0.6").numbers == (4, 3)


def test_builds_that_never_fail_get_no_spare_start_nor_is_any_needed_for_nothing() -> None:
    sure, unsure = Batch(5, Decimal(1), HOUR), Batch(1, Decimal("0.5"), HOUR)
    assert needed(sure, unsure, promise="0.99").numbers == (5, 7)
    assert needed(promise="0.99") == Starts((), Decimal(1))


def test_a_build_that_takes_no_time_is_started_again_first() -> None:
    quick = Batch(1, Decimal("0.5"), 0)
    assert needed(Batch(1, Decimal("0.5"), HOUR), quick, promise="0.47").numbers == (1, 5)


@pytest.mark.parametrize(
    ("batch", "promise"),
    [
        (Batch(MOST_STARTS + 1, Decimal(1), HOUR), "0"),
        (Batch(MOST_STARTS, Decimal("0.99"), HOUR), "0.9"),
        (Batch(1, Decimal("0.0001"), HOUR), "0.9"),
        (Batch(10**9, Decimal("0.5"), HOUR), "0.9"),
    ],
    ids=["many builds", "many with spares", "hardly ever good", "far too many"],
)
def test_more_starts_than_anybody_schedules_are_refused(batch: Batch, promise: str) -> None:
    with pytest.raises(CannotBeScheduled, match=f"more than {MOST_STARTS} starts"):
        needed(batch, promise=promise)


def test_as_many_as_are_scheduled_reach_the_promise_too() -> None:
    found = needed(Batch(1_900, Decimal("0.96"), HOUR), promise="0.9")
    (starts,) = found.numbers
    exact = at_least(1_900, starts, Fraction("0.96"))
    assert abs(Fraction(found.probability) - exact) < Fraction(1, 10**28)
