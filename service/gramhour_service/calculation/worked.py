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
    return Worked.of(value, Working(formula, inputs, formula=True))


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


def plain(number: Operand) -> str:
    """Write a number without an exponent."""
    return f"{number:f}" if isinstance(number, Decimal) else str(number)
