"""What a shop makes of customers' own parts without a key: its public services, in which material.

Whoever may have a part made must be told what of: the materials of a public service are no secret.
"""

from typing import NamedTuple

from gramhour_service.http.asking import Asker
from gramhour_service.http.measured import caller_of
from gramhour_service.http.shop import Shop
from gramhour_service.own_parts.told import told_services


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
    return [
        Made(
            service=service.service,
            material=material.material,
            named=service.name,
            says=material.name,
            includes_tax=service.prices_include_tax,
        )
        for service in told_services(found.in_force.sheet, caller_of(asker))
        for material in service.materials
    ]
