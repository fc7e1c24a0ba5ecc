"""GET /v1/comparisons/{name}: how far a comparison is that was too large to be answered at once."""

import msgspec
from litestar import Response
from litestar.params import FromPath
from sqlite_utils import Database

from gramhour.contract.compared import ComparisonRun
from gramhour_service.comparing.running import told_run
from gramhour_service.http.asking import Asker
from gramhour_service.http.entries import read_store
from gramhour_service.http.operation import Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.wire import JSON, Asked, answered, media_type_wanted, tag_of_body
from gramhour_service.store.comparisons import comparison_of

ROUTE = "/v1/comparisons/{name:str}"
ENCODER = msgspec.json.Encoder()
NAME = Parameter(
    "name",
    "the comparison",
    {"type": "string", "pattern": "^[0-9a-f]{16}$"},
    place="path",
    required=True,
    example="0123456789abcdef",
)


@serves(
    "GET",
    ROUTE,
    Operation(
        summary="One comparison",
        says="How far a large comparison is, or what came of it. It is kept for a day.",
        scope="cost",
        parameters=(NAME,),
        gives={JSON: ComparisonRun},
        refusals=("unknown-entry", "no-rates"),
        is_conditional=True,
    ),
)
async def comparison(request: Asked, name: FromPath[str]) -> Response[bytes]:
    """Answer one comparison."""
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    asker: Asker = request.state.asker
    body = ENCODER.encode(read_store(request, lambda store: one_told(store, asker, name)))
    return answered(request, body, media_type, costs=True, tag=tag_of_body(body))


def one_told(store: Database, asker: Asker, name: str) -> ComparisonRun:
    """Tell a comparison. Raises ``Refused`` if there is none such on the caller's channels."""
    row = comparison_of(store, name)
    if row is None or (asker.channels is not None and row.channel not in asker.channels):
        raise refused("unknown-entry", "there is no such comparison; they are kept for a day")
    return told_run(store, row)
