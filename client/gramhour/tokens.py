"""Signed tokens, read strictly: compact JWS (RFC 7515) with Ed25519, of one kind each (``typ``).

What the service signs has exactly three members in its header: the algorithm, the key's id and
the kind. So another algorithm, ``none``, a key that the token brings along (``jwk``, ``jku``,
``x5c``), ``crit`` and ``b64`` are all refused in the same way: they are not what is signed.

Needs the extra ``gramhour[seals]``; nothing else of the client imports this.
"""

import re
from collections.abc import Mapping
from typing import Final

from joserfc import jws
from joserfc.errors import JoseError
from joserfc.jwk import OKPKey

ALGORITHM: Final = "Ed25519"
"""As RFC 9864 names it; RFC 8037's name, EdDSA, leaves the curve open."""
FORM: Final = re.compile(r"[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]{85}[AQgw]")
"""Three parts of base64url. A signature is 64 bytes: its last letter carries two bits."""
LONGEST: Final = 100_000
REGISTRY: Final = jws.JWSRegistry(algorithms=[ALGORITHM])


class NotGenuine(Exception):
    """It was not signed as what it is shown as, or it was changed since."""


class UnknownKey(NotGenuine):
    """It names a key that is not among those given: they may be old, or it is not genuine."""


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
    if not isinstance(kid, str) or header != {"alg": ALGORITHM, "kid": kid, "typ": typ}:
        raise NotGenuine
    if kid not in keys:
        raise UnknownKey
    return keys[kid]
