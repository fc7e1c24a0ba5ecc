"""The functions of some modules, bound anew: the same code, with other functions at hand.

So the calculation runs as it is written, but for the few rules that are given in another form.
Nothing is changed in the modules themselves.
"""

from collections.abc import Callable, Mapping, Sequence
from types import FunctionType, ModuleType, SimpleNamespace
from typing import Any


def rebound(
    modules: Sequence[ModuleType],
    others: Mapping[str, Any],
    seen: Callable[[FunctionType], Callable[..., Any]],
) -> SimpleNamespace:
    """Bind the functions of modules to each other, and to ``others`` in place of what they name.

    Every function made so is handed to ``seen``, whose answer is what the others call.
    """
    spaces = {module.__name__: dict(vars(module)) for module in modules}
    made: dict[str, Callable[..., Any]] = {}
    for module in modules:
        for name, value in vars(module).items():
            if isinstance(value, FunctionType) and value.__globals__ is vars(module):
                made[f"{module.__name__}.{name}"] = seen(_anew(value, spaces[module.__name__]))
    for module in modules:
        space = spaces[module.__name__]
        for name, value in vars(module).items():
            if name in others:
                space[name] = others[name]
            elif isinstance(value, FunctionType):
                space[name] = made.get(f"{value.__module__}.{value.__name__}", value)
    bound: dict[str, Any] = {}
    for module in modules:
        own = vars(module)
        bound |= {
            name: value
            for name, value in spaces[module.__name__].items()
            if name in own and callable(value)
        }
    return SimpleNamespace(**bound)


def _anew(function: FunctionType, space: dict[str, Any]) -> FunctionType:
    again = FunctionType(
        function.__code__, space, function.__name__, function.__defaults__, function.__closure__
    )
    again.__kwdefaults__ = function.__kwdefaults__
    return again
