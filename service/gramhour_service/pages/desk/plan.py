"""What a form needs to know of each member of a type: its words, unit, kind and choices.

It is read from the contract's types, which say all of that already, so a form can neither lack a
member nor call it something else than the documents do.
"""

from functools import cache
from typing import Any, Literal, NamedTuple

import msgspec
from msgspec import inspect

Kind = Literal[
    "amount", "whole", "text", "long text", "day", "moment", "flag", "word", "words",
    "numbers", "texts", "code", "document", "section", "rows",
]  # fmt: skip

ENDINGS = {
    "g": "_g",
    "kg": "_kg",
    "cm3": "_cm3",
    "g/cm3": "_g_cm3",
    "m": "_m",
    "mm": "_mm",
    "min": "_min",
    "h": "_h",
    "W": "_w",
    "kWh": "_kwh",
    "%": "_pct",
    "s": "_s",
    "mm/s": "_mm_s",
    "mm/s2": "_mm_s2",
    "mm3/s": "_mm3_s",
    "degrees": "_deg",
}
"""A unit that stands in a member's name, as the contract writes it, is said beside the field."""
PLAIN: dict[type[inspect.Type], Kind] = {
    inspect.DecimalType: "amount",
    inspect.IntType: "whole",
    inspect.BoolType: "flag",
    inspect.DateType: "day",
    inspect.DateTimeType: "moment",
}
LONG_TEXTS = ("note",)
WHOLE = ("rates", "rate_overrides", "workload")
"""Members that are written as a document: they would be a form of their own."""
CALLED = {
    "print_min": "printing time",
    "per_build_min": "minutes of it a build",
    "per_build_g": "grams of it a build",
    "reject_pct": "rejects",
    "order_min": "once an order",
    "build_min": "each build",
    "unit_min": "first unit",
    "learning_pct": "learning rate",
    "rates_on": "rates of the day",
    "from": "lead time from",
    "over": "which listings",
    "feed": "filaments",
}
"""What a name alone would not tell beside a field."""
UNSAID = (
    *("code", "date", "instant", "units", "pieces", "packs", "revision", "machines", "factor"),
    *("stock-keeping unit", "of the component's measure"),
)
FLAGS = ("true", "false")


class Member(NamedTuple):
    """A member of a type, as a form shows it. ``within`` are the members of what it holds."""

    name: str
    label: str
    says: str
    unit: str
    kind: Kind
    is_required: bool
    default: str
    choices: tuple[str, ...] = ()
    refers_to: str = ""
    within: tuple["Member", ...] = ()

    @property
    def one(self) -> str:
        """Say what one of several is called."""
        if self.label.endswith("ies"):
            return f"{self.label[:-3]}y"
        return self.label.removesuffix("s")


@cache
def plan_of(struct: type[msgspec.Struct]) -> tuple[Member, ...]:
    """List the members of a type."""
    described = inspect.type_info(struct)
    assert isinstance(described, inspect.StructType)
    return tuple(map(_member, described.fields))


def _member(field: inspect.Field) -> Member:
    return _described(field.encode_name, field.type, is_required=field.required)


def _described(name: str, described: Any, *, is_required: bool = True) -> Member:
    extra: dict[str, Any] = {}
    while True:
        match described:
            case inspect.Metadata(type=inner):
                extra = {**(described.extra or {}), **extra}
                described = inner
            case inspect.UnionType(types=types):
                (described,) = (each for each in types if not _is_nothing(each))
            case _:
                break
    kind, within, choices = _kind(name, described, extra)
    unit = extra.get("unit", "")
    return Member(
        name=name,
        label=_label(name, unit),
        says=extra.get("says", ""),
        unit="" if unit in UNSAID else unit,
        kind=kind,
        is_required=is_required,
        default=_written(extra.get("default", "")),
        choices=choices,
        refers_to=extra.get("refers_to", ""),
        within=within,
    )


def _is_nothing(described: Any) -> bool:
    return type(described).__name__ in ("UnsetType", "NoneType")


def _kind(
    name: str, described: Any, extra: dict[str, Any]
) -> tuple[Kind, tuple[Member, ...], tuple[str, ...]]:
    if name in WHOLE:
        return "document", (), ()
    plain = PLAIN.get(type(described))
    if plain is not None:
        return plain, (), FLAGS if plain == "flag" else ()
    match described:
        case inspect.LiteralType(values=words):
            return "word", (), tuple(map(str, words))
        case inspect.StrType():
            is_long = name in LONG_TEXTS
            return ("code" if "refers_to" in extra else "long text" if is_long else "text"), (), ()
        case inspect.StructType(cls=struct):
            return "section", plan_of(struct), ()
        case inspect.ListType(item_type=item):
            return _kind_of_list(item)
    return "document", (), ()


def _kind_of_list(item: Any) -> tuple[Kind, tuple[Member, ...], tuple[str, ...]]:
    while isinstance(item, inspect.Metadata):
        item = item.type
    match item:
        case inspect.StructType(cls=struct):
            return "rows", plan_of(struct), ()
        case inspect.LiteralType(values=words):
            return "words", (), tuple(map(str, words))
        case inspect.IntType():
            return "numbers", (), ()
    return "texts", (), ()


def _label(name: str, unit: str) -> str:
    if name in CALLED:
        return CALLED[name]
    ending = ENDINGS.get(unit, "")
    return (name.removesuffix(ending) if ending else name).replace("_", " ")


def _written(default: Any) -> str:
    return str(default).lower() if isinstance(default, bool) else str(default)
