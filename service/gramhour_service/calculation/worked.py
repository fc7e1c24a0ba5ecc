"""A number that remembers how it was made.

The calculation computes with ``Decimal``. Handed ``Worked`` numbers instead, the very same
functions leave behind the working of every figure: nothing is computed a second time for an
explanation, so an explanation cannot differ from what it explains.
"""

from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import NamedTuple, Self

Operand = Decimal | int

NOISE_FREE_EXPONENT = -12


class Source(NamedTuple):
    """A member of the request or the sheet, and the number it gave."""

    pointer: str
    value: Decimal


class Working(NamedTuple):
    """How a number was made: ``+ - * /`` of two operands, or a rounding of one.

    A ``formula`` is what has no sign: its operands stand in the braces of the sign.
    """

    sign: str
    operands: tuple[Operand, ...]
    formula: bool = False


class Whole(int):
    """A whole number that remembers the member it was read from; its arithmetic does not."""

    source: Source


class Worked(Decimal):
    """A decimal with its working, its name if it has one, and the members it was read from.

    One that ``stands`` is a figure of its own: others that use it show its value alone. One
    that is ``assumed`` was a default: as a term of 0 or a factor of 1 it need not be shown.
    """

    __slots__ = ("assumed", "name", "sources", "stands", "working")

    working: Working | None
    name: str
    sources: tuple[Source, ...]
    stands: bool
    assumed: bool

    @classmethod
    def of(
        cls,
        value: Operand,
        working: Working | None = None,
        *,
        name: str = "",
        sources: tuple[Source, ...] = (),
        stands: bool = False,
        assumed: bool = False,
    ) -> Self:
        """Make a number of a value and what is to be remembered of it."""
        number = cls(value)
        number.working, number.name, number.sources = working, name, sources
        number.stands, number.assumed = stands, assumed
        return number

    def __add__(self, other: Operand, /) -> "Worked":
        if _is_nothing(other):
            return self
        return Worked.of(Decimal.__add__(self, other), Working("+", (self, other)))

    def __radd__(self, other: Operand, /) -> "Worked":
        if _is_nothing(other):
            return self
        return Worked.of(Decimal.__radd__(self, other), Working("+", (other, self)))

    def __sub__(self, other: Operand, /) -> "Worked":
        return Worked.of(Decimal.__sub__(self, other), Working("-", (self, other)))

    def __rsub__(self, other: Operand, /) -> "Worked":
        return Worked.of(Decimal.__rsub__(self, other), Working("-", (other, self)))

    def __mul__(self, other: Operand, /) -> "Worked":
        return Worked.of(Decimal.__mul__(self, other), Working("*", (self, other)))

    def __rmul__(self, other: Operand, /) -> "Worked":
        return Worked.of(Decimal.__rmul__(self, other), Working("*", (other, self)))

    def __truediv__(self, other: Operand, /) -> "Worked":
        return Worked.of(Decimal.__truediv__(self, other), Working("/", (self, other)))

    def __rtruediv__(self, other: Operand, /) -> "Worked":
        return Worked.of(Decimal.__rtruediv__(self, other), Working("/", (other, self)))

    def quantize(
        self, exp: Operand, rounding: str | None = None, context: Context | None = None
    ) -> "Worked":
        """Round, remembering what was rounded; the rounding to 12 decimals is not told apart."""
        rounded = Decimal.quantize(self, exp, rounding, context)
        sign = "round" if rounding == ROUND_HALF_EVEN else "round_half_up"
        whole = self.working.operands[0] if self.working and self._is_noise_free() else self
        return Worked.of(rounded, Working(sign, (whole,)), stands=True)

    def copy_abs(self) -> "Worked":
        """Lose the sign of a zero, and nothing else that is remembered."""
        return Worked.of(Decimal.copy_abs(self), self.working, stands=self.stands)

    def _is_noise_free(self) -> bool:
        """Say whether this was rounded to the 12 decimals that remove the noise of division."""
        rounded = self.working is not None and self.working.sign == "round"
        return rounded and self.as_tuple().exponent == NOISE_FREE_EXPONENT


def _is_nothing(number: Operand) -> bool:
    """Say whether a number is a zero that no member gave: where a sum starts."""
    return not isinstance(number, Worked) and not number


def called(amount: Decimal, *name: str | int) -> Decimal:
    """Give an amount the name under which explanations speak of it; plain decimals have none.

    The parts of the name are joined to one identifier; whatever is named twice is equal.
    """
    if isinstance(amount, Worked):
        joined = "_".join(str(part) for part in name).replace("-", "_")
        working, stands = amount.working, amount.stands
        return Worked.of(amount, working, name=joined, sources=amount.sources, stands=stands)
    return amount


def computed(value: Decimal, formula: str, *inputs: Operand) -> Decimal:
    """Let a value that no decimal arithmetic computed remember its formula, and of what.

    The formula has braces where its inputs go.
    """
    if not [number for number in inputs if isinstance(number, Worked | Whole)]:
        return value
    workings = Workings(by_name=False)
    for number in inputs:
        workings.of(number)
    sources = tuple(workings.sources.values())
    return Worked.of(value, Working(formula, inputs, formula=True), sources=sources)


def followed(amount: Decimal) -> Decimal:
    """Let a rounded amount be a step on the way: a figure that uses it shows how it was made."""
    if isinstance(amount, Worked):
        return Worked.of(amount, amount.working, name=amount.name, sources=amount.sources)
    return amount


def standing(amount: Decimal) -> Decimal:
    """Let an amount stand as a figure of its own, such as a total of rounded amounts."""
    if isinstance(amount, Worked):
        return Worked.of(amount, amount.working, stands=True)
    return amount


TERM, FACTOR = 1, 2
"""How strongly the signs of a sum and of a product bind."""


class Workings:
    """Writes numbers as expressions.

    ``+ - * /`` and brackets as usual, ``round(x, n)`` half even after 12 decimals,
    ``round_half_up(x, n)``. Terms of 0 and factors of 1 that nobody gave are left out.
    """

    def __init__(self, *, by_name: bool, formulas: bool = False) -> None:
        """Write quantities that have a name by it, or spell them out in numbers.

        What a formula made is written so, or as the number that came of it.
        """
        self.by_name = by_name
        self.formulas = formulas
        self.named: dict[str, Worked] = {}
        self.sources: dict[str, Source] = {}

    def of(self, figure: Operand) -> str:
        """Write how a figure was made, whatever its own name."""
        if not isinstance(figure, Worked) or figure.working is None:
            return self._number(figure)
        sign, operands, _ = figure.working
        if figure.working.formula:
            return self._written_out(figure, 0)
        if sign in ("round", "round_half_up"):
            return self._rounded(figure, sign, operands)
        return self._joined(sign, operands, 0)

    def _rounded(self, figure: Worked, sign: str, operands: tuple[Operand, ...]) -> str:
        exponent = figure.as_tuple().exponent
        assert isinstance(exponent, int)
        return f"{sign}({self._term(operands[0], 0)}, {-exponent})"

    def _written_out(self, figure: Worked, strength: int) -> str:
        """Write the formula that made a number, or the number, whose sources it knows."""
        assert figure.working is not None
        if not self.formulas:
            return self._number(figure)
        formula, inputs, _ = figure.working
        text = formula.format(*(self._term(each, FACTOR + 1) for each in inputs))
        return f"({text})" if strength and not formula.endswith(")") else text

    def _joined(self, sign: str, operands: tuple[Operand, ...], strength: int) -> str:
        """Write two operands and their sign, in brackets if that binds less than ``strength``."""
        if sign in "+-":
            return self._summed(sign, operands, strength)
        left, right = operands
        if right == 1 and _goes_without_saying(right):
            return self._term(left, strength)
        if left == 1 and sign == "*" and _goes_without_saying(left):
            return self._term(right, strength)
        text = f"{self._term(left, FACTOR)} {sign} {self._term(right, FACTOR + (sign == '/'))}"
        return f"({text})" if strength > FACTOR else text

    def _summed(self, sign: str, operands: tuple[Operand, ...], strength: int) -> str:
        """Write a sum from its first term to its last: it may have thousands of them."""
        further: list[tuple[str, Operand]] = []
        while True:
            first, last = operands
            if last == 0 and _goes_without_saying(last):
                rest = first
            elif first == 0 and sign == "+" and _goes_without_saying(first):
                rest = last
            else:
                further.append((sign, last))
                rest = first
            sum_before = self._sum_within(rest)
            if sum_before is None:
                break
            sign, operands, _ = sum_before
        text = self._term(rest, TERM if further else strength)
        for joined_by, term in reversed(further):
            text += f" {joined_by} {self._term(term, TERM + (joined_by == '-'))}"
        return f"({text})" if further and strength > TERM else text

    def _sum_within(self, operand: Operand) -> "Working | None":
        """Find the sum that an operand is written as, if it is one."""
        if not isinstance(operand, Worked) or operand.working is None or operand.stands:
            return None
        is_named = self.by_name and operand.name
        return operand.working if operand.working.sign in "+-" and not is_named else None

    def _term(self, operand: Operand, strength: int) -> str:
        if not isinstance(operand, Worked) or operand.working is None:
            return self._number(operand)
        if self.by_name and operand.name:
            self.named.setdefault(operand.name, operand)
            return operand.name
        sign, operands, is_formula = operand.working
        if is_formula:
            return self._written_out(operand, strength)
        if operand.stands:
            return self._number(operand)
        if sign in ("round", "round_half_up"):
            return self._rounded(operand, sign, operands)
        return self._joined(sign, operands, strength)

    def _number(self, operand: Operand) -> str:
        if isinstance(operand, Worked):
            for source in operand.sources:
                self.sources.setdefault(source.pointer, source)
        elif isinstance(operand, Whole):
            self.sources.setdefault(operand.source.pointer, operand.source)
        return plain(operand) if operand >= 0 else f"({plain(operand)})"


def _goes_without_saying(operand: Operand) -> bool:
    """Say whether a term of 0 or a factor of 1 comes of defaults and the rules' own numbers."""
    while isinstance(operand, Worked):
        if operand.working is None or operand.working.formula:
            return operand.assumed
        sign, parts, _ = operand.working
        if operand == 0 and sign == "*":
            return any(part == 0 and _goes_without_saying(part) for part in parts)
        if not (operand == 0 and sign == "/") and not all(map(_goes_without_saying, parts[1:])):
            return False
        operand = parts[0]
    return True


def plain(number: Operand) -> str:
    """Write a number without an exponent."""
    return f"{number:f}" if isinstance(number, Decimal) else str(number)


def steps_of(workings: Workings) -> list[Worked]:
    """List the named quantities of an expression and those they are made of, first things first."""
    ordered: dict[str, Worked] = {}
    for quantity in workings.named.values():
        inner = Workings(by_name=True, formulas=True)
        inner.of(quantity)
        for step in steps_of(inner):
            ordered.setdefault(step.name, step)
        ordered.setdefault(quantity.name, quantity)
    return list(ordered.values())
