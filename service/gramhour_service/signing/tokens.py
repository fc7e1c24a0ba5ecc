"""Signed tokens: compact JWS of one kind each, told apart by ``typ``; read as clients do."""

from joserfc import jws
from joserfc.jwk import OKPKey

from gramhour.tokens import ALGORITHM, LONGEST, REGISTRY, NotGenuine, verified
from gramhour_service.signing.keys import id_of

__all__ = ["LONGEST", "NotGenuine", "signed", "verified"]


def signed(payload: bytes, typ: str, key: OKPKey) -> str:
    """Sign bytes as a token of a kind, such as ``gramhour-price+jws``."""
    header = {"alg": ALGORITHM, "kid": id_of(key), "typ": typ}
    return jws.serialize_compact(header, payload, key, registry=REGISTRY)
