"""Reads members of the request and the sheet, fills in defaults, and notes each one used."""

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from types import MappingProxyType
from typing import Any

import msgspec
from msgspec import UNSET, UnsetType, inspect

from gramhour.contract.answer import Basis
from gramhour.contract.problem import Fault, pointer
from gramhour.contract.rates import RateOverrides
from gramhour_service.calculation.worked import Source, Whole, Worked

Place = tuple[str | int, ...]


@dataclass(slots=True)
class Notes:
    """What one resolving gathers: faults, and where the numbers came from, unless nobody asks."""

    explain: bool
    asks_basis: bool = True
    faults: list[Fault] = field(default_factory=list)
    basis: list[Basis] = field(default_factory=list)

    def refuse(self, place: Place, detail: str) -> None:
        """Note a fault and go on."""
        self.faults.append(Fault(pointer(*place), detail))


class Members:
    """The members of one struct of the contract, at its place in the request or the sheet."""

    __slots__ = ("_written", "notes", "place", "struct")

    def __init__(self, struct: msgspec.Struct, place: Place, notes: Notes) -> None:
        """Read ``struct``, which stands at ``place``."""
        self.struct, self.place, self.notes = struct, place, notes
        self._written: str | None = None

    def has(self, name: str) -> bool:
        """Say whether a member was given."""
        return getattr(self.struct, name) is not UNSET

    def amount(self, name: str) -> Decimal:
        """Read an amount, or its default."""
        return self._number(name, self._value(name))

    def amount_or(self, name: str, default: Decimal) -> Decimal:
        """Read an amount whose default depends on others."""
        return self._number(name, self._value(name, default))

    def whole_or(self, name: str, default: int) -> int:
        """Read a whole number whose default depends on others."""
        return self._whole(name, int(self._value(name, default)))

    def optional_amount(self, name: str) -> Decimal | None:
        """Read an amount that has no default."""
        value = getattr(self.struct, name)
        return None if value is UNSET else self._number(name, value)

    def share(self, name: str) -> Decimal:
        """Read a percentage as a share of one."""
        return self.amount(name) / 100

    def whole(self, name: str) -> int:
        """Read a whole number, or its default."""
        return self._whole(name, int(self._value(name)))

    def word(self, name: str) -> str:
        """Read a word, or its default."""
        return str(self._value(name))

    def parts(self, name: str) -> "list[Members]":
        """Read a list of structs; an absent one is empty."""
        value = getattr(self.struct, name)
        structs = [] if value is UNSET else value
        return [Members(s, (*self.place, name, n), self.notes) for n, s in enumerate(structs)]

    def part(self, name: str, absent: Callable[[], msgspec.Struct] | None = None) -> "Members":
        """Read a struct; ``absent`` makes what stands for one that is not given."""
        value = getattr(self.struct, name)
        if value is UNSET and absent is not None:
            value = absent()
        return Members(value, (*self.place, name), self.notes)

    def given(self, name: str) -> None:
        """Note that a member that matters was given."""
        if self.notes.asks_basis:
            self.notes.basis.append(Basis(pointer=self._pointer(name), basis="given"))

    def refuse(self, name: str, detail: str) -> None:
        """Note a fault of a member."""
        self.notes.refuse((*self.place, name), detail)

    def _number(self, name: str, value: Any) -> Decimal:
        if self.notes.explain:
            source = Source(self._pointer(name), Decimal(value))
            return Worked.of(value, sources=(source,), assumed=not self.has(name))
        return value if isinstance(value, Decimal) else Decimal(value)

    def _whole(self, name: str, value: int) -> int:
        if self.notes.explain:
            whole = Whole(value)
            whole.source = Source(self._pointer(name), Decimal(value))
            return whole
        return value

    def _value(self, name: str, default: Any = None) -> Any:
        value = getattr(self.struct, name)
        if value is not UNSET:
            return value
        if default is None:
            default = defaults_of(type(self.struct))[name]
        if self.notes.asks_basis:
            self.notes.basis.append(
                Basis(pointer=self._pointer(name), basis="default", value=str(default))
            )
        return default

    def _pointer(self, name: str) -> str:
        """Write where a member stands; where all of them stand is written once."""
        if self._written is None:
            self._written = pointer(*self.place)
        return f"{self._written}/{name}"


def place_of_rate(overrides: RateOverrides | UnsetType) -> Callable[..., Place]:
    """Say where a rate of a kind and code, or a sheet-wide member, stands in a request."""

    def placed(name: str, *code: str) -> Place:
        ours = UNSET if overrides is UNSET else getattr(overrides, name, UNSET)
        is_override = ours is not UNSET and (not code or code[0] in ours)
        return ("rate_overrides" if is_override else "rates", name, *code)

    return placed


@cache
def defaults_of(struct: type[msgspec.Struct]) -> MappingProxyType[str, Any]:
    """Collect the defaults that a type of the contract declares, decimals as ``Decimal``."""
    described = inspect.type_info(struct)
    assert isinstance(described, inspect.StructType)
    defaults: dict[str, Any] = {}
    for member in described.fields:
        inner, default = member.type, None
        while isinstance(inner, inspect.Metadata):
            default = (inner.extra or {}).get("default", default)
            inner = inner.type
        if default is not None:
            is_decimal = isinstance(inner, inspect.DecimalType)
            defaults[member.encode_name] = Decimal(str(default)) if is_decimal else default
    return MappingProxyType(defaults)
