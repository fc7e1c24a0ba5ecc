"""Keys to sign with: made, written down for the store, and told to the world without the secret.

A key's id is its thumbprint (RFC 7638), so that nobody can give a key the id of another.
"""

from functools import lru_cache
from typing import Final

from joserfc.jwk import OKPKey
from msgspec import json

from gramhour.tokens import ALGORITHM

PRIVATE_MEMBER: Final = "d"


def made_key() -> OKPKey:
    """Make a key from the system's random source."""
    return OKPKey.generate_key(ALGORITHM, auto_kid=True)


def id_of(key: OKPKey) -> str:
    """Name a key by its thumbprint."""
    return key.thumbprint()


def secret_text(key: OKPKey) -> str:
    """Write a key down with its secret, for the store and nowhere else."""
    return json.encode(key.as_dict(private=True)).decode()


@lru_cache(maxsize=64)
def read_key(text: str) -> OKPKey:
    """Read a key as it was written down, with or without its secret."""
    return OKPKey.import_key(json.decode(text, type=dict[str, str | list[str]]))


def public_member(key: OKPKey) -> dict[str, str]:
    """Tell a key without its secret, as a member of a JWK Set (RFC 7517)."""
    told = key.as_dict(private=False)
    assert PRIVATE_MEMBER not in told, "the secret stays here"
    return {
        "kty": "OKP",
        "crv": ALGORITHM,
        "x": str(told["x"]),
        "use": "sig",
        "alg": ALGORITHM,
        "kid": id_of(key),
    }
