"""Members of the request and the sheet, read as figures, each a cell that can be edited."""

from decimal import Decimal
from functools import cache
from typing import Any, NamedTuple

import msgspec
from msgspec import inspect

from gramhour_service.resolve.members import Members
from gramhour_service.workbook.figures import Bounds, Figure, cell

SIGNS = {
    "minimum": ">=",
    "maximum": "<=",
    "exclusiveMinimum": ">",
    "exclusiveMaximum": "<",
}


class FigureMembers(Members):
    """Members whose numbers are figures, whole ones too."""

    __slots__ = ()

    def _number(self, name: str, value: Any) -> Decimal:
        if isinstance(value, Figure):
            return value
        was = "given" if self.has(name) else "default"
        says, bounds = described(type(self.struct)).get(name, NOTHING)
        return cell(Decimal(value), self._pointer(name), says, was, bounds)

    def whole(self, name: str) -> Any:
        """Read a whole number, or its default."""
        return self._number(name, self._value(name))

    def whole_or(self, name: str, default: int) -> Any:
        """Read a whole number whose default depends on others."""
        return self._number(name, self._value(name, default))

    def parts(self, name: str) -> list[Members]:
        """Read a list of structs."""
        return [as_figures(each) for each in super().parts(name)]

    def part(self, name: str, absent: Any = None) -> Members:
        """Read a struct."""
        return as_figures(super().part(name, absent))


def as_figures(members: Members) -> FigureMembers:
    """Read the same members as figures."""
    return FigureMembers(members.struct, members.place, members.notes)


class Described(NamedTuple):
    """What the contract says of a member: its meaning, and its bounds."""

    says: str
    bounds: Bounds | None


NOTHING = Described("", None)


@cache
def described(struct: type[msgspec.Struct]) -> dict[str, Described]:
    """Collect what the contract says of each member of a type."""
    told = inspect.type_info(struct)
    assert isinstance(told, inspect.StructType)
    return {
        field.encode_name: Described((field.type.extra or {}).get("says", ""), _bounds(field.type))
        for field in told.fields
        if isinstance(field.type, inspect.Metadata)
    }


def _bounds(member: inspect.Type) -> Bounds | None:
    match member:
        case inspect.Metadata(type=inner, extra=extra):
            if extra and "bounds" in extra:
                bounds = extra["bounds"].items()
                return Bounds(tuple([(SIGNS[name], amount) for name, amount in bounds]), False)
            return _bounds(inner)
        case inspect.UnionType(types=types):
            return next((found for found in map(_bounds, types) if found), None)
        case inspect.IntType(ge=least, le=most):
            ends = ((">=", least), ("<=", most))
            return Bounds(tuple([(sign, end) for sign, end in ends if end is not None]), True)
    return None
