"""POST /v1/seals/verify, and GET /.well-known/jwks.json: whether a seal counts, and who can tell.

Both are open to all: what a seal says, whoever shows it can read already.
"""

from typing import Any

import msgspec
from litestar import Response

from gramhour.contract.reading import read_seal_shown
from gramhour.contract.seals import PublicKeys, SealShown, SealVerdict
from gramhour_service.http.operation import Operation, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import (
    JSON,
    Asked,
    answered,
    document_sent,
    media_type_wanted,
    tag_of_body,
)
from gramhour_service.seals.standing import standing, told_keys
from gramhour_service.seals.verifying import NOT_GENUINE, verdict

ENCODER = msgspec.json.Encoder()
JWK_SET = "application/jwk-set+json"
KEPT_BY_ALL = "public, max-age=300"
"""A recall is known to all within five minutes; a new key to who meets it, by asking again."""


@serves(
    "POST",
    "/v1/seals/verify",
    Operation(
        summary="Say whether a sealed price counts",
        says=(
            "`valid`, `expired`, `not_yet_valid` (a planned price) or `recalled`, with the offer "
            "that the seal holds; or `not_genuine`, which says nothing of it. A seal is a promise "
            "to whoever shows it."
        ),
        scope=None,
        takes={JSON: SealShown},
        gives={JSON: SealVerdict},
        refusals=("store-unavailable", "store-busy"),
        examples={"none of ours": {"seal": "eyJhbGciOiJub25lIn0.e30."}},
    ),
)
async def verify(request: Asked) -> Response[bytes]:
    """Answer whether a seal counts."""
    shop: Shop = request.app.state.shop
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JSON,))
    shown = read_seal_shown(await document_sent(request, (JSON,)))
    found = shop.read(standing)
    told = NOT_GENUINE if found is None else verdict(shown.seal, found, shop.now())
    return answered(request, ENCODER.encode(told), media_type, costs=True)


@serves(
    "GET",
    "/.well-known/jwks.json",
    Operation(
        summary="The keys that verify seals",
        says=(
            "A JWK Set (RFC 7517) of Ed25519 keys (RFC 8037): with them a storefront verifies "
            "seals without asking. The key that signs comes first; those before it stay until "
            "what they signed has expired, unless seals were recalled."
        ),
        scope=None,
        gives={JWK_SET: PublicKeys, JSON: PublicKeys},
        refusals=("store-unavailable", "store-busy"),
        is_conditional=True,
    ),
)
async def jwks(request: Asked) -> Response[bytes]:
    """Tell the public keys."""
    shop: Shop = request.app.state.shop
    Parameters(request, ()).check()
    media_type = media_type_wanted(request, (JWK_SET, JSON))
    found = shop.read(standing)
    keys: list[dict[str, Any]] = [] if found is None else [*told_keys(found, shop.now())]
    body = ENCODER.encode({"keys": keys})
    headers = {"Cache-Control": KEPT_BY_ALL, "Vary": "Accept"}
    tag = tag_of_body(media_type.encode() + body)
    return answered(request, body, media_type, costs=False, tag=tag, headers=headers)
