"""Whom a quotation is from: the name under which the shop seals prices; where it was given."""

from typing import NamedTuple

from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import Asked, address_asked
from gramhour_service.store.seals import issuer_of

MADE_AT_RANDOM = "urn:uuid:"
"""So a shop is called until ``gramhour seals issuer`` says better; nobody can read that."""


SCHEMES = ("https://", "http://")


class Seller(NamedTuple):
    """Who sells, if the shop has a name, and the address that was asked."""

    name: str
    address: str

    @property
    def called(self) -> str:
        """Say the name as people do: of a web address without its scheme."""
        scheme = next((each for each in SCHEMES if self.name.startswith(each)), "")
        return self.name.removeprefix(scheme).rstrip("/")


def seller(request: Asked, shop: Shop) -> Seller:
    """Say whom a quotation is from."""
    name = shop.read(issuer_of) or ""
    return Seller("" if name.startswith(MADE_AT_RANDOM) else name, address_asked(request))
