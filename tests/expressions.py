"""Evaluates an explanation's expression: decimal arithmetic of precision 40, and two roundings.

A formula has functions too; they are computed in decimals, where the calculation has floats.
"""

import ast
import operator
import re
from collections.abc import Callable, Mapping
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal, localcontext
from typing import Any

SIGNS: Mapping[type[ast.operator], Callable[[Decimal, Decimal], Decimal]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}


def evaluate(expression: str, names: Mapping[str, Decimal] | None = None) -> Decimal:
    with localcontext(Context(prec=40)):
        return _value(ast.parse(expression, mode="eval").body, expression, names or {})


def _value(node: ast.expr, text: str, names: Mapping[str, Decimal]) -> Decimal:
    match node:
        case ast.BinOp(left=left, op=op, right=right):
            return SIGNS[type(op)](_value(left, text, names), _value(right, text, names))
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_value(operand, text, names)
        case ast.Constant():
            return Decimal(text[node.col_offset : node.end_col_offset])  # all of it is ASCII
        case ast.Name(id=name):
            return names[name]
        case ast.Call(func=ast.Name(id=rounding), args=[amount, ast.Constant(value=int(places))]):
            return _rounded(rounding, _value(amount, text, names), places)
    raise AssertionError(f"not an expression of an explanation: {ast.dump(node)}")


def _rounded(rounding: str, amount: Decimal, places: int) -> Decimal:
    last_place = Decimal(1).scaleb(-places)
    if rounding == "round_half_up":
        return amount.quantize(last_place, ROUND_HALF_UP)
    assert rounding == "round"
    return amount.quantize(Decimal(1).scaleb(-12), ROUND_HALF_EVEN).quantize(
        last_place, ROUND_HALF_EVEN
    )


def evaluate_formula(formula: str, names: Mapping[str, Decimal]) -> Decimal:
    """Evaluate a formula of our own explanations, as Python reads it."""
    text = formula.replace("^", "**")
    text = re.sub(r"for k = (.*) to ([^)]*)\)", r"for k in counted(\1, \2))", text)
    text = re.sub(r"(?<![\w.])[0-9]+(\.[0-9]+)?", r"Decimal('\g<0>')", text)
    with localcontext(Context(prec=40)):
        told: Decimal = eval(text, {"__builtins__": {}, **FUNCTIONS, **names})
        return told


FUNCTIONS: Mapping[str, Any] = {
    "Decimal": Decimal,
    "ceil": lambda x: x.to_integral_value(ROUND_CEILING),
    "counted": lambda first, last: map(Decimal, range(int(first), int(last) + 1)),
    "exp": Decimal.exp,
    "log2": lambda x: x.ln() / Decimal(2).ln(),
    "max": max,
    "min": min,
    "pi": Decimal("3.141592653589793238462643383279502884197"),
    "round": lambda x, places: _rounded("round", x, int(places)),
    "round_half_up": lambda x, places: _rounded("round_half_up", x, int(places)),
    "sum": sum,
}
