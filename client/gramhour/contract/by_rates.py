"""By which rates something is asked: members that requests of several kinds have."""

from typing import Annotated

from msgspec import UnsetType

from gramhour.contract.members import Day, Revision, member
from gramhour.contract.rates import RateOverrides, RateSheet

OwnRates = Annotated[
    RateSheet | UnsetType, member("a whole rate sheet to price with, not the stored one")
]
Overrides = Annotated[
    RateOverrides | UnsetType, member("single rates in place of the sheet's, for what-if")
]
RevisionAsked = Annotated[
    Revision | UnsetType, member("the stored rates as known then; else the newest")
]
DayAsked = Annotated[
    Day | UnsetType, member("the day whose rates count; else today in the shop's time_zone")
]
