"""What a shop makes of customers' own parts without a key: its public services, in which material.

Whoever may have a part made must be told what of: the materials of a public service are no secret.
"""

from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.rates import RateSheet
from gramhour_service.http.asking import Asker
from gramhour_service.http.measured import caller_of
from gramhour_service.http.shop import Shop
from gramhour_service.own_parts.offered import open_services


class Made(NamedTuple):
    """A way to have a part made: a service and one of its materials, and what people call them."""

    service: str
    material: str
    named: str
    says: str
    includes_tax: bool

    @property
    def value(self) -> str:
        """Name both at once, as a choice in a form."""
        return f"{self.service}:{self.material}"


def made(shop: Shop, asker: Asker) -> list[Made]:
    """List the ways that are open to a caller, by service."""
    found = shop.pinned_today()
    if found is None:
        return []
    sheet = found.in_force.sheet
    return [
        Made(
            service=code,
            material=material,
            named=code if service.name is UNSET else service.name,
            says=_name_of(material, sheet),
            includes_tax=_includes_tax(service.channel, sheet),
        )
        for code, service in open_services(sheet, caller_of(asker)).items()
        for material in service.materials
    ]


def _name_of(material: str, sheet: RateSheet) -> str:
    assert sheet.materials is not UNSET, "the sheet is sound"
    name = sheet.materials[material].name
    return material if name is UNSET else name


def _includes_tax(channel: str, sheet: RateSheet) -> bool:
    assert sheet.channels is not UNSET, "the sheet is sound"
    return sheet.channels[channel].prices_include_tax
