"""Members of the request and the sheet, read as figures, each a cell that can be edited."""

from decimal import Decimal
from functools import cache
from typing import Any

import msgspec
from msgspec import inspect

from gramhour_service.calculation.job import Component, Machine, Material, Nozzle, ShopRates
from gramhour_service.resolve.members import Members, Notes
from gramhour_service.resolve.rates import HowMany, Rates, how_many
from gramhour_service.workbook.calculating import bound
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


class FigureRates(Rates):
    """A sheet's rates, resolved by the calculation's rules on figures."""

    def material(self, code: str) -> Material:
        """Resolve a filament."""
        resolved: Material = self._once("materials", code, bound.material)
        return resolved

    def nozzle(self, code: str) -> Nozzle:
        """Resolve a nozzle."""
        resolved: Nozzle = self._once("nozzles", code, bound.nozzle)
        return resolved

    def machine(self, code: str) -> Machine:
        """Resolve a printer."""
        resolved: Machine = self._once("machines", code, bound.machine)
        return resolved

    def component(self, code: str) -> Component:
        """Resolve a bought-in part."""
        resolved: Component = self._once("components", code, bound.component)
        return resolved

    def _channel(self, _: str, members: Members) -> Any:
        packing: list[tuple[str, HowMany]] = [
            (each.word("component"), how_many(each)) for each in members.parts("packing")
        ]
        return bound.channel(members, self.digits), packing

    def _shop(self, notes: Notes) -> ShopRates:
        def amount(name: str) -> Decimal:
            return FigureMembers(self.sheet, self.placed(name)[:-1], notes).amount(name)

        return ShopRates(
            minor_digits=self.digits,
            labour_rate_per_hour=amount("labour_rate_per_hour"),
            price_per_kwh=amount("price_per_kwh"),
            material_overhead_pct=amount("material_overhead_pct"),
            production_overhead_pct=amount("production_overhead_pct"),
            admin_overhead_pct=amount("admin_overhead_pct"),
        )

    def _members(self, kind: str, code: str, notes: Notes) -> Members:
        return as_figures(super()._members(kind, code, notes))
