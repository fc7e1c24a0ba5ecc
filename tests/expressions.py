"""Evaluates an explanation's expression: decimal arithmetic of precision 40, and two roundings."""

import ast
import operator
from collections.abc import Callable, Mapping
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal, localcontext

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
            return Decimal(ast.get_source_segment(text, node) or "")
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
