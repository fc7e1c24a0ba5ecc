"""The calls about sealed prices, for both clients."""

import msgspec

from gramhour.calls import Call
from gramhour.contract.seals import PublicKeys, SealVerdict


def verify_seal(seal: str) -> Call[SealVerdict]:
    """Ask whether a seal counts."""
    return Call(
        method="POST",
        path="/v1/seals/verify",
        body=msgspec.json.encode({"seal": seal}),
        decode=msgspec.json.Decoder(SealVerdict).decode,
    )


def seal_keys() -> Call[PublicKeys]:
    """Ask for the keys that verify seals."""
    return Call(
        method="GET",
        path="/.well-known/jwks.json",
        decode=msgspec.json.Decoder(PublicKeys).decode,
    )
