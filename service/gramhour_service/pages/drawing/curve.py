"""The price of a unit over the quantity: what more of it would cost each, and where one stands.

The area below a price is drawn as what is printed is made: layers of beads. Those of the asked
quantity are in the colour of what was asked for.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from markupsafe import Markup

from gramhour_service.pages.drawing.scale import Scale, apart, round_amounts
from gramhour_service.pages.drawing.svg import drawing, element, line, text
from gramhour_service.pages.texts import signs

HEADROOM = 1.15
"""So that there is room for words above the dearest price."""
LAYER = 7
"""How far apart the layers of an area are."""
NAME = "Price of one, by quantity"


class Step(NamedTuple):
    """A price of one unit from a quantity on."""

    quantity: int
    unit_price: Decimal


class Curve(NamedTuple):
    """What is drawn: the steps in rising order, and the asked quantity with its price.

    Where ``holds`` is so, a price holds from its step up to the next one; else only at the
    quantities named, and the line between them leads the eye.
    """

    currency: str
    steps: Sequence[Step]
    asked: Step
    marked: frozenset[int]
    holds: bool


class Frame(NamedTuple):
    """How large a drawing is, and for which width of page."""

    width: int
    height: int
    class_: str
    gap: int


class Room(NamedTuple):
    """Where a word stands."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Room") -> bool:
        """Say whether two words would cover each other."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


WIDE = Frame(720, 320, "wide", 76)
NARROW = Frame(344, 300, "narrow", 58)
LEFT, RIGHT, TOP, BOTTOM = 46, 14, 30, 52
TICK, WORDED, LETTER = 30, 64, 16
"""How much room a quantity takes beside another, and with "from" before it; how high words are."""
KNOT, ASKED = 5, 7
"""How large the ring at a step is, and the knot at what was asked."""


def price_curve(curve: Curve) -> Markup:
    """Draw it twice, for a wide and a narrow page; the stylesheet shows one."""
    return Markup("").join(_drawn(curve, frame) for frame in (WIDE, NARROW))


def said(curve: Curve) -> str:
    """Say what the drawing shows."""
    steps = [each for each in curve.steps if each.quantity in curve.marked]
    word = "from " if curve.holds else ""
    prices = ", ".join(f"{word}{each.quantity}: {each.unit_price}" for each in steps)
    asked = f"You asked for {curve.asked.quantity}: {curve.asked.unit_price} {curve.currency} each."
    return f"In {curve.currency}, {prices}. {asked}" if prices else asked


def _drawn(curve: Curve, frame: Frame) -> Markup:
    across, up = _scales(curve, frame)
    parts = [*_axes(curve, across, up), *_areas(curve, across, up)]
    parts += [*_line(curve, across, up), *_knots(curve, across, up)]
    parts += _labels(curve, frame, across, up)
    parts += _asked(curve, frame, across, up)
    return drawing(NAME, said(curve), (frame.width, frame.height), *parts, class_=frame.class_)


def _scales(curve: Curve, frame: Frame) -> tuple[Scale, Scale]:
    quantities = [each.quantity for each in (*curve.steps, curve.asked)]
    least, most = min(quantities), max(quantities)
    most = max(most * 2, least + 1) if curve.holds else max(most, least + 1)
    dearest = max(float(each.unit_price) for each in (*curve.steps, curve.asked))
    top = dearest * HEADROOM
    return (
        Scale(least, most, LEFT, frame.width - RIGHT, logarithmic=True),
        Scale(0, top, frame.height - BOTTOM, TOP),
    )


def _axes(curve: Curve, across: Scale, up: Scale) -> list[Markup]:
    amounts = [amount for amount in round_amounts(0, up.most) if amount <= up.most]
    parts = [
        text(LEFT - 8, up.at(amount) + 5, f"{amount:g}", anchor="end", data_number=f"{amount:g}")
        for amount in amounts
    ]
    ends = [(across.start, up.start), (across.end, up.start)]
    marked = [each for each in curve.steps if each.quantity in curve.marked]
    places = [across.at(each.quantity) for each in marked]
    word = "from " if curve.holds and all(apart(places, WORDED)) else ""
    for each, place, is_written in zip(marked, places, apart(places, TICK), strict=True):
        parts.append(line([(place, up.start), (place, up.start + 6)], "hair"))
        if is_written and each.quantity != curve.asked.quantity:
            parts.append(text(place, up.start + 22, f"{word}{each.quantity}", anchor="middle"))
    says = "each ring: from so many on" if curve.holds else "by how many"
    parts.append(text(0, 14, f"{curve.currency} for one; {says}"))
    return [*parts, line(ends, "hair")]


def _areas(curve: Curve, across: Scale, up: Scale) -> list[Markup]:
    """Stack layers below each price; where prices are known at points only, below the asked one."""
    if not curve.holds:
        return [_layers(across.start, across.at(curve.asked.quantity), curve.asked, up, "asked")]
    parts = []
    for step, end in zip(curve.steps, _ends(curve, across), strict=True):
        is_asked = step == _step_of_asked(curve)
        parts.append(_layers(across.at(step.quantity), end, step, up, "asked" if is_asked else ""))
    return parts


def _layers(start: float, end: float, step: Step, up: Scale, class_: str) -> Markup:
    top = up.at(float(step.unit_price)) + LAYER
    heights = []
    height = up.start - LAYER
    while height > top:
        heights.append(height)
        height -= LAYER
    way = "".join(
        f"M{start + 3:.1f} {height:.1f}H{max(start + 3, end - 3):.1f}" for height in heights
    )
    return element("path", d=way, class_=f"layer {class_}".strip())


def _line(curve: Curve, across: Scale, up: Scale) -> list[Markup]:
    if not curve.holds:
        points = [(across.at(each.quantity), up.at(float(each.unit_price))) for each in curve.steps]
        return [line(points, "bead")]
    parts = []
    for step, end in zip(curve.steps, _ends(curve, across), strict=True):
        height = up.at(float(step.unit_price))
        is_asked = step == _step_of_asked(curve)
        ends = [(across.at(step.quantity) + 2, height), (end - 2, height)]
        parts.append(line(ends, "bead asked" if is_asked else "bead"))
    return parts


def _knots(curve: Curve, across: Scale, up: Scale) -> list[Markup]:
    """Put a ring where each named price begins."""
    reached = _step_of_asked(curve)
    return [
        element(
            "circle",
            cx=across.at(each.quantity),
            cy=up.at(float(each.unit_price)),
            r=KNOT,
            class_="knot reached" if curve.holds and each == reached else "knot",
        )
        for each in curve.steps
        if each.quantity in curve.marked and each.quantity != curve.asked.quantity
    ]


def _ends(curve: Curve, across: Scale) -> list[float]:
    return [*(across.at(each.quantity) for each in curve.steps[1:]), across.end]


def _step_of_asked(curve: Curve) -> Step | None:
    reached = [each for each in curve.steps if each.quantity <= curve.asked.quantity]
    return reached[-1] if reached else None


def _labels(curve: Curve, frame: Frame, across: Scale, up: Scale) -> list[Markup]:
    """Write the price at each step where that covers no other price."""
    taken = [_room_of_asked(curve, frame, across, up)]
    parts = []
    for each in curve.steps:
        if each.quantity not in curve.marked or each == _step_of_asked(curve):
            continue
        x, y = across.at(each.quantity) + KNOT, up.at(float(each.unit_price)) - 10
        room = Room(x, y - LETTER, x + frame.gap, y)
        if room.right > frame.width or any(room.meets(other) for other in taken):
            continue
        taken.append(room)
        said = signs(each.unit_price, curve.currency)
        parts.append(text(x, y, str(each.unit_price), "ink", **said))
    return parts


def _room_of_asked(curve: Curve, frame: Frame, across: Scale, up: Scale) -> Room:
    """Say what room the price at the asked quantity takes, above its knot and within the frame.

    It begins within its own step, so that it does not cover the price of the one before.
    """
    x, y = across.at(curve.asked.quantity), up.at(float(curve.asked.unit_price)) - 16
    step = _step_of_asked(curve) if curve.holds else None
    first = LEFT if step is None else across.at(step.quantity) + 2 * KNOT
    left = min(max(x - frame.gap * 0.6, first), frame.width - frame.gap * 1.2)
    return Room(left, y - LETTER, left + frame.gap * 1.2, y)


def _asked(curve: Curve, frame: Frame, across: Scale, up: Scale) -> list[Markup]:
    x, y = across.at(curve.asked.quantity), up.at(float(curve.asked.unit_price))
    room = _room_of_asked(curve, frame, across, up)
    price, said = (
        f"{curve.asked.unit_price} {curve.currency}",
        signs(curve.asked.unit_price, curve.currency),
    )
    middle = (room.left + room.right) / 2
    row = 22 if curve.asked.quantity in curve.marked else 44
    return [
        line([(x, y), (x, up.start)], "hair asked"),
        text(x, up.start + row, str(curve.asked.quantity), "asked", "middle"),
        element("circle", cx=x, cy=y, r=ASKED, class_="knot asked"),
        text(middle, room.bottom, price, "asked", "middle", **said),
    ]
