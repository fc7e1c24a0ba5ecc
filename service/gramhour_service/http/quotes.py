"""POST /v1/quotes: a product and a quantity, priced."""

import msgspec
from litestar import Response

from gramhour.contract.answer import PriceQuote, Quote
from gramhour.contract.request import ListedRequest, MeasuredRequest, QuoteRequest
from gramhour_service.http.examples import HERB_PLANTER
from gramhour_service.http.operation import EXPLAIN, VIEW, Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.quoting import Wanted, quoted, view_of, workbook_quoted
from gramhour_service.http.sealing import is_asked, make_ready
from gramhour_service.http.wire import (
    JSON,
    ODS,
    TOML,
    Asked,
    answered,
    document_sent,
    media_type_wanted,
)
from gramhour_service.http.work import computed

ENCODER = msgspec.json.Encoder()
FORMS = {"cost": (JSON, ODS), "price": (JSON,)}
A_FILE = {"Content-Disposition": 'attachment; filename="quote.ods"'}


@serves(
    "POST",
    "/v1/quotes",
    Operation(
        summary="Quote a product",
        says=(
            "What one unit costs and what to ask for it, at the quantity asked and at each break. "
            "The view follows the key's scope: with `cost` everything, with `price` what a "
            "customer may see. A key with scope `price` asks by `sku`, or sends a `measurement` "
            "with a `service` and one of its materials; whoever may describe a product of their "
            "own can compute the shop's costs from the answers. `seal` signs the prices as a "
            "promise to whoever shows it, until it expires. In the cost view the answer can also "
            "be a workbook (OpenDocument): its cells are formulas, which go on calculating with "
            "no service near."
        ),
        scope="price",
        parameters=(VIEW, EXPLAIN),
        takes=dict.fromkeys((JSON, TOML), QuoteRequest | ListedRequest | MeasuredRequest),
        gives={JSON: Quote | PriceQuote, ODS: {}},
        refusals=(
            "no-rates",
            "cannot-be-priced",
            "cannot-be-sealed",
            "member-not-allowed",
            "not-listed",
        ),
        examples={"a herb planter": HERB_PLANTER},
    ),
)
async def quotes(request: Asked) -> Response[bytes]:
    """Answer one quote request."""
    shop, asker = request.app.state.shop, request.state.asker
    parameters = Parameters(request, ("view", "explain"))
    view, explain = parameters.one_of("view", ("cost", "price")), parameters.flag("explain")
    parameters.check()
    wanted = Wanted(asker, view_of(asker, view, explain=explain), explain)
    media_type = media_type_wanted(request, FORMS[wanted.view])
    shop.count(asker)
    sent = await document_sent(request)
    if media_type == ODS:
        at_once = request.app.state.computing
        body = await computed(sent, lambda: workbook_quoted(shop, wanted, sent), at_once)
        return answered(request, body, media_type, costs=True, headers=A_FILE)
    if is_asked(sent):
        await make_ready(shop)
    at_once = request.app.state.computing
    body = await computed(sent, lambda: ENCODER.encode(quoted(shop, wanted, sent)), at_once)
    return answered(request, body, media_type, costs=wanted.view == "cost")
