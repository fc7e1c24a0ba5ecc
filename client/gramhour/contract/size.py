"""A size along the three axes: a machine's room, or the box around a part."""

from decimal import Decimal
from typing import Annotated

from gramhour.contract.members import Sent, amount, member

Side = Annotated[Decimal, amount("mm", above=0, most=10_000)]


class Size(Sent, frozen=True, kw_only=True):
    """Width, depth and height."""

    x_mm: Annotated[Side, member("from left to right")]
    y_mm: Annotated[Side, member("from front to back")]
    z_mm: Annotated[Side, member("from the plate up")]
