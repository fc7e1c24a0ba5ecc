"""Members of the request and the sheet, read as figures, each a cell that can be edited."""

from decimal import Decimal
from functools import cache
from typing import Any

import msgspec
from msgspec import inspect

from gramhour_service.resolve.members import Members
from gramhour_service.workbook.figures import Figure, cell


class FigureMembers(Members):
    """Members whose numbers are figures, whole ones too."""

    __slots__ = ()

    def _number(self, name: str, value: Any) -> Decimal:
        if isinstance(value, Figure):
            return value
        was = "given" if self.has(name) else "default"
        says = says_of(type(self.struct)).get(name, "")
        return cell(Decimal(value), self._pointer(name), says, was)

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


@cache
def says_of(struct: type[msgspec.Struct]) -> dict[str, str]:
    """Collect what the contract says of each member of a type."""
    described = inspect.type_info(struct)
    assert isinstance(described, inspect.StructType)
    return {
        field.encode_name: (field.type.extra or {}).get("says", "")
        for field in described.fields
        if isinstance(field.type, inspect.Metadata)
    }
