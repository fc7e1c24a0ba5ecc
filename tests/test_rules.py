"""Every rule is used: switched off, it changes some demo quote and its explanation together."""

import sys
from functools import cache
from typing import Any

import msgspec
import pytest

from gramhour.contract.answer import Break
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.calculation.rules import RULES
from tests import demo
from tests.rules_off import OFF

Told = tuple[Any, Any]
"""A break's figures, and their explanations."""

FEWEST_RULES = 45


def told(break_: Break) -> Told:
    figures = msgspec.to_builtins(break_)
    return figures, figures.pop("explain")


def quotes_of(name: str) -> list[Told]:
    answer = answer_quote(demo.request(name), demo.sheet(), explain=True)
    return [told(each) for each in (answer.at_quantity, *answer.breaks)]


@cache
def quotes_with_all_rules(name: str) -> list[Told]:
    return quotes_of(name)


def switch_off(rule: str, patch: pytest.MonkeyPatch) -> None:
    """Put a rule's stand-in wherever the calculation, resolve or the answer has it."""
    function = RULES[rule].function
    places = [
        (module, name)
        for path, module in list(sys.modules.items())
        if path.startswith("gramhour_service")
        for name, value in list(vars(module).items())
        if value is function
    ]
    assert places
    for module, name in places:
        patch.setattr(module, name, OFF[rule])


def test_there_is_a_rule_for_every_sentence_and_a_stand_in_for_every_rule() -> None:
    assert len(RULES) >= FEWEST_RULES
    assert sorted(OFF) == sorted(RULES)


@pytest.mark.parametrize("rule", sorted(RULES))
def test_a_rule_switched_off_changes_a_demo_quote_and_its_explanation(
    rule: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = {name: quotes_with_all_rules(name) for name in demo.NAMES}
    switch_off(rule, monkeypatch)
    assert any(
        figures != now and explained != now_explained
        for name in demo.NAMES
        for (figures, explained), (now, now_explained) in zip(
            before[name], quotes_of(name), strict=True
        )
    )


def test_every_rule_says_in_one_paragraph_what_it_does() -> None:
    for rule in RULES.values():
        assert rule.sentence.endswith("."), rule.name
        assert rule.sentence[0].isupper() or rule.sentence.startswith("1/p"), rule.name
