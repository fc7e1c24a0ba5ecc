"""When somebody is there: hours by weekday, and days on which the shop is closed."""

from typing import Annotated

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.members import Day, Sent, member

Shift = Annotated[
    str,
    Meta(
        pattern="^([01][0-9]|2[0-3]):[0-5][0-9]-(([01][0-9]|2[0-3]):[0-5][0-9]|24:00)$",
        extra={"unit": "from-until on the shop's clock", "form": "hours such as 08:00-12:30"},
    ),
]
Shifts = Annotated[list[Shift], Meta(max_length=12)]
ClosedDays = Annotated[list[Day], Meta(max_length=2_000)]


class StaffedHours(Sent, frozen=True, kw_only=True):
    """When somebody is there, by weekday, such as ``["08:00-12:00", "13:00-17:00"]``.

    Times are those on the shop's clock. What goes on past midnight stands on both days, until
    24:00 and from 00:00.
    """

    monday: Annotated[Shifts | UnsetType, member("nobody is there if absent")] = UNSET
    tuesday: Annotated[Shifts | UnsetType, member("nobody is there if absent")] = UNSET
    wednesday: Annotated[Shifts | UnsetType, member("nobody is there if absent")] = UNSET
    thursday: Annotated[Shifts | UnsetType, member("nobody is there if absent")] = UNSET
    friday: Annotated[Shifts | UnsetType, member("nobody is there if absent")] = UNSET
    saturday: Annotated[Shifts | UnsetType, member("nobody is there if absent")] = UNSET
    sunday: Annotated[Shifts | UnsetType, member("nobody is there if absent")] = UNSET


WEEKDAYS = StaffedHours.__struct_fields__
