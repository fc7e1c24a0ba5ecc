"""How a member of the contract says its meaning, unit, bounds and default.

What is declared here reaches four places: the reader that checks requests and sheets, the
default that ``resolve`` fills in, the generated table in the docs, and the OpenAPI document.
"""

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any, Literal, NamedTuple, get_args

from msgspec import Meta, Struct

LARGEST = Decimal(10) ** 9
DECIMALS = 9
MOST_UNITS = 100_000
"""More are not quoted at once."""
MONEY = "currency"
"""How the unit of all money begins, an hour's and a kilogram's too: it is the sheet's."""


class Way(NamedTuple):
    """One way to give a thing: the members it needs, and those that may go with it."""

    needs: tuple[str, ...]
    may_have: tuple[str, ...] = ()


class OneWay(NamedTuple):
    """Of several ways to give one thing exactly one is given (at most one if not required)."""

    ways: tuple[Way, ...]
    required: bool = True


def amount(
    unit: str,
    *,
    least: int | None = 0,
    above: int | None = None,
    most: int | None = None,
    below: int | None = None,
) -> Meta:
    """Declare a decimal amount: its unit and bounds (``above`` and ``below`` exclude the bound)."""
    bounds = {
        "minimum": None if above is not None else least,
        "exclusiveMinimum": above,
        "maximum": most,
        "exclusiveMaximum": below,
    }
    return Meta(
        extra={"unit": unit, "bounds": {k: Decimal(v) for k, v in bounds.items() if v is not None}},
        extra_json_schema={
            "x-unit": unit,
            "x-bounds": {k: v for k, v in bounds.items() if v is not None},
        },
    )


def member(says: str, *, default: object = None, refers_to: str = "") -> Meta:
    """Declare a member: what it means, its default if it has one, the kind its code refers to."""
    extra: dict[str, Any] = {"says": says}
    schema: dict[str, Any] = {"description": says}
    if default is not None:
        extra["default"] = default
        schema["default"] = default
    if refers_to:
        extra["refers_to"] = refers_to
    return Meta(extra=extra, extra_json_schema=schema)


class Sent(Struct, frozen=True, kw_only=True):
    """What callers send. The reader refuses unknown members by name; answers may hold more."""


class Answered(Struct, frozen=True, kw_only=True):
    """What the service answers. Unknown members are tolerated, so old clients survive."""


def one_of(words: Any) -> Meta:
    """Declare the words of today; a client decodes any, so that it survives those of tomorrow."""
    return Meta(extra_json_schema={"enum": list(get_args(words))})


CODE_PATTERN = "[a-z0-9][a-z0-9-]{0,62}"
SKU_PATTERN = "[A-Za-z0-9][A-Za-z0-9._~-]{0,63}"
CODE_FORM = (
    "a code of small letters, digits and hyphens, no hyphen first, at most 63, such as asa-green"
)
SKU_FORM = "letters, digits and . _ ~ -, a letter or digit first, at most 64, such as HP-12"
Code = Annotated[
    str,
    Meta(
        pattern=f"^{CODE_PATTERN}$",
        extra={"unit": "code", "form": CODE_FORM},
    ),
]
Sku = Annotated[
    str,
    Meta(
        pattern=f"^{SKU_PATTERN}$",
        extra={"unit": "stock-keeping unit", "form": SKU_FORM},
    ),
]
Name = Annotated[str, Meta(max_length=200)]
Note = Annotated[str, Meta(max_length=2000)]

Grams = Annotated[Decimal, amount("g")]
GramsAboveZero = Annotated[Decimal, amount("g", above=0)]
Kilograms = Annotated[Decimal, amount("kg", above=0)]
CubicCentimetres = Annotated[Decimal, amount("cm3")]
Density = Annotated[Decimal, amount("g/cm3", above=0)]
Metres = Annotated[Decimal, amount("m")]
Millimetres = Annotated[Decimal, amount("mm", above=0)]
Gap = Annotated[Decimal, amount("mm", most=1_000)]
Minutes = Annotated[Decimal, amount("min")]
Hours = Annotated[Decimal, amount("h", above=0)]
QueueHours = Annotated[Decimal, amount("h", most=100_000)]
Years = Annotated[Decimal, amount("years", above=0)]
Watts = Annotated[Decimal, amount("W")]
KilowattHours = Annotated[Decimal, amount("kWh")]

Money = Annotated[Decimal, amount("currency")]
MoneyPerHour = Annotated[Decimal, amount("currency/h")]
MoneyPerKilogram = Annotated[Decimal, amount("currency/kg")]
MoneyPerKilowattHour = Annotated[Decimal, amount("currency/kWh")]
MoneyPerYear = Annotated[Decimal, amount("currency/year")]
PriceStep = Annotated[Decimal, amount("currency", above=0)]

Share = Annotated[Decimal, amount("%", most=100)]
Yield = Annotated[Decimal, amount("%", above=0, most=100)]
RejectShare = Annotated[Decimal, amount("%", below=100)]
LearningRate = Annotated[Decimal, amount("%", least=50, most=100)]
Surcharge = Annotated[Decimal, amount("%")]
TaxRate = Annotated[Decimal, amount("%", most=1000)]
Margin = Annotated[Decimal, amount("%", least=-100, below=100)]
Markup = Annotated[Decimal, amount("%", least=-100)]
Promise = Annotated[Decimal, amount("%", below=100)]
Factor = Annotated[Decimal, amount("factor")]
Pace = Annotated[Decimal, amount("share", above=0, most=1)]
Measure = Annotated[Decimal, amount("of the component's measure", above=0)]

Per = Literal["unit", "order"]

Quantity = Annotated[int, Meta(ge=1, le=MOST_UNITS, extra={"unit": "units"})]
Pieces = Annotated[int, Meta(ge=1, le=1_000_000, extra={"unit": "pieces"})]
Packs = Annotated[int, Meta(ge=1, le=1_000_000, extra={"unit": "packs"})]
PackSize = Annotated[int, Meta(ge=1, le=10_000, extra={"unit": "of the component's measure"})]
UnitsToLearn = Annotated[int, Meta(ge=1, le=10_000, extra={"unit": "units"})]
Revision = Annotated[int, Meta(ge=1, le=1_000_000_000, extra={"unit": "revision"})]
RevisionKnown = Annotated[int, Meta(ge=0, le=1_000_000_000, extra={"unit": "revision"})]
Days = Annotated[int, Meta(ge=0, le=3_650, extra={"unit": "days"})]
Day = Annotated[date, Meta(extra={"unit": "date"})]
Moment = Annotated[datetime, Meta(tz=True, extra={"unit": "instant"})]
WorkingDays = Annotated[int, Meta(ge=0, le=365, extra={"unit": "working days"})]
Machines = Annotated[int, Meta(ge=1, le=1_000, extra={"unit": "machines"})]
UnitsMade = Annotated[int, Meta(ge=0, le=1_000_000_000, extra={"unit": "units"})]
