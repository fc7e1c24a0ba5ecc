"""The lead time is that of a shop which is watched minute by minute, on drawn orders.

120 of them, and ``tests/run --long`` 1,000.
"""

from fractions import Fraction
from typing import Any

import msgspec
import pytest
from hypothesis import settings

from gramhour.contract.documents import parse_json
from gramhour.contract.lead_time import LeadTime
from gramhour_service.answer.quoting import answer_quote
from tests.lead_time.drawn import drawn, request_of
from tests.lead_time.simulated import MINUTE, simulate

LONG = settings.get_current_profile_name() == "long"
DRAWS, GROUPS = 1_000 if LONG else 120, 8


def exact(request: dict[str, Any]) -> Any:
    return parse_json(msgspec.json.encode(request))


def told(seed: int) -> LeadTime:
    answer = answer_quote(exact(request_of(drawn(seed))))
    assert isinstance(answer.lead_time, LeadTime), answer.no_lead_time
    return answer.lead_time


@pytest.mark.parametrize("group", range(GROUPS))
def test_it_is_ready_when_the_watched_shop_is(group: int) -> None:
    for seed in range(group, DRAWS, GROUPS):
        expected = simulate(drawn(seed))
        answer = told(seed)
        starts = {
            (plan.machine, plan.number): [
                int(moment.timestamp()) // MINUTE
                for each in plan.builds
                for moment in each.starts_at
            ]
            for plan in answer.machines
        }
        assert (seed, starts) == (seed, expected.starts)
        assert (seed, int(answer.ready_at.timestamp())) == (seed, expected.at * MINUTE)
        assert (seed, answer.ready_on) == (seed, expected.on)
        assert (seed, answer.relies_on_unattended) == (seed, expected.alone)
        chance = Fraction(answer.probability_pct) / 100
        assert abs(chance - expected.chance) <= Fraction(1, 20_000), seed
