"""GET /v1/unit-price: a one-piece product or a sku by query parameters, for a spreadsheet."""

import csv
import io

import msgspec
from litestar import Response
from msgspec import UNSET

from gramhour.contract.answer import PriceQuote, Quote
from gramhour.contract.one_piece import PLACES, name_of_fault, one_piece_request
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.request import ListedRequest
from gramhour_service.http.asking import Asker
from gramhour_service.http.cells import ERRORS, IN_WORDS
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters, by_parameter
from gramhour_service.http.quoting import (
    NEEDS_COST,
    Wanted,
    quoted,
    unit_price_quoted,
    view_of,
)
from gramhour_service.http.unit_price_parameters import DESCRIBED, LONGEST_AGAIN
from gramhour_service.http.wire import (
    CSV,
    JSON,
    TEXT,
    Asked,
    answered,
    media_type_wanted,
    tag_of_body,
)

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
NO_RATES = (
    "this service has no rates yet; whoever keeps it imports some: gramhour rates import SHEET"
)


@serves(
    "GET",
    "/v1/unit-price",
    Operation(
        summary="One unit's price, for a spreadsheet's cell",
        says=(
            "A product of one piece and one filament, or a sku. As plain text, which is what you "
            "get unless you ask otherwise, it is one number: the shown price of a unit, with a "
            "decimal point, or a comma if you ask for one. As CSV it is a row a quantity; as JSON "
            "the whole quote. With errors=text a refusal in plain text is no problem but a 200 "
            "that says error: and why, since a cell sees nothing else. What is sent has decimal "
            "points in any case. HEAD and OPTIONS count against no limit."
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
    parameters = Parameters(request, (*PLACES, "view", "decimal", ERRORS, "again"))
    view = parameters.one_of("view", ("cost", "price"))
    media_type = media_type_wanted(request, (TEXT, CSV, JSON))
    point = _decimal_sign(parameters, media_type)
    if "sku" in parameters and media_type != JSON:
        view = "price"  # a cell shows what a buyer pays
    shown = view_of(asker, view, explain=False)
    wanted = Wanted(asker, shown, says_when=media_type == JSON)
    _check_given(parameters, asker)
    shop.count(asker, 1 if request.method == "GET" else 0)
    asked = one_piece_request(_told(parameters))
    if media_type == TEXT:
        asked.setdefault("breaks", [])  # one number is shown
    try:
        if media_type == TEXT:
            body = str(unit_price_quoted(shop, wanted, asked)).replace(".", point).encode()
        else:
            body = _written(quoted(shop, wanted, asked), media_type, point)
    except Refused as refused:
        if refused.type == "no-rates":  # which a cell cannot send
            raise Refused("no-rates", (Fault(UNSET, NO_RATES),)) from None
        raise parameters.with_faults_of(by_parameter(refused, name_of_fault)) from None
    parameters.check()
    return answered(request, body, media_type, costs=wanted.view == "cost", tag=tag_of_body(body))


BESIDE_A_SKU = ListedRequest.__struct_fields__
"""What a cell may say of a listed product, whoever asks."""


def _check_given(parameters: Parameters, asker: Asker) -> None:
    """Refuse what this caller may not send, and what says nothing beside a sku."""
    beyond = [name for name in PLACES if name in parameters and name not in BESIDE_A_SKU]
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


def _decimal_sign(parameters: Parameters, media_type: str) -> str:
    """Say what stands before the decimals, and look at what else is about the cell alone."""
    sign = parameters.one_of("decimal", ("point", "comma"))
    if sign == "comma" and media_type == JSON:
        parameters.refuse("decimal", "JSON has decimal points; leave this out")
    parameters.one_of(ERRORS, (IN_WORDS,))
    if len(parameters.text("again") or "") > LONGEST_AGAIN:
        parameters.refuse("again", f"must have at most {LONGEST_AGAIN} characters")
    return "," if sign == "comma" else "."


def _told(parameters: Parameters) -> dict[str, str]:
    told = {name: parameters.text(name) for name in PLACES}
    return {name: text for name, text in told.items() if text is not None}


def _written(quote: Quote | PriceQuote, media_type: str, point: str) -> bytes:
    if media_type == JSON:
        return ENCODER.encode(quote)
    rows = {each.quantity: each for each in (quote.at_quantity, *quote.breaks)}
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for _, each in sorted(rows.items()):
        amounts = (str(getattr(each, column)).replace(".", point) for column in COLUMNS)
        writer.writerow(amounts)
    return text.getvalue().encode()
