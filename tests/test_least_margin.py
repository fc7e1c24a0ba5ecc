"""The least margin of a listed price over the quantities that it holds for.

Each is found apart: every quantity of the stretch is quoted at the listed price, as anybody may
quote, and of those between which a count changes the least margin is taken, from profit and net.
"""

from collections.abc import Iterator
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from gramhour_service.http.settings import Settings
from tests.http.door import Door, make_shop, opened
from tests.http.repriced import (
    Sheet,
    all_priced,
    by_sku,
    demo_products,
    demo_sheet,
    describe,
    listed,
    quoted_as_listed,
    repriced,
    rows_listed,
)

OLD = demo_sheet()
DEARER: list[dict[str, Any]] = [
    {"kind": "shop", "code": "labour_rate_per_hour", "value": "44"},
    {"kind": "components", "code": "float-gauge",
     "value": {**OLD["components"]["float-gauge"],
               "offers": [{"pack_quantity": 5, "price": "21.00"}]}},
]  # fmt: skip
NEW: Sheet = {
    **OLD,
    "labour_rate_per_hour": "44",
    "components": {**OLD["components"], "float-gauge": DEARER[1]["value"]},
}


class Least(NamedTuple):
    """A least margin in per cent, and the quantity that has it."""

    margin_pct: Decimal | None
    at: int | None


def sold(quantity: int, following: int | None, multiple: int) -> list[int]:
    """List the stretch: up to the next break, or to double and over ten units at least."""
    end = max(2 * quantity + 1, quantity + 10) if following is None else following
    return [n for n in range(quantity, end) if n % multiple == 0]


def parcels(channel: dict[str, Any], quantity: int) -> tuple[int, int]:
    """Count the largest parcels, and say which one has the rest (costing.md, 6)."""
    sizes = sorted(row["up_to_units"] for row in channel.get("postage", []))
    if not sizes:
        return 0, 0
    full, left = divmod(quantity, sizes[-1])
    return full, next(size for size in sizes if size >= left) if left else 0


def counts(quote: Any, channel: dict[str, Any]) -> Any:
    """Count builds, packs, parcels, name the margin break, and whether a minimum order raises it.

    No count of builds of a piece ever falls, so that their sum tells when one rises. Filament
    bought in whole packs is told by the gram: then each quantity is looked at.
    """
    n = quote["quantity"]
    starts = [each["from_quantity"] for each in channel.get("margin_breaks", [])]
    by_pack = any("material" in each for each in quote["purchases"])
    packs = [(each.get("component"), each["pack_quantity"], each["packs"])
             for each in quote["purchases"]]  # fmt: skip
    reached = max((start for start in starts if start <= n), default=0)
    raised = "minimum_order_applied" in quote["flags"]
    return quote["use"]["builds"], packs, parcels(channel, n), reached, raised, n if by_pack else 0


def margin(quote: Any) -> Fraction | None:
    """Compute a margin from profit and net; nothing where nothing is paid."""
    net = Fraction(quote["order_net"])
    return Fraction(quote["profit"]) / net if net else None


def as_pct(exact: Fraction | None) -> Decimal | None:
    if exact is None:
        return None
    pct = Decimal((exact * 100).numerator) / Decimal((exact * 100).denominator)
    return pct.quantize(Decimal("0.01"), ROUND_HALF_EVEN)


def least_of(quotes: list[Any], channel: dict[str, Any]) -> Least:
    """Take the least margin of those between which a count changes, and of both ends."""
    counted = [counts(quote, channel) for quote in quotes]
    seen = [
        quote
        for n, quote in enumerate(quotes)
        if n in (0, len(quotes) - 1) or not counted[n - 1] == counted[n] == counted[n + 1]
    ]
    found = [(exact, q["quantity"]) for q in seen if (exact := margin(q)) is not None]
    if not found:
        return Least(None, None)
    least, at = min(found)
    return Least(as_pct(least), at)


def apart(
    door: Door, row: dict[str, Any], products: Any, line: Any, sheet: Sheet, price: str
) -> list[Least]:
    """Find by hand the least margin over each break's stretch; ``price`` names the member."""
    channel = sheet["channels"][row["channel"]]
    breaks = [each["from_quantity"] for each in line["breaks"]]
    least = []
    for each, following in zip(line["breaks"], [*breaks[1:], None], strict=True):
        stretch = sold(each["from_quantity"], following, channel.get("multiple_of", 1))
        at_price = {**row, "aim": {"unit_price": each[price]}}
        quotes = quoted_as_listed(door, at_price, products, stretch, rates=sheet)
        least.append(least_of([quotes[n] for n in stretch], channel))
    return least


def told(line: Any) -> list[Least]:
    """Read the least margins of a line's new prices."""
    return [
        Least(Decimal(each["least_margin_pct"]), each["least_margin_at"]) for each in line["breaks"]
    ]


@pytest.fixture(scope="module")
def priced(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    """The demo's shop with prices."""
    path = all_priced(tmp_path_factory.mktemp("priced") / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        yield door


def test_least_margins_are_those_of_every_quantity_quoted_by_itself(priced: Door) -> None:
    lines = by_sku(priced, repriced(priced, proposed=DEARER, over="all")["id"])
    rows, products, beyond_first = rows_listed(priced), demo_products(), 0
    for sku, row in rows.items():
        expected = apart(priced, row, products, lines[sku], NEW, "unit_price")
        assert told(lines[sku]) == expected, sku
        beyond_first += sum(
            least.at != each["from_quantity"]
            for least, each in zip(expected, lines[sku]["breaks"], strict=True)
        )
    assert beyond_first > 5, "else the first quantity would do"


def test_least_margins_of_kept_prices_are_those_at_the_costs_of_today(priced: Door) -> None:
    lines = by_sku(priced, repriced(priced, proposed=DEARER, over="all")["id"])
    rows, products = rows_listed(priced), demo_products()
    for sku, row in rows.items():
        expected = apart(priced, row, products, lines[sku], NEW, "old_unit_price")
        seen = [Decimal(each["least_margin_if_kept_pct"]) for each in lines[sku]["breaks"]]
        assert seen == [least.margin_pct for least in expected], sku
        for each in lines[sku]["breaks"]:
            kept = {**row, "aim": {"unit_price": each["old_unit_price"]}}
            (quote,) = quoted_as_listed(
                priced, kept, products, [each["from_quantity"]], rates=NEW
            ).values()
            assert each["margin_if_kept_pct"] == quote["margin_pct"]


@pytest.mark.parametrize("channel", ["own-shop", "market"])
def test_a_long_stretch_is_looked_at_where_counts_change(tmp_path: Path, channel: str) -> None:
    with opened(Settings(store=make_shop(tmp_path / "gramhour.sqlite"))) as door:
        products = demo_products()
        for code in ("herb-planter", "seed-tray-labels"):
            describe(door, code, products[code]["product"])
        rows = [{"product": code, "channel": channel, "breaks": [1, 7, 180]}
                for code in ("herb-planter", "seed-tray-labels")]  # fmt: skip
        listed(door, *({"sku": row["product"], **row} for row in rows))
        lines = by_sku(door, repriced(door)["id"])
        for row in rows:
            line = lines[str(row["product"])]
            assert told(line) == apart(door, row, products, line, OLD, "unit_price")
