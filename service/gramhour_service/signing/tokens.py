"""Signed tokens: compact JWS of one kind each, told apart by ``typ``.

What is ours has exactly three members in its header: the algorithm, the key's id and the kind.
So another algorithm, ``none``, a key that the token brings along (``jwk``, ``jku``, ``x5c``),
``crit`` and ``b64`` are all refused in the same way: they are not what we sign.
"""

import re
from collections.abc import Mapping
from typing import Final

from joserfc import jws
from joserfc.errors import JoseError
from joserfc.jwk import OKPKey

from gramhour_service.signing.keys import ALGORITHM, id_of

FORM: Final = re.compile(r"[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]{85}[AQgw]")
"""Three parts of base64url. A signature is 64 bytes: its last letter carries two bits."""
LONGEST: Final = 100_000

REGISTRY: Final = jws.JWSRegistry(algorithms=[ALGORITHM])


class NotGenuine(Exception):
    """It was not signed here as what it is shown as, or it was changed since."""


def signed(payload: bytes, typ: str, key: OKPKey) -> str:
    """Sign bytes as a token of a kind, such as ``gramhour-price+jws``."""
    header = {"alg": ALGORITHM, "kid": id_of(key), "typ": typ}
    return jws.serialize_compact(header, payload, key, registry=REGISTRY)


def verified(token: str, typ: str, keys: Mapping[str, OKPKey]) -> bytes:
    """Give what was signed as a token of a kind by one of the keys, by their ids.

    Raises ``NotGenuine``, which does not say why: who forges learns nothing.
    """
    if len(token) > LONGEST or not FORM.fullmatch(token):
        raise NotGenuine
    try:
        found = jws.extract_compact(token.encode(), registry=REGISTRY)
        key = _key_of(found.headers(), typ, keys)
        is_good = jws.validate_compact(found, key, registry=REGISTRY)
    except (JoseError, ValueError, RecursionError):
        raise NotGenuine from None
    if not is_good:
        raise NotGenuine
    return found.payload


def _key_of(header: object, typ: str, keys: Mapping[str, OKPKey]) -> OKPKey:
    kid = header.get("kid") if isinstance(header, dict) else None
    key = keys.get(kid) if isinstance(kid, str) else None
    if key is None or header != {"alg": ALGORITHM, "kid": kid, "typ": typ}:
        raise NotGenuine
    return key
