"""The rules of costing as cases: what each says, on a plain sheet, in figures worked out by hand.

A case of ``cases/*.yaml`` is named as a rule. It changes a base (``cases/base.yaml``) at some
paths, and expects figures, each written out as the arithmetic that the rule asks for:

- ``name``, ``base`` (``printed`` unless told), ``source`` of a published fact;
- ``sheet`` and ``request``: path → value; null removes, an index past the end appends;
- ``expect``: path in the answer (of the asked quantity, unless it starts with ``breaks``) →
  arithmetic, a word, null, or a list of them; ``*`` gathers a list;
- ``assumed``: pointer → value of defaults that the answer must tell;
- or ``refused``: ``type``, all the ``pointers``, and words that the details must have (``says``).

An expected amount is rounded as its figure is shown, and must then be alike to the last digit.
"""

import ast
import operator
from collections import Counter
from collections.abc import Callable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal, localcontext
from pathlib import Path
from typing import Any

import msgspec
import pytest
import yaml
from msgspec import UNSET

from gramhour.contract.answer import Quote
from gramhour.contract.problem import Refused
from gramhour_service.answer.quoting import answer_quote

FOLDER = Path(__file__).parent / "cases"
MINOR_DIGITS = {"EUR": 2, "JPY": 0, "KWD": 3, "IQD": 3, "CLF": 4}


@dataclass(frozen=True, kw_only=True)
class Case:
    """One rule: what it changes, and what must come of it."""

    name: str
    base: str = "printed"
    sheet: Mapping[str, Any] = field(default_factory=dict)
    request: Mapping[str, Any] = field(default_factory=dict)
    expect: Mapping[str, Any] = field(default_factory=dict)
    assumed: Mapping[str, str] = field(default_factory=dict)
    refused: Mapping[str, Any] = field(default_factory=dict)
    source: str = ""

    def __post_init__(self) -> None:
        assert bool(self.expect) != bool(self.refused), f"{self.name}: expects all or nothing"


class ExactLoader(yaml.SafeLoader):
    """Reads numbers with a point as decimals, and no member twice."""

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Any, Any]:
        names = Counter(key.value for key, _ in node.value)
        assert not names or max(names.values()) == 1, f"{node.start_mark}: a member stands twice"
        return super().construct_mapping(node, deep)


def _exact_number(_: ExactLoader, node: yaml.ScalarNode) -> Decimal:
    return Decimal(node.value)


ExactLoader.add_constructor("tag:yaml.org,2002:float", _exact_number)


def read(path: Path) -> Any:
    return yaml.load(path.read_text(encoding="utf-8"), ExactLoader)


BASES = read(FOLDER / "base.yaml")
CASES = [
    Case(**case)
    for path in sorted(FOLDER.glob("*.yaml"))
    if path.name != "base.yaml"
    for case in read(path)
]


# What a case sends.


def changed(base: Any, changes: Mapping[str, Any]) -> Any:
    document = deepcopy(base)
    for path, value in changes.items():
        *steps, last = path.split(".")
        inner = document
        for step in steps:
            inner = inner[int(step)] if isinstance(inner, list) else inner.setdefault(step, {})
        if isinstance(inner, list):
            inner[int(last) : int(last) + 1] = [value]
        elif value is None:
            del inner[last]
        else:
            inner[last] = value
    return document


def sent(case: Case) -> Any:
    base = BASES[case.base]
    request = changed(base["request"], case.request)
    return {**request, "rates": changed(base["sheet"], case.sheet)}


# What a case expects.


def half_even(value: Decimal, places: Decimal | int) -> Decimal:
    without_noise = value.quantize(Decimal("1e-12"), ROUND_HALF_EVEN)
    return without_noise.quantize(Decimal(1).scaleb(-int(places)), ROUND_HALF_EVEN)


def half_up(value: Decimal, places: Decimal | int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-int(places)), ROUND_HALF_UP)


def ceiling(value: Decimal) -> Decimal:
    return value.to_integral_value(ROUND_CEILING)


OPERATIONS: Mapping[type[ast.operator], Callable[[Decimal, Decimal], Decimal]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}
FUNCTIONS: Mapping[str, Callable[..., Decimal]] = {
    "round": half_even,
    "round_half_up": half_up,
    "ceil": ceiling,
    "max": max,
    "min": min,
}


def worth(arithmetic: object) -> Decimal:
    """Work out arithmetic in decimals of 40 digits, as costing is done."""
    text = str(arithmetic)
    with localcontext(Context(prec=40)):
        return _worth(ast.parse(text, mode="eval").body, text)


def _worth(node: ast.expr, text: str) -> Decimal:
    match node:
        case ast.BinOp(left=left, op=op, right=right):
            return OPERATIONS[type(op)](_worth(left, text), _worth(right, text))
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_worth(operand, text)
        case ast.Call(func=ast.Name(id=name), args=args):
            return FUNCTIONS[name](*(_worth(each, text) for each in args))
        case ast.Constant():
            # As it is written: the value that Python reads is a binary float.
            return Decimal(ast.get_source_segment(text, node) or "")
    raise ValueError(f"not arithmetic: {text}")


def as_shown(expected: Decimal, figure: str, currency: str) -> Decimal:
    """Round as section 0 of the calculation says for such a figure."""
    if figure.startswith(("order_", "fees.")) or figure == "unit_price":
        return half_up(expected, MINOR_DIGITS[currency])
    if figure in ("margin_pct", "markup_pct"):
        return half_even(expected, 2)
    return half_even(expected, 4)


def matches(actual: Any, expected: Any, figure: str, currency: str) -> bool:
    """Money must be alike as it is written, a physical amount (a number) in its value."""
    match actual:
        case list():
            return len(actual) == len(expected) and all(
                matches(a, e, figure, currency) for a, e in zip(actual, expected, strict=True)
            )
        case None | str():
            return bool(actual == expected)
        case int() | float():
            return Decimal(repr(actual)) == as_shown(worth(expected), figure, currency)
        case Decimal() if figure.startswith("purchases."):
            return actual == worth(expected)
    # Adding 0 turns a rounded −0.00001 into 0.0000.
    return expected is not None and str(actual) == str(
        as_shown(worth(expected), figure, currency) + 0
    )


# What the answer says.


def found(answer: Any, steps: list[str]) -> Any:
    for n, step in enumerate(steps):
        if step == "*":
            return [found(each, steps[n + 1 :]) for each in answer]
        if isinstance(answer, list):
            answer = answer[int(step)]
        else:
            answer = answer[step] if isinstance(answer, dict) else getattr(answer, step)
    return answer


def actual_figure(quote: Quote, path: str) -> tuple[str, Any]:
    """Find what stands at a path, and which figure of a break that is."""
    steps = path.split(".")
    if steps[0] == "breaks":
        return ".".join(steps[2:]), found(quote, steps)
    return path, found(quote.at_quantity, steps)


def without_explanations(quote: Quote) -> Quote:
    replace = msgspec.structs.replace
    return replace(
        quote,
        at_quantity=replace(quote.at_quantity, explain=UNSET),
        breaks=[replace(each, explain=UNSET) for each in quote.breaks],
    )


def answered(case: Case, *, explain: bool = False) -> Quote | Refused:
    try:
        return answer_quote(sent(case), explain=explain)
    except Refused as refused:
        return refused


def check_refusal(refused: Refused, expected: Mapping[str, Any]) -> None:
    assert refused.type == expected["type"]
    if "pointers" in expected:
        assert sorted(fault.place for fault in refused.faults) == sorted(expected["pointers"])
    details = " ".join(fault.detail for fault in refused.faults)
    assert [words for words in expected.get("says", []) if words not in details] == [], details


def check_figures(quote: Quote, case: Case) -> None:
    wrong = {}
    for path, expected in case.expect.items():
        figure, actual = actual_figure(quote, path)
        if not matches(actual, expected, figure, quote.currency):
            wrong[path] = f"{actual}, not {expected}"
    assert wrong == {}
    defaults = {each.pointer: each.value for each in quote.basis if each.basis == "default"}
    assert {pointer: defaults.get(pointer) for pointer in case.assumed} == case.assumed


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_rule(case: Case) -> None:
    answer = answered(case)
    explained = answered(case, explain=True)
    if isinstance(answer, Refused) or isinstance(explained, Refused):
        assert case.refused, f"refused: {answer}"
        assert isinstance(answer, Refused), "refused only when asked to explain"
        assert isinstance(explained, Refused), "refused only when not asked to explain"
        assert (explained.type, explained.faults) == (answer.type, answer.faults)
        check_refusal(answer, case.refused)
    else:
        assert case.expect, "answered, not refused"
        assert without_explanations(explained) == answer
        check_figures(answer, case)


def test_no_two_rules_have_one_name() -> None:
    assert [name for name, times in Counter(case.name for case in CASES).items() if times > 1] == []
