"""A sheet's rates, each resolved when it is first asked for."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any, TypeVar

from msgspec import UNSET, Struct, UnsetType

from gramhour.contract.answer import Basis
from gramhour.contract.rates import RateOverrides, RateSheet
from gramhour_service.calculation.job import (
    Channel,
    Component,
    Machine,
    Material,
    Need,
    Nozzle,
    ShopRates,
)
from gramhour_service.resolve import kinds
from gramhour_service.resolve.currency import minor_digits
from gramhour_service.resolve.members import Members, Notes, Place, place_of_rate

R = TypeVar("R")


HowMany = tuple[Decimal, Decimal]
"""How much is needed for each unit, and once an order."""

Kept = dict[tuple[str, str], tuple[Any, tuple[Basis, ...]]]
"""What was resolved of a sheet before, with the defaults used: the same for every request."""


class Rates:
    """A sheet's rates, each resolved once when it is first asked for."""

    def __init__(
        self,
        sheet: RateSheet,
        notes: Notes,
        overrides: RateOverrides | UnsetType = UNSET,
        kept: Kept | None = None,
    ) -> None:
        """Resolve from ``sheet``, in which ``overrides`` stand already; note defaults used.

        ``kept`` has what other requests resolved of the very same sheet, and gets more.
        """
        self.sheet, self.notes, self.placed = sheet, notes, place_of_rate(overrides)
        self.digits = minor_digits(sheet.currency)
        is_as_kept = overrides is UNSET and not notes.explain
        self._kept: Kept = kept if kept is not None and is_as_kept else {}
        self._noted: set[tuple[str, str]] = set()

    def material(self, code: str) -> Material:
        """Resolve a filament."""
        return self._once("materials", code, kinds.material)

    def nozzle(self, code: str) -> Nozzle:
        """Resolve a nozzle."""
        return self._once("nozzles", code, kinds.nozzle)

    def machine(self, code: str) -> Machine:
        """Resolve a printer."""
        return self._once("machines", code, kinds.machine)

    def component(self, code: str) -> Component:
        """Resolve a bought-in part."""
        return self._once("components", code, kinds.component)

    def channel(self, code: str) -> Channel:
        """Resolve a channel and what its orders are packed in."""
        channel, packing = self._once("channels", code, self._channel)
        if not packing:
            return channel
        parts = [(self.component(part), how_many) for part, how_many in packing]
        needs = (Need(component, *how_many) for component, how_many in parts)
        return self._keep(("packed", code), lambda _: replace(channel, packing=tuple(needs)))

    def _channel(self, _: str, members: Members) -> tuple[Channel, list[tuple[str, HowMany]]]:
        packing = [
            (packing.word("component"), how_many(packing)) for packing in members.parts("packing")
        ]
        return kinds.channel(members, self.digits), packing

    def shop(self) -> ShopRates:
        """Resolve what holds for the whole shop."""
        return self._keep(("shop", ""), self._shop)

    def _shop(self, notes: Notes) -> ShopRates:
        def amount(name: str) -> Decimal:
            return self._read(self.sheet, self.placed(name)[:-1], notes).amount(name)

        return ShopRates(
            minor_digits=self.digits,
            labour_rate_per_hour=amount("labour_rate_per_hour"),
            price_per_kwh=amount("price_per_kwh"),
            material_overhead_pct=amount("material_overhead_pct"),
            production_overhead_pct=amount("production_overhead_pct"),
            admin_overhead_pct=amount("admin_overhead_pct"),
        )

    def also(self, what: str, kind: str, code: str, make: Callable[[Members], R]) -> R:
        """Resolve what only some requests need of a rate, under a word of its own."""
        key = (f"{what} of {kind}", code)
        return self._keep(key, lambda notes: make(self._members(kind, code, notes)))

    def once_for_the_shop(self, what: str, make: Callable[[], R]) -> R:
        """Make of the whole sheet what only some requests need."""
        return self._keep((what, ""), lambda _: make())

    def members(self, kind: str, code: str) -> Members:
        """Read a rate of the sheet as it stands there."""
        return self._members(kind, code, self.notes)

    def _members(self, kind: str, code: str, notes: Notes) -> Members:
        entries = getattr(self.sheet, kind)
        assert entries is not UNSET, "the reader lets only codes through that the sheet has"
        return self._read(entries[code], self.placed(kind, code), notes)

    def _read(self, struct: Struct, place: Place, notes: Notes) -> Members:
        """Read the sheet, or a rate of it, as all of its members are read here."""
        return Members(struct, place, notes)

    def _once(self, kind: str, code: str, make: Callable[[str, Members], R]) -> R:
        return self._keep((kind, code), lambda notes: make(code, self._members(kind, code, notes)))

    def _keep(self, key: tuple[str, str], make: Callable[[Notes], R]) -> R:
        """Resolve once for all requests, and note the defaults used once for this one."""
        found = self._kept.get(key)
        if found is None:
            notes = Notes(self.notes.explain)
            resolved = make(notes)
            assert not notes.faults, "a sound sheet's rates have none"
            found = self._kept[key] = resolved, tuple(notes.basis)
        if key not in self._noted:
            self._noted.add(key)
            self.notes.basis += found[1]
        value: R = found[0]
        return value


def need_of(use: Members, component: Component) -> Need:
    """Read how much of a component is needed."""
    return Need(component, *how_many(use))


def how_many(use: Members) -> HowMany:
    """Read how much of something is needed, by the unit or by the order."""
    count = use.amount("count")
    return (count, Decimal(0)) if use.word("per") == "unit" else (Decimal(0), count)
