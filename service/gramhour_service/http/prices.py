"""GET /v1/prices: what is for sale on a channel, for a storefront that follows the changes."""

from typing import NamedTuple

import msgspec
from litestar import Response
from msgspec import UNSET
from msgspec.structs import replace
from sqlite_utils import Database

from gramhour.contract.noting import meant
from gramhour.contract.one_piece import whole_number
from gramhour.contract.prices import Prices
from gramhour.contract.problem import Fault, Refused
from gramhour_service.http.asking import Asker
from gramhour_service.http.entries import CURSOR, LIMIT, page_asked
from gramhour_service.http.operation import BOOLEAN, CODE_TEXT, Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.sealing import with_seals
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import JSON, Asked, answered, media_type_wanted, tag_of_body
from gramhour_service.listings.selling import Selling, changed, for_sale, prices_told
from gramhour_service.sheets.in_force import Pinned
from gramhour_service.store.prices import newest_told

ENCODER = msgspec.json.Encoder()
CHANNEL = Parameter(
    "channel",
    "where; may be left out with a key of one channel",
    CODE_TEXT,
    example="own-shop",
)
SINCE = Parameter(
    "changed_since",
    "only what changed after this `change`; prices withdrawn since have no breaks",
    {"type": "integer", "minimum": 0, "maximum": 999_999_999},
)
SEAL = Parameter(
    "seal",
    "each with its seal, signed when it was applied; none where its rates were recalled",
    BOOLEAN,
)


@serves(
    "GET",
    "/v1/prices",
    Operation(
        summary="What is for sale on a channel",
        says=(
            "Each sku with its listed prices by quantity, today's and (with a key) those planned: "
            "`valid_from` says from when. `change` only grows; send the one of the answer as "
            "`changed_since` to get what came after. It is never computed anew."
        ),
        scope="price",
        parameters=(CHANNEL, SINCE, SEAL, LIMIT, CURSOR),
        gives={JSON: Prices},
        refusals=("unknown-entry", "no-rates"),
        is_conditional=True,
    ),
)
async def prices(request: Asked) -> Response[bytes]:
    """List the prices of a channel."""
    shop: Shop = request.app.state.shop
    asker: Asker = request.state.asker
    known = ("channel", "changed_since", "seal", "limit", "cursor")
    parameters = Parameters(request, known)
    is_sealed = parameters.flag("seal")
    page, since = page_asked(parameters), parameters.whole_or_nothing("changed_since")
    if since and asker.door == "public":
        parameters.refuse("changed_since", "needs a key: without one there are today's prices only")
    place = _place(parameters, page.after)
    found, channel = _on_channel(shop, asker, parameters)
    parameters.check()
    media_type = media_type_wanted(request, (JSON,))
    shop.count(asker)
    sheet = found.in_force.sheet

    def work(store: Database) -> Prices:
        asked = Selling(channel, found.on, planned=asker.door != "public")
        newest = (
            newest_told(store, channel, found.on, planned=asked.planned)
            if place is None
            else place.newest
        )
        after = "" if place is None else place.after
        if since:
            told = changed(store, asked, int(after or since), newest, page.limit)
        else:
            told = for_sale(store, asked, after, page.limit)
        return prices_told(sheet, asked, newest, told)

    told = shop.read(work)
    if told is not None and is_sealed:
        told = replace(told, items=await with_seals(shop, told.items))
    body = ENCODER.encode(told)
    return answered(request, body, media_type, costs=False, tag=tag_of_body(body))


class Place(NamedTuple):
    """Where a page begins, and the newest change when the first page was read.

    What changes while pages are read comes after it: ``changed_since`` tells it, withdrawals too.
    """

    newest: int
    after: str


def _place(parameters: Parameters, cursor: str) -> Place | None:
    if not cursor:
        return None
    newest, _, after = cursor.partition(".")
    number = whole_number(newest)
    if not isinstance(number, int) or not after:
        parameters.refuse("cursor", "is none of ours; send the next_cursor of the page before")
        return None
    if "changed_since" in parameters and not isinstance(whole_number(after), int):
        parameters.refuse("cursor", "is none of ours; send the next_cursor of the page before")
        return None
    return Place(number, after)


def _on_channel(shop: Shop, asker: Asker, parameters: Parameters) -> tuple[Pinned, str]:
    """Find the channel that is asked for, and today's sheet, which has it. Raises ``Refused``."""
    named = parameters.code("channel")
    if named is None and asker.channels is not None and len(asker.channels) == 1:
        (named,) = asker.channels
    if named is None:
        if "channel" not in parameters:
            parameters.refuse("channel", "is missing: name the channel")
        parameters.check()
    found = shop.pinned_today()
    if found is None:
        raise refused("no-rates", "no rates are in force yet")
    channels = found.in_force.sheet.channels
    is_open = asker.channels is None or named in asker.channels
    if named is None or not is_open or channels is UNSET or named not in channels:
        detail = "no such channel is open to you"
        if asker.sees_costs and asker.channels is None:
            detail += meant(named or "", () if channels is UNSET else channels)
        place = "channel" if "channel" in parameters else UNSET
        raise Refused("unknown-entry", (Fault(UNSET, detail, parameter=place),))
    return found, named
