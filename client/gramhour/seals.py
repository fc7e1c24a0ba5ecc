"""Verifies sealed prices without asking the service: with the keys that it publishes.

Needs the extra: ``pip install "gramhour[seals]"``. Whether a seal was recalled since, only the
service knows; a recall takes the keys of its time away, so read ``client.seal_keys()`` again from
time to time, and at once when a seal names a key that you do not know.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Final

import msgspec
from joserfc.jwk import OKPKey
from msgspec import UNSET

from gramhour.contract.seals import TYP, PublicKeys, SealedOffer
from gramhour.tokens import ALGORITHM, NotGenuine, UnknownKey, verified

OFFER: Final = msgspec.json.Decoder(SealedOffer)


class SealRefused(Exception):
    """A seal that does not count; ``status`` says why, in the words of the service.

    ``expired``, ``not_yet_valid``, ``not_genuine``; or ``unknown_key``: it names a key that is
    not among those given, so read them again, or ask the service.
    """

    def __init__(self, status: str) -> None:
        """Keep why it does not count."""
        super().__init__(status)
        self.status = status


class SealKeys:
    """The keys that verify seals, as they were published."""

    def __init__(self, told: PublicKeys) -> None:
        """Take those that can verify a seal; keys of other kinds are passed over."""
        self._keys: Mapping[str, OKPKey] = {
            key.kid: OKPKey.import_key({"kty": key.kty, "crv": key.crv, "x": key.x})
            for key in told.keys
            if (key.kty, key.crv, key.alg, key.use) == ("OKP", ALGORITHM, ALGORITHM, "sig")
        }

    def __contains__(self, kid: str) -> bool:
        return kid in self._keys

    def offer_in(self, seal: str, now: datetime, *, issuer: str | None = None) -> SealedOffer:
        """Give what a seal promises at a moment; from ``issuer`` only, if one is named.

        Raises ``SealRefused``.

        >>> keys = SealKeys(client.seal_keys())
        >>> (item,) = client.prices("own-shop", seal=True).items
        >>> offer = keys.offer_in(item.seal, now)
        >>> offer.sku, offer.unit_price(3)
        ('HP-1', Decimal('46.90'))
        >>> keys.offer_in(item.seal.replace(".", ".A"), now)
        Traceback (most recent call last):
        gramhour.seals.SealRefused: not_genuine
        """
        try:
            offer = OFFER.decode(verified(seal, TYP, self._keys))
        except UnknownKey:
            raise SealRefused("unknown_key") from None
        except (NotGenuine, msgspec.MsgspecError):
            raise SealRefused("not_genuine") from None
        moment = now.timestamp()
        if issuer is not None and offer.iss != issuer:
            raise SealRefused("not_genuine")
        if moment >= offer.exp:
            raise SealRefused("expired")
        if offer.nbf is not UNSET and moment < offer.nbf:
            raise SealRefused("not_yet_valid")
        return offer
