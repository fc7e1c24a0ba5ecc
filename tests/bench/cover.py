"""Times exact covers: 8 offers, 4 sizes up to 10,000 with 2 tiers each."""

import statistics
import sys
import time
from decimal import Decimal
from random import Random

from gramhour_service.calculation.cover import _cheapest_packs

SHEETS = 40


def drawn(random: Random) -> tuple[tuple[int, Decimal, int], ...]:
    rows = []
    for size in random.sample(range(1, 10_001), 4):
        rate = random.uniform(0.008, 0.012)
        rows.append((size, Decimal(f"{size * rate:.2f}"), 1))
        rows.append((size, Decimal(f"{size * rate * 0.93:.2f}"), random.choice([2, 5, 10, 25])))
    return tuple(rows)


def main() -> None:
    random = Random(1)
    sheets = [drawn(random) for _ in range(SHEETS)]
    for need in (7, 500, 10**6):
        times = []
        for offers in sheets:
            _cheapest_packs.cache_clear()
            start = time.perf_counter()
            _cheapest_packs(offers, need)
            times.append(1000 * (time.perf_counter() - start))
        sys.stdout.write(
            f"need {need}: median {statistics.median(times):.2f} ms, most {max(times):.2f} ms\n"
        )


if __name__ == "__main__":
    main()
