"""Failed builds: yields and hours between failures, against statistics and simulation.

Geometric distribution: any statistics text; here scipy.stats.geom. Hours form: a job that starts
over from nothing when it fails (the RESTART discipline of Asmussen, Fiorini, Lipsky, Rolski and
Sheahan, arXiv 0706.0403, of which the abstract was read), with exponential times to failure; its
loss is found here by integration and by simulation, not by the closed form.
"""

import itertools
import math
import random
from decimal import Decimal

import pytest
from scipy.integrate import quad
from scipy.stats import expon, geom

from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.calculation.failures import (
    chance_by_hours,
    chance_by_yield,
    failed_starts,
    failures_expected,
    wasted_by_hours,
    wasted_by_yield,
)
from tests.published.small_sheets import on_machine, priced, printed

ONE_OF_FOUR = Decimal("0.25")
TWELFTH_DECIMAL = 1e-12


def test_a_quarter_of_good_starts_takes_four_attempts() -> None:
    # Geometric distribution: mean 1/p, p = 0.25 → 4 attempts.
    made = priced(printed(60), **on_machine(first_pass_yield_pct=25))
    assert geom.mean(0.25) == 4
    assert made.use.build_starts == 4
    assert 1 + failed_starts(ONE_OF_FOUR) == 4


def test_expected_starts_are_those_of_the_geometric_distribution() -> None:
    # P(the 4th is the first good one) = 0.1055 for p = 0.25. Single probabilities are not part of
    # our costs; the mean over all of them is. The rest beyond 400 attempts is below 10^-45.
    assert round(float(geom.pmf(4, 0.25)), 4) == 0.1055
    attempts = math.fsum(k * geom.pmf(k, 0.25) for k in range(1, 400))
    assert math.isclose(1 + failed_starts(ONE_OF_FOUR), attempts, rel_tol=1e-12)


def test_the_share_lost_is_lost_at_every_failed_start() -> None:
    # Geometric distribution: mean 1/p less the good one, 3 failures at p = 0.25; each half a build.
    assert wasted_by_yield(ONE_OF_FOUR, Decimal("0.5")) == Decimal("1.5")
    machine = on_machine(first_pass_yield_pct=25, loss_at_failure_pct=50, rate_per_hour=10)
    assert priced(printed(60), **machine).cost.scrap == 15


STAGES = ["97", "95", "93"]


@pytest.mark.parametrize("stages", list(itertools.permutations(STAGES)), ids=" then ".join)
def test_yields_one_after_another_ask_for_the_published_starts(
    stages: tuple[str, str, str],
) -> None:
    # Serial yield: 1 000 good at 3, 5 and 7 % scrap → start 1 166.87, so 1 167, whatever the
    # order of the stages. Ours are a machine and two materials in one piece.
    machine, first, second = stages
    rates = on_machine(first_pass_yield_pct=machine)
    rates["materials"] = {
        "one": {"price_per_kg": 0, "first_pass_yield_pct": first},
        "two": {"price_per_kg": 0, "first_pass_yield_pct": second},
    }
    product = printed(60)
    product["pieces"][0]["feed"] = [{"material": m, "mass_g": 1} for m in ("one", "two")]
    starts = priced(product, quantity=1000, **rates).use.build_starts
    assert round(starts, 2) == 1166.87
    assert math.ceil(starts) == 1167


def test_rejects_are_a_stage_like_any_other() -> None:
    # The same serial yield with the last stage after printing: 7 % of the units are rejected.
    rates = on_machine(first_pass_yield_pct=97)
    rates["materials"]["fil"]["first_pass_yield_pct"] = 95
    made = priced({**printed(60), "reject_pct": 7}, quantity=1000, **rates)
    assert round(made.use.build_starts, 2) == 1166.87


def test_three_yields_multiply() -> None:
    # Rolled yield of the same stages: 0.97 · 0.95 · 0.93 = 0.856995 (computed).
    shares = [Decimal(stage) / 100 for stage in STAGES]
    assert chance_by_yield(shares[0], shares[1:]) == Decimal("0.856995")


@pytest.mark.parametrize(
    ("hours", "between", "chance"),
    [
        # T. G. Hicks, Standard Handbook of Engineering Calculations, life span with mean 2 months:
        # P(X > 3) = e^(−1.5) = 0.2231 (read as an excerpt; book inferred from its wording).
        (3, 2, "0.2231"),
        # Reliability toolkit, "Exponential distribution" (reliabilityanalyticstoolkit.appspot.com):
        # after one mean time between failures, 700 h, 37 % survive.
        (700, 700, "0.37"),
    ],
)
def test_a_build_survives_with_the_published_chance(hours: int, between: int, chance: str) -> None:
    expected = failures_expected(Decimal(hours) * 60, Decimal(1), Decimal(between))
    places = -int(Decimal(chance).as_tuple().exponent)
    assert round(chance_by_hours(expected, Decimal(1)), places) == Decimal(chance)
    assert math.isclose(
        chance_by_hours(expected, Decimal(1)), expon.sf(hours, scale=between), abs_tol=1e-12
    )


EXPECTED_FAILURES = ["0.0001", "0.0025", "0.11", "0.5", "1", "3", "10"]


def mean_loss_when_failing(failures: float) -> float:
    """Integrate when a build of length one fails, given that it does."""
    moment, _ = quad(lambda t: t * failures * math.exp(-failures * t), 0, 1, epsabs=0)
    failing, _ = quad(lambda t: failures * math.exp(-failures * t), 0, 1, epsabs=0)
    return float(moment / failing)


@pytest.mark.parametrize("failures", EXPECTED_FAILURES)
def test_the_hours_form_loses_what_integration_finds(failures: str) -> None:
    # Failures before the good build are geometric; each loses the mean time to a failure within
    # the build. Ours is rounded to 12 decimals; quad is good to 1.5e-8 of each integral at worst.
    x = float(failures)
    lost = (geom.mean(math.exp(-x)) - 1) * mean_loss_when_failing(x)
    assert math.isclose(
        wasted_by_hours(Decimal(failures)), lost, rel_tol=3e-8, abs_tol=TWELFTH_DECIMAL
    )


@pytest.mark.parametrize(
    ("hours", "wasted_pct"), [(22, 5.7), ("0.5", 0.1)], ids=["22 hours", "half an hour"]
)
def test_one_failure_in_200_hours_wastes_more_of_a_long_build(
    hours: int | str, wasted_pct: float
) -> None:
    # Computed for the design (costing, section 10), and found again by integration above.
    expected = failures_expected(Decimal(hours) * 60, Decimal(1), Decimal(200))
    assert round(float(100 * wasted_by_hours(expected)), 1) == wasted_pct


@pytest.mark.parametrize("failures", ["0.2", "1", "2"])
def test_the_hours_form_loses_what_printing_again_and_again_does(failures: str) -> None:
    # Simulation, seed fixed: start (one in ten does not hold and loses nothing), print until the
    # build is done or fails, begin anew. The time lost W of one build of length one has variance
    # (e^2x − 1 − 2x·e^x)/x² (from memory; checked against the simulation's own), the starts
    # (1 − p)/p². The means of n builds are within 5 standard errors.
    x, holds, builds = float(failures), 0.9, 100_000
    draws = random.Random(20_260_101)
    lost, starts = [], 0
    for _ in range(builds):
        losing = 0.0
        while True:
            starts += 1
            if draws.random() >= holds:
                continue
            until_failure = draws.expovariate(x)
            if until_failure >= 1:
                break
            losing += until_failure
        lost.append(losing)
    variance = (math.exp(2 * x) - 1 - 2 * x * math.exp(x)) / x**2
    mean = math.fsum(lost) / builds
    sampled = math.fsum((each - mean) ** 2 for each in lost) / builds
    assert math.isclose(variance, sampled, rel_tol=0.1)
    wasted = float(wasted_by_hours(Decimal(failures)))
    assert abs(mean - wasted) < 5 * math.sqrt(variance / builds)
    good = chance_by_hours(Decimal(failures), Decimal(str(holds)))
    assert abs(starts / builds - float(1 / good)) < 5 * math.sqrt(float(1 - good)) / float(
        good
    ) / math.sqrt(builds)


@pytest.mark.parametrize("failures", EXPECTED_FAILURES)
def test_both_forms_waste_the_same_where_they_say_the_same(failures: str) -> None:
    # The yield form with the same chance of success, losing at each failure what integration
    # finds; starts that do not hold lose nothing (costing, section 9). Both have 12 decimals of p.
    x, holds = float(failures), Decimal("0.95")
    good = chance_by_hours(Decimal(failures), holds)
    while_printing = float(holds) * -math.expm1(-x) / (1 - float(good))
    loss = Decimal(repr(mean_loss_when_failing(x) * while_printing))
    with costing_arithmetic():
        by_yield = wasted_by_yield(good, loss)
    assert math.isclose(by_yield, wasted_by_hours(Decimal(failures)), rel_tol=1e-7, abs_tol=1e-11)


def test_a_quote_by_the_hours_form_wastes_what_integration_finds() -> None:
    # A build of 22 hours, one failure in 200 hours, 10 an hour: 220 and what is wasted of them.
    machine = on_machine(hours_between_failures=200, rate_per_hour=10)
    made = priced(printed(22 * 60), **machine)
    lost = (geom.mean(math.exp(-0.11)) - 1) * mean_loss_when_failing(0.11)
    assert made.cost.machine == 220
    assert round(220 * lost, 4) == float(made.cost.scrap)
    assert round(float(geom.mean(math.exp(-0.11))), 4) == made.use.build_starts
