"""What the shop makes of customers' own parts, as whoever may have one made is told it."""

from msgspec import UNSET, UnsetType

from gramhour.contract.measurement import BoxSize
from gramhour.contract.members import Answered


class OfferedMaterial(Answered, frozen=True, kw_only=True):
    """A filament that a part can be printed in; ``material`` is its code, to ask by."""

    material: str
    name: str


class OpenService(Answered, frozen=True, kw_only=True):
    """A service that is open to who asks; ``service`` is its code, to ask by.

    ``largest_box`` is the largest part that is taken, as it stands in its file or turned by a
    quarter about the upright; quantities are multiples of ``multiple_of``.
    """

    service: str
    name: str
    materials: list[OfferedMaterial]
    largest_box: BoxSize
    multiple_of: int
    currency: str
    prices_include_tax: bool


class OpenServices(Answered, frozen=True, kw_only=True):
    """The services that are open to who asks, in the order of their codes."""

    items: list[OpenService]
    next_cursor: str | UnsetType = UNSET
