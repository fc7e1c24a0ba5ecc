"""A sheet's rates, resolved by the calculation's rules on figures."""

from typing import Any

from msgspec import Struct

from gramhour_service.calculation.job import Component, Machine, Material, Nozzle
from gramhour_service.resolve.members import Members, Notes, Place
from gramhour_service.resolve.rates import HowMany, Rates, how_many
from gramhour_service.workbook.calculating import bound
from gramhour_service.workbook.members import FigureMembers


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

    def _read(self, struct: Struct, place: Place, notes: Notes) -> Members:
        return FigureMembers(struct, place, notes)
