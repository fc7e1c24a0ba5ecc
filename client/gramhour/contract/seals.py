"""Sealed prices: what a seal says, how one is asked about, and the keys to verify it without us.

A seal is a compact JWS (RFC 7515) of the kind ``gramhour-price+jws``; its payload is a
``SealedOffer``, whose short names are those registered for JWT (RFC 7519).
"""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Annotated, Literal

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.members import Answered, Sent, member, one_of

TYP = "gramhour-price+jws"
LONGEST_SEAL = 20_000

Holds = Literal["from", "at"]
Status = Literal["valid", "expired", "not_yet_valid", "recalled", "not_genuine"]


class SealedBreak(Answered, frozen=True, kw_only=True):
    """A unit price, as it is shown, and without tax."""

    quantity: int
    unit_price: Decimal
    unit_price_net: Decimal


class SealedOffer(Answered, frozen=True, kw_only=True):
    """What is promised to whoever shows the seal: these unit prices, until it expires.

    ``iss`` is who promises; ``iat`` and ``exp`` are when it was signed and when it ends, ``nbf``
    when it begins if that is later, all in seconds since 1970. It is for one of ``sku``,
    ``product`` (its name) and ``file_sha256``; of a file only as the ``service`` makes it in the
    ``material``. ``breaks`` hold ``from`` their quantity up to the next one, or ``at`` their
    quantity only.
    """

    iss: str
    iat: int
    nbf: int | UnsetType = UNSET
    exp: int
    sku: str | UnsetType = UNSET
    product: str | UnsetType = UNSET
    file_sha256: str | UnsetType = UNSET
    service: str | UnsetType = UNSET
    material: str | UnsetType = UNSET
    channel: str
    currency: str
    prices_include_tax: bool
    breaks_hold: Annotated[str, one_of(Holds)]
    breaks: list[SealedBreak]
    rules: str
    rates_revision: int
    rates_on: date

    @property
    def expires_at(self) -> datetime:
        """The first moment at which it is no promise any more."""
        return datetime.fromtimestamp(self.exp, UTC)

    def unit_price(self, quantity: int) -> Decimal | None:
        """Find the promised price of a unit; none where that quantity is not promised."""
        holds_on = self.breaks_hold == "from"
        reached = [
            each
            for each in self.breaks
            if each.quantity == quantity or (holds_on and each.quantity < quantity)
        ]
        return max(reached, key=lambda each: each.quantity).unit_price if reached else None


class SealShown(Sent, frozen=True, kw_only=True):
    """A seal that somebody shows."""

    seal: Annotated[str, member("as it was given"), Meta(max_length=LONGEST_SEAL)]


class SealVerdict(Answered, frozen=True, kw_only=True):
    """Whether a seal counts, and the offer that it holds; nothing of one that is not genuine."""

    status: Annotated[str, one_of(Status)]
    offer: SealedOffer | UnsetType = UNSET


class PublicKey(Answered, frozen=True, kw_only=True):
    """A key that verifies seals (RFC 8037)."""

    kty: str
    crv: str
    x: str
    use: str
    alg: str
    kid: str


class PublicKeys(Answered, frozen=True, kw_only=True):
    """The keys that verify seals: a JWK Set (RFC 7517)."""

    keys: list[PublicKey]
