"""What the contract's document says of the parameters of /v1/unit-price."""

from gramhour.contract.members import MOST_UNITS
from gramhour_service.http.examples import ONE_PIECE
from gramhour_service.http.operation import (
    CODE_TEXT,
    RATES_ON,
    RATES_REVISION,
    SKU_TEXT,
    VIEW,
    Parameter,
    Schema,
)

AMOUNT = {"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?$"}
NUMBER = {"type": "integer", "minimum": 1, "maximum": MOST_UNITS}


def _parameter(name: str, says: str, schema: Schema = AMOUNT) -> Parameter:
    return Parameter(name, says, schema, example=ONE_PIECE.get(name))


LONGEST_AGAIN = 100

DESCRIBED = (
    _parameter("sku", "a listed product, instead of all that describes one", SKU_TEXT),
    _parameter("material", "the filament", CODE_TEXT),
    _parameter("mass_g", "grams of a full build; or volume_cm3, or length_m"),
    _parameter("volume_cm3", "cubic centimetres of a full build"),
    _parameter("length_m", "metres of filament of a full build"),
    _parameter("per_build_g", "grams of it that a build needs however full it is"),
    _parameter("machine", "the printer", CODE_TEXT),
    _parameter("nozzle", "the nozzle", CODE_TEXT),
    _parameter("print_min", "minutes of a full build"),
    _parameter("per_build_min", "minutes of it that a build needs however full it is"),
    _parameter("pieces_per_build", "pieces on a full build", {**NUMBER, "maximum": 1_000_000}),
    _parameter("order_min", "people's minutes, once an order"),
    _parameter("build_min", "people's minutes, each build"),
    _parameter("unit_min", "people's minutes, each unit"),
    _parameter("reject_pct", "units made again, in per cent"),
    _parameter("channel", "where it is sold", CODE_TEXT),
    Parameter("quantity", "units", NUMBER, required=True, example=ONE_PIECE["quantity"]),
    _parameter(
        "breaks",
        "further quantities, with commas between them",
        {"type": "string", "pattern": "^[0-9]+(,[0-9]+)*$"},
    ),
    _parameter("margin_pct", "the margin to reach; or markup_pct, or unit_price"),
    _parameter("markup_pct", "the markup to reach"),
    _parameter("unit_price", "the price itself"),
    _parameter("discount_pct", "taken off the price"),
    _parameter(
        "valid_days", "days that the quote holds", {**NUMBER, "maximum": 3650, "minimum": 0}
    ),
    _parameter(
        "from",
        "the instant that the lead time counts from (in JSON), else now",
        {"type": "string", "format": "date-time"},
    ),
    RATES_REVISION,
    RATES_ON,
    VIEW,
    Parameter(
        "decimal",
        "the sign before the decimals, in plain text and CSV",
        {"type": "string", "enum": ["point", "comma"], "default": "point"},
    ),
    Parameter(
        "errors",
        "text: a refusal in plain text is a 200 that says error: and why, for a cell to show",
        {"type": "string", "enum": ["text"]},
    ),
    Parameter(
        "again",
        "whatever you like: change it, and a spreadsheet that keeps answers asks again",
        {"type": "string", "maxLength": LONGEST_AGAIN},
    ),
)
