"""A measured part as a signed token: what a quote needs to know of a file that nobody kept.

Whoever holds the token can read it. It says of the shop how much is laid down for the part, which
a scale tells too, and nothing of its rates: a profile stands in it by a digest of what laid it.
"""

import hashlib
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Final

import msgspec
from joserfc.jwk import OKPKey
from msgspec import Struct

from gramhour.contract.problem import Fault, Refused
from gramhour_service.measuring.estimate import Laid
from gramhour_service.measuring.profile import Profile
from gramhour_service.measuring.size import Box, Measured
from gramhour_service.signing.tokens import NotGenuine, signed, verified

TYP: Final = "gramhour-measurement+jws"
DAYS: Final = 30
HEX_DIGITS: Final = 32
NOT_OURS: Final = (
    "is no measurement that was signed here, or it was changed since: measure the file again"
)
EXPIRED: Final = f"is older than {DAYS} days: measure the file again"


class Part(Struct, frozen=True, kw_only=True):
    """What was measured; ``laid`` is what is laid down for one piece, by digests of profiles."""

    iat: int
    exp: int
    digest: str
    box: Box
    watertight: bool
    laid: dict[str, Laid]

    @property
    def valid_until(self) -> datetime:
        """The last moment at which it can be quoted."""
        return datetime.fromtimestamp(self.exp, UTC)


def part_of(
    digest: str, measured: Measured, laid: Mapping[Profile, Laid | None], now: datetime
) -> Part:
    """Put together what was measured."""
    return Part(
        iat=int(now.timestamp()),
        exp=int((now + timedelta(days=DAYS)).timestamp()),
        digest=digest,
        box=measured.box,
        watertight=measured.watertight,
        laid={digest_of(by): each for by, each in laid.items() if each is not None},
    )


def digest_of(profile: Profile) -> str:
    """Digest how layers are laid; speed and changes of layers lay nothing down."""
    lays = [
        f"{Decimal(each).normalize():f}"
        for each in (
            profile.layer_mm,
            profile.bead_width_mm,
            profile.outlines,
            profile.solid_layers,
            profile.fill_pct,
            profile.support_angle_deg,
        )
    ]
    return hashlib.sha256(" ".join(lays).encode()).hexdigest()[:HEX_DIGITS]


def signed_part(part: Part, key: OKPKey) -> str:
    """Sign a part."""
    return signed(msgspec.json.encode(part), TYP, key)


def part_shown(token: str, keys: Mapping[str, OKPKey], now: datetime) -> Part:
    """Read a part that somebody shows.

    Raises ``Refused`` for one that was not signed here, was changed, or has expired.
    """
    try:
        part = msgspec.json.decode(verified(token, TYP, keys), type=Part)
    except NotGenuine:
        raise Refused("invalid-request", (Fault("/measurement", NOT_OURS),)) from None
    if now.timestamp() >= part.exp:
        raise Refused("invalid-request", (Fault("/measurement", EXPIRED),))
    return part
