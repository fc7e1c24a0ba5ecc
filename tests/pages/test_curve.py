"""The price curve: a ring where each price begins, a knot where one asked, nothing said twice."""

import re
from decimal import Decimal

import pytest

from gramhour_service.pages.drawing.curve import Curve, Step, price_curve

STEPS = [Step(1, Decimal("46.90")), Step(5, Decimal("30.90")), Step(10, Decimal("28.90"))]


def drawn(asked: Step, *, holds: bool = True, steps: list[Step] = STEPS) -> tuple[str, str]:
    """Draw a curve; give the drawing for a wide page and that for a narrow one."""
    marked = frozenset(each.quantity for each in STEPS)
    told = price_curve(Curve("EUR", steps, asked, marked, holds=holds))
    wide, narrow = told.split("</figure>")[:2]
    return wide, narrow


def words(drawing: str) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)</text>", drawing)


def knots(drawing: str) -> list[str]:
    return re.findall(r'<circle[^>]*class="([^"]*)"', drawing)


def test_each_price_begins_with_a_ring_and_is_written_once() -> None:
    for drawing in drawn(Step(12, Decimal("28.90"))):
        assert knots(drawing) == ["knot", "knot", "knot reached", "knot asked"]
        assert words(drawing).count("28.90 EUR") == 1
        assert {"46.90", "30.90", "12"} <= set(words(drawing))
    wide, narrow = drawn(Step(12, Decimal("28.90")))
    assert {"from 1", "from 5", "from 10"} <= set(words(wide))
    assert {"1", "5", "10"} <= set(words(narrow))  # there is no room for more


def test_what_is_asked_at_a_step_stands_there_alone() -> None:
    for drawing in drawn(Step(5, Decimal("30.90"))):
        assert knots(drawing) == ["knot", "knot", "knot asked"]
        assert [each for each in words(drawing) if each.endswith("5")] == ["5"]


@pytest.mark.parametrize("quantity", [2, 7, 60])
def test_a_price_for_one_quantity_only_says_so(quantity: int) -> None:
    asked = Step(quantity, Decimal("29.90"))
    for drawing in drawn(asked, holds=False, steps=sorted([*STEPS, asked])):
        assert not any(each.startswith("from") for each in words(drawing))
        assert "EUR for one; by how many" in words(drawing)
        assert knots(drawing) == ["knot", "knot", "knot", "knot asked"]
