"""A number that becomes a cell: its value now, and the formula that makes it of other cells.

The calculation's own functions are handed these instead of plain decimals. What arithmetic they
do is remembered; a comparison cannot be, so its outcome is kept as something the workbook relies
on, and shown when an edit changes it.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import Decimal
from operator import add, floordiv, mod, mul, sub, truediv
from typing import Any, NamedTuple, Self

Operand = Decimal | int

LONGEST_SUM = 40
"""Operations in one formula, after which the rest is a cell of its own."""

CELL, FORMULA = "cell", "formula"
REMAINDER = "MOD({0};{1})"


class Figure(Decimal):
    """A decimal that is a cell, or the formula of one.

    ``sign`` is ``+ - * /``, ``CELL`` for a member that was read (``text`` is its pointer), or
    ``FORMULA`` (``text`` is the formula, with ``{0}`` for its first operand). What has a ``name``
    or a ``rule`` gets a cell of its own.
    """

    __slots__ = ("bounds", "depth", "name", "operands", "rule", "sign", "text")

    sign: str
    text: str
    operands: tuple[Operand, ...]
    name: str
    rule: str
    depth: int
    bounds: "Bounds | None"

    @classmethod
    def of(cls, value: Operand, sign: str, text: str, operands: tuple[Operand, ...]) -> Self:
        """Make a figure of its value and of how it is made; one that was made already is it."""
        key = (sign, text, *[id(o) if isinstance(o, Figure) else plain(o) for o in operands])
        made = _figures.get()
        if key in made:
            found: Self = made[key]
            return found
        figure = made[key] = cls(value)
        figure.sign, figure.text, figure.operands = sign, text, operands
        figure.name = figure.rule = ""
        figure.bounds = None
        inside = [each.depth for each in operands if isinstance(each, Figure)]
        figure.depth = 1 + max(inside, default=0)
        if figure.depth > LONGEST_SUM:
            figure.name, figure.depth = "subtotal", 1
        return figure

    def __add__(self, other: Operand, /) -> "Figure":
        return self if _is_nothing(other) else _joined("+", self, other)

    def __radd__(self, other: Operand, /) -> "Figure":
        return self if _is_nothing(other) else _joined("+", other, self)

    def __sub__(self, other: Operand, /) -> "Figure":
        return _joined("-", self, other)

    def __rsub__(self, other: Operand, /) -> "Figure":
        return _joined("-", other, self)

    def __mul__(self, other: Operand, /) -> "Figure":
        return _joined("*", self, other)

    def __rmul__(self, other: Operand, /) -> "Figure":
        return _joined("*", other, self)

    def __truediv__(self, other: Operand, /) -> "Figure":
        return _joined("/", self, other)

    def __rtruediv__(self, other: Operand, /) -> "Figure":
        return _joined("/", other, self)

    def __floordiv__(self, other: Operand, /) -> "Figure":
        return formula("INT({0}/{1})", floordiv(plain(self), plain(other)), self, other)

    def __mod__(self, other: Operand, /) -> "Figure":
        return formula(REMAINDER, mod(plain(self), plain(other)), self, other)

    def __bool__(self) -> bool:
        return _relied_on("<>", self, 0, outcome=bool(plain(self)))

    def __eq__(self, other: object, /) -> bool:
        if self is other:
            return True
        if not isinstance(other, Decimal | int) or _is_remainder_of(self, other):
            return False
        return _relied_on("=", self, other, outcome=plain(self) == plain(other))

    def __ne__(self, other: object, /) -> bool:
        return not self == other

    def __lt__(self, other: Any, /) -> bool:
        return _relied_on("<", self, other, outcome=plain(self) < plain(other))

    def __le__(self, other: Any, /) -> bool:
        return _relied_on("<=", self, other, outcome=plain(self) <= plain(other))

    def __gt__(self, other: Any, /) -> bool:
        return _relied_on(">", self, other, outcome=plain(self) > plain(other))

    def __ge__(self, other: Any, /) -> bool:
        return _relied_on(">=", self, other, outcome=plain(self) >= plain(other))

    def __hash__(self) -> int:
        return Decimal.__hash__(self)

    def _leaves_no_formula(self, *_: Any, **__: Any) -> Any:
        raise TypeError("this would make a constant of a figure; give its rule as a formula")

    quantize = __pow__ = __divmod__ = __neg__ = __abs__ = _leaves_no_formula
    __int__ = __float__ = __round__ = __floor__ = __ceil__ = __trunc__ = _leaves_no_formula


class Bounds(NamedTuple):
    """Bounds of a member, each with its sign, and whether it is a whole number."""

    signs: tuple[tuple[str, Operand], ...]
    is_whole: bool

    def __str__(self) -> str:
        """Write the bounds."""
        return ", ".join([*[f"{s} {end}" for s, end in self.signs], *["whole"] * self.is_whole])


def cell(
    value: Operand, pointer: str, says: str, was: str = "given", bounds: Bounds | None = None
) -> Figure:
    """Make the figure of a member of the request or the sheet.

    ``was`` says whether it was given, a default or estimated. ``says`` is what the contract says
    of the member; it stands beside it, as a rule does.
    """
    figure = Figure.of(value, CELL, pointer, ())
    figure.name, figure.rule, figure.bounds = was, says, bounds
    return figure


def formula(text: str, value: Operand, *operands: Operand) -> Figure:
    """Make a figure that a formula computes of its operands, with the value it has now."""
    return Figure.of(value, FORMULA, text, operands)


def named(amount: Any, name: str) -> Any:
    """Give a figure a cell of its own, under a name."""
    if isinstance(amount, Figure) and amount.sign != CELL and not amount.name:
        amount.name = name
        amount.depth = 0
    return amount


def in_its_cell(amount: Any, name: str) -> Any:
    """Give a figure that has none a cell of its own, for a formula that needs it twice."""
    if isinstance(amount, Figure) and not has_cell(amount):
        return named(amount, name)
    return amount


def has_cell(figure: Figure) -> bool:
    """Say whether a figure stands in a cell of its own."""
    return figure.sign == CELL or bool(figure.name or figure.rule)


def plain(amount: Any) -> Any:
    """Give a figure's value as a plain decimal; and so for what a row or a list holds."""
    if isinstance(amount, Figure):
        return Decimal(amount)
    if isinstance(amount, tuple) and hasattr(amount, "_make"):
        return amount._make(map(plain, amount))
    if isinstance(amount, tuple | list):
        return type(amount)(map(plain, amount))
    return amount


OPERATIONS = {"+": add, "-": sub, "*": mul, "/": truediv}


def _joined(sign: str, left: Operand, right: Operand) -> Figure:
    return Figure.of(OPERATIONS[sign](plain(left), plain(right)), sign, "", (left, right))


def _is_nothing(number: Operand) -> bool:
    """Say whether a number is a zero that no member gave: where a sum starts."""
    return not isinstance(number, Figure) and not number


def _is_remainder_of(figure: Figure, other: object) -> bool:
    """Say whether a figure is what a division by the other leaves, and so never as much."""
    return figure.text == REMAINDER and figure.operands[1] is other


class Condition(NamedTuple):
    """A comparison that was made, and how it came out; ``says`` it, where its sides do not."""

    sign: str
    left: Operand
    right: Operand
    outcome: bool
    says: str = ""


def rely(sign: str, left: Operand, right: Operand, *, outcome: bool, says: str = "") -> None:
    """Note what the workbook relies on beyond what its formulas see, and how to say it."""
    _relied_on(sign, left, right, outcome=outcome, says=says)


_conditions: ContextVar[list[Condition] | None] = ContextVar("conditions", default=None)
_figures: ContextVar[dict[Any, Any]] = ContextVar("figures")


@contextmanager
def figures_shared() -> Iterator[None]:
    """Make every figure once that is made within: what is the same at any quantity is one cell."""
    token = _figures.set({})
    try:
        yield
    finally:
        _figures.reset(token)


@contextmanager
def conditions_kept(kept: list[Condition] | None) -> Iterator[None]:
    """Keep what comparisons within were made; with None, none of them matters."""
    token = _conditions.set(kept)
    try:
        yield
    finally:
        _conditions.reset(token)


def _relied_on(sign: str, left: Operand, right: Any, *, outcome: bool, says: str = "") -> bool:
    kept = _conditions.get()
    if kept is not None and isinstance(right, Decimal | int):
        kept.append(Condition(sign, left, right, outcome, says))
    return outcome
