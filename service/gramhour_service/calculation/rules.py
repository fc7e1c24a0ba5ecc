"""The list of rules: every function that states one of the costing rules, by its name.

A rule's sentence is the first paragraph of its docstring, so the words that explain a figure
stand beside the code that computes it.
"""

import inspect
from collections.abc import Callable
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

VERSION = "1"

F = TypeVar("F", bound=Callable[..., Any])


class Rule(NamedTuple):
    """A rule: its name, its sentence in words, and the function that computes it."""

    name: str
    sentence: str
    function: Callable[..., Any]


_rules: dict[str, Rule] = {}
RULES = MappingProxyType(_rules)


def rule(function: F) -> F:
    """Enter a function in the list of rules. It stays as it is, and costs nothing more."""
    name = function.__name__
    sentence = " ".join(inspect.cleandoc(function.__doc__ or "").split("\n\n")[0].split())
    assert sentence, f"the rule {name} has no sentence"
    assert name not in _rules, f"two rules are called {name}"
    _rules[name] = Rule(name, sentence, function)
    return function
