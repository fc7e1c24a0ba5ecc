"""People's minutes of a product, or of a service for customers' own parts."""

from typing import Annotated

from msgspec import UNSET, UnsetType

from gramhour.contract.members import (
    LearningRate,
    Minutes,
    Sent,
    UnitsMade,
    UnitsToLearn,
    member,
)


class Work(Sent, frozen=True, kw_only=True):
    """People's minutes."""

    order_min: Annotated[Minutes | UnsetType, member("once an order", default="0")] = UNSET
    build_min: Annotated[Minutes | UnsetType, member("for each build", default="0")] = UNSET
    unit_min: Annotated[
        Minutes | UnsetType, member("for the first unit ever made", default="0")
    ] = UNSET
    learning_pct: Annotated[
        LearningRate | UnsetType,
        member("each doubling of units takes so much of the time a unit", default="100"),
    ] = UNSET
    learning_until: Annotated[
        UnitsToLearn | UnsetType, member("the unit after which nothing is learnt", default=100)
    ] = UNSET
    made_before: Annotated[
        UnitsMade | UnsetType, member("units made in earlier orders", default=0)
    ] = UNSET
