"""GET /v1/prices: what is for sale on a channel, for a storefront that follows the changes."""

from typing import NamedTuple

import msgspec
from litestar import Response
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.prices import Prices
from gramhour_service.http.asking import Asker
from gramhour_service.http.entries import CURSOR, LIMIT, page_asked
from gramhour_service.http.operation import Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters, whole_number
from gramhour_service.http.problems import refused
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import JSON, Asked, answered, media_type_wanted, tag_of_body
from gramhour_service.listings.told import told_item
from gramhour_service.sheets.in_force import Pinned
from gramhour_service.store.prices import Feed, newest_change, prices_of_channel

ENCODER = msgspec.json.Encoder()
CHANNEL = Parameter(
    "channel",
    "where; may be left out with a key of one channel",
    {"type": "string", "pattern": "^[a-z0-9][a-z0-9-]{0,62}$"},
    example="own-shop",
)
SINCE = Parameter(
    "changed_since",
    "only what changed after this `change`; prices withdrawn since have no breaks",
    {"type": "integer", "minimum": 0, "maximum": 999_999_999},
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
        parameters=(CHANNEL, SINCE, LIMIT, CURSOR),
        gives={JSON: Prices},
        refusals=("unknown-entry", "no-rates"),
        is_conditional=True,
    ),
)
async def prices(request: Asked) -> Response[bytes]:
    """List the prices of a channel."""
    shop: Shop = request.app.state.shop
    asker: Asker = request.state.asker
    parameters = Parameters(request, ("channel", "changed_since", "limit", "cursor"))
    page, since = page_asked(parameters), parameters.whole_or_nothing("changed_since")
    if since and asker.door == "public":
        parameters.refuse("changed_since", "needs a key: without one there are today's prices only")
    place = _place(parameters, page.after) if page.after else Place(since or 0, None)
    found, channel = _on_channel(shop, asker, parameters)
    parameters.check()
    media_type = media_type_wanted(request, (JSON,))
    shop.count(asker)
    sheet = found.in_force.sheet

    def work(store: Database) -> Prices:
        newest = newest_change(store) if place.up_to is None else place.up_to
        feed = Feed(
            channel=channel,
            since=place.after,
            up_to=newest,
            on=found.on,
            planned=asker.door != "public",
            withdrawn=bool(since),
        )
        rows = prices_of_channel(store, feed, page.limit + 1)
        items = [told_item(store, row) for row in rows[: page.limit]]
        assert sheet.channels is not UNSET, "the channel is one of them"
        return Prices(
            channel=channel,
            currency=sheet.currency,
            prices_include_tax=sheet.channels[channel].prices_include_tax,
            change=newest,
            items=items,
            next_cursor=f"{items[-1].change}.{newest}" if len(rows) > page.limit else UNSET,
        )

    body = ENCODER.encode(shop.read(work))
    return answered(request, body, media_type, costs=False, tag=tag_of_body(body))


class Place(NamedTuple):
    """Where a page begins, and the newest change that all pages of one reading go up to.

    What changes while they are read comes after it: ``changed_since`` tells it, withdrawals too.
    """

    after: int
    up_to: int | None


def _place(parameters: Parameters, cursor: str) -> Place:
    after, _, up_to = cursor.partition(".")
    found = whole_number(after), whole_number(up_to)
    if not all(isinstance(number, int) for number in found):
        parameters.refuse("cursor", "is none of ours; send the next_cursor of the page before")
        return Place(0, None)
    return Place(*found)


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
        raise refused("unknown-entry", "no such channel is open to you")
    return found, named
