"""How a number was made, written as an expression: of numbers, or of quantities by their names.

It reads what numbers remember (``worked``), and computes nothing.
"""

from gramhour_service.calculation.worked import Operand, Source, Whole, Worked, Working, plain

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
        """Write the formula that made a number, or the number, and note what it was made of."""
        assert figure.working is not None
        formula, inputs, _ = figure.working
        if not self.formulas:
            within = Workings(by_name=False)
            for each in inputs:
                within.of(each)
            self.sources = {**self.sources, **within.sources}
            return self._number(figure)
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

    def _sum_within(self, operand: Operand) -> Working | None:
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
