"""GET /v1/unit-price: a one-piece product or a sku by query parameters, for a spreadsheet."""

import csv
import io
from typing import Any

import msgspec
from litestar import Response
from msgspec import UNSET

from gramhour.contract.answer import PriceQuote, Quote
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour_service.http.asking import Asker
from gramhour_service.http.examples import ONE_PIECE
from gramhour_service.http.operation import (
    RATES_ON,
    RATES_REVISION,
    VIEW,
    Operation,
    Parameter,
    serves,
)
from gramhour_service.http.parameters import Parameters, by_parameter, whole_number
from gramhour_service.http.quoting import (
    BUYERS_MAY_SEND,
    NEEDS_COST,
    Wanted,
    quoted,
    view_of,
)
from gramhour_service.http.wire import (
    CSV,
    JSON,
    TEXT,
    Asked,
    answered,
    media_type_wanted,
    tag_of_body,
)

PIECE = ("product", "pieces", 0)
FEED = (*PIECE, "feed", 0)
PLACES: dict[str, tuple[str | int, ...]] = {
    "sku": ("sku",),
    "material": (*FEED, "material"),
    "mass_g": (*FEED, "mass_g"),
    "volume_cm3": (*FEED, "volume_cm3"),
    "length_m": (*FEED, "length_m"),
    "per_build_g": (*FEED, "per_build_g"),
    "machine": (*PIECE, "machine"),
    "nozzle": (*PIECE, "nozzle"),
    "print_min": (*PIECE, "print_min"),
    "per_build_min": (*PIECE, "per_build_min"),
    "pieces_per_build": (*PIECE, "pieces_per_build"),
    "order_min": ("product", "work", "order_min"),
    "build_min": ("product", "work", "build_min"),
    "unit_min": ("product", "work", "unit_min"),
    "reject_pct": ("product", "reject_pct"),
    "channel": ("channel",),
    "quantity": ("quantity",),
    "breaks": ("breaks",),
    "margin_pct": ("aim", "margin_pct"),
    "markup_pct": ("aim", "markup_pct"),
    "unit_price": ("aim", "unit_price"),
    "discount_pct": ("discount_pct",),
    "rates_revision": ("rates_revision",),
    "rates_on": ("rates_on",),
    "valid_days": ("valid_days",),
}
"""Where in a quote request each parameter stands."""

POINTERS = {
    **{pointer(*place): name for name, place in PLACES.items()},
    pointer(*FEED): "mass_g",
    pointer("aim"): "margin_pct",
}
WHOLE = frozenset({"quantity", "pieces_per_build", "rates_revision", "valid_days"})
COLUMNS = (
    "quantity",
    "unit_price",
    "unit_price_net",
    "order_goods",
    "order_postage",
    "order_net",
    "order_tax",
    "order_gross",
)
ENCODER = msgspec.json.Encoder()
CODE = {"type": "string", "pattern": "^[a-z0-9][a-z0-9-]{0,62}$"}
SKU = {"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9._~-]{0,63}$"}
AMOUNT = {"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?$"}
NUMBER = {"type": "integer", "minimum": 1, "maximum": 100_000}


def _parameter(name: str, says: str, schema: dict[str, Any] = AMOUNT) -> Parameter:
    return Parameter(name, says, schema, example=ONE_PIECE.get(name))


DESCRIBED = (
    _parameter("sku", "a listed product, instead of all that describes one", SKU),
    _parameter("material", "the filament", CODE),
    _parameter("mass_g", "grams of a full build; or volume_cm3, or length_m"),
    _parameter("volume_cm3", "cubic centimetres of a full build"),
    _parameter("length_m", "metres of filament of a full build"),
    _parameter("per_build_g", "grams of it that a build needs however full it is"),
    _parameter("machine", "the printer", CODE),
    _parameter("nozzle", "the nozzle", CODE),
    _parameter("print_min", "minutes of a full build"),
    _parameter("per_build_min", "minutes of it that a build needs however full it is"),
    _parameter("pieces_per_build", "pieces on a full build", {**NUMBER, "maximum": 1_000_000}),
    _parameter("order_min", "people's minutes, once an order"),
    _parameter("build_min", "people's minutes, each build"),
    _parameter("unit_min", "people's minutes, each unit"),
    _parameter("reject_pct", "units made again, in per cent"),
    _parameter("channel", "where it is sold", CODE),
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
    RATES_REVISION,
    RATES_ON,
    VIEW,
)


@serves(
    "GET",
    "/v1/unit-price",
    Operation(
        summary="One unit's price, for a spreadsheet's cell",
        says=(
            "A product of one piece and one filament, or a sku. As plain text, which is what you "
            "get unless you ask otherwise, it is one number: the shown price of a unit, with a "
            "decimal point. As CSV it is a row a quantity; as JSON the whole quote."
        ),
        scope="price",
        parameters=DESCRIBED,
        gives={TEXT: {"type": "string"}, CSV: {"type": "string"}, JSON: Quote | PriceQuote},
        refusals=("no-rates", "cannot-be-priced", "member-not-allowed", "not-listed"),
        is_conditional=True,
        cells=True,
    ),
)
async def unit_price(request: Asked) -> Response[bytes]:
    """Answer one cell."""
    shop, asker = request.app.state.shop, request.state.asker
    parameters = Parameters(request, (*PLACES, "view"))
    view = parameters.one_of("view", ("cost", "price"))
    media_type = media_type_wanted(request, (TEXT, CSV, JSON))
    if "sku" in parameters and media_type != JSON:
        view = "price"  # a cell shows what a buyer pays
    wanted = Wanted(asker, view_of(asker, view, explain=False))
    _check_given(parameters, asker)
    shop.count(asker, 1 if request.method == "GET" else 0)
    try:
        quote = quoted(shop, wanted, _request_of(parameters))
    except Refused as refused:
        raise parameters.with_faults_of(by_parameter(refused, POINTERS)) from None
    parameters.check()
    body = _written(quote, media_type)
    return answered(request, body, media_type, costs=wanted.view == "cost", tag=tag_of_body(body))


def _check_given(parameters: Parameters, asker: Asker) -> None:
    """Refuse what this caller may not send, and what says nothing beside a sku."""
    beyond = [name for name in PLACES if name in parameters and name not in BUYERS_MAY_SEND]
    if not asker.may_describe and "sku" not in parameters and not beyond:
        parameters.refuse("sku", "is missing: name a listing")
    if beyond and not asker.may_describe:
        raise Refused(
            "member-not-allowed", tuple(Fault(UNSET, NEEDS_COST, parameter=name) for name in beyond)
        )
    if "sku" in parameters:
        for name in beyond:
            parameters.refuse(name, "says nothing beside a sku, which is listed as it is")
    if "sku" in parameters or not asker.may_describe:
        parameters.check()


def _request_of(parameters: Parameters) -> dict[str, Any]:
    """Make a quote request of the parameters; what is missing or wrong is told by its reader."""
    by_sku = "sku" in parameters
    sent: dict[str, Any] = {} if by_sku else {"product": {"pieces": [{"feed": [{}]}]}}
    for name, place in PLACES.items():
        text = parameters.text(name)
        if text is not None:
            _put(sent, place, _value(name, text))
    return sent


def _value(name: str, text: str) -> Any:
    if name == "breaks":
        return [whole_number(each) for each in text.split(",")] if text else []
    return whole_number(text) if name in WHOLE else text


def _put(sent: Any, place: tuple[str | int, ...], value: Any) -> None:
    *way, last = place
    for step in way:
        sent = sent[step] if isinstance(step, int) else sent.setdefault(step, {})
    sent[last] = value


def _written(quote: Quote | PriceQuote, media_type: str) -> bytes:
    if media_type == JSON:
        return ENCODER.encode(quote)
    if media_type == TEXT:
        return str(quote.at_quantity.unit_price).encode()
    rows = {each.quantity: each for each in (quote.at_quantity, *quote.breaks)}
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for _, each in sorted(rows.items()):
        writer.writerow([getattr(each, column) for column in COLUMNS])
    return text.getvalue().encode()
