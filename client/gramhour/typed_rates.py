"""Gives stored rates, which are of many kinds, the types that a rate sheet has for them."""

from functools import cache
from typing import Any, TypeVar, get_args, get_type_hints

from msgspec.structs import replace

from gramhour.contract.rates import KINDS, RateSheet
from gramhour.contract.stored import StoredKind, StoredRate
from gramhour.tolerant import convert

Rate = TypeVar("Rate", bound=StoredRate)


def with_typed_rate(stored: Rate) -> Rate:
    """Give a rate's value its type, such as ``Material``; an unknown kind's stays as it came."""
    return replace(stored, value=_typed(stored.kind, stored.code, stored.value))


def with_typed_rates(stored: StoredKind) -> StoredKind:
    """Give all rates of a kind their types."""
    rates = {code: _typed(stored.kind, code, value) for code, value in stored.rates.items()}
    return replace(stored, rates=rates)


def _typed(kind: str, code: str, value: Any) -> Any:
    into = _types().get(kind if kind in KINDS else f"{kind}/{code}", Any)
    return convert(value, into)


@cache
def _types() -> dict[str, Any]:
    """List the types of a sheet's members: a kind's rates, and ``shop/…`` for what is alone."""
    hints = get_type_hints(RateSheet)
    of_kinds = {kind: get_args(get_args(hints[kind])[0])[1] for kind in KINDS}
    return of_kinds | {f"shop/{name}": hint for name, hint in hints.items() if name not in KINDS}
