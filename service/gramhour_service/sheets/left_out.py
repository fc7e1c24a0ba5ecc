"""What a rate had before a change and has no longer: whoever sends a rate sends all of it.

It is found by comparing the two values, whatever they are used for.
"""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from msgspec import UNSET, Struct

from gramhour.contract.members import OneWay
from gramhour.contract.noting import shown


def left_out(before: Any, now: Any, within: str = "") -> Iterator[str]:
    """Say which members are gone, but for those that another way to give the thing replaces."""
    if not isinstance(before, Struct) or type(before) is not type(now):
        return
    for name in before.__struct_fields__:
        old, new = getattr(before, name), getattr(now, name)
        if new is not UNSET:
            yield from left_out(old, new, f" of {name}{within}")
        elif old is not UNSET and not _is_replaced(name, now):
            yield f"{name}{within} is gone{_was(old)}"


def _is_replaced(name: str, now: Struct) -> bool:
    """Say whether the thing is now given in another way, as by the pack for by the kilogram."""
    choices: tuple[OneWay, ...] = getattr(type(now), "one_way", ())
    for choice in choices:
        ways = [{*way.needs, *way.may_have} for way in choice.ways]
        others = set().union(*(way for way in ways if name not in way))
        if any(name in way for way in ways) and any(
            getattr(now, other) is not UNSET for other in others
        ):
            return True
    return False


def _was(old: Any) -> str:
    """Tell a value that is short enough to be told."""
    match old:
        case bool():
            return f"; it was {str(old).lower()}"
        case Decimal():
            return f"; it was {old:f}"
        case int() | str():
            return f"; it was {shown(old)}"
    return ""
