"""Typed geometry: what is known of a shape without its mesh, to estimate grams and minutes from."""

from decimal import Decimal
from typing import Annotated

from gramhour.contract.members import Sent, amount, member
from gramhour.contract.size import Size

Volume = Annotated[Decimal, amount("cm3", above=0)]
Area = Annotated[Decimal, amount("cm2", above=0)]


class Geometry(Sent, frozen=True, kw_only=True):
    """One piece as a drawing program or `/v1/measurements` tells of it."""

    volume_cm3: Annotated[Volume, member("what is inside of its surface")]
    area_cm2: Annotated[Area, member("all of its surface, inner walls too")]
    box: Annotated[Size, member("the box around it, as it stands on the plate")]
