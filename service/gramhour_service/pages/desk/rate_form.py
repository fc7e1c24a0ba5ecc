"""The forms of rates: one for each kind, one for each member of the whole sheet."""

from functools import cache

from msgspec import inspect

from gramhour.contract.rates import KINDS, RateSheet
from gramhour_service.pages.desk.plan import Member, plan_of

SHOP = "shop"
VALUE = "/value"
"""Where the rate stands in its form: it may be a single number, which has no name of its own."""


def rate_form(kind: str, code: str) -> Member | None:
    """Say which form a rate has; none if there is no such rate."""
    if kind in KINDS:
        return _of_kind(kind)
    return _of_the_shop().get(code) if kind == SHOP else None


@cache
def _of_the_shop() -> dict[str, Member]:
    return {
        each.name: each._replace(name="value", is_required=False)
        for each in plan_of(RateSheet)
        if each.name not in KINDS
    }


@cache
def _of_kind(kind: str) -> Member:
    described = inspect.type_info(RateSheet)
    assert isinstance(described, inspect.StructType)
    (field,) = (each for each in described.fields if each.encode_name == kind)
    return Member(
        "value", "value", "", "", "section", False, "", within=plan_of(_struct(field.type))
    )


def _struct(described: inspect.Type) -> type:
    """Find the type of a kind's rates."""
    match described:
        case inspect.Metadata(type=inner) | inspect.DictType(value_type=inner):
            return _struct(inner)
        case inspect.UnionType(types=types):
            (inner,) = (each for each in types if isinstance(each, inspect.DictType))
            return _struct(inner)
    assert isinstance(described, inspect.StructType), described
    return described.cls
