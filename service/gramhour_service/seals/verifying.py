"""Whether a seal that somebody shows counts. Of one that is not genuine nothing is said."""

from datetime import datetime

from msgspec import UNSET, MsgspecError, json

from gramhour.contract.seals import TYP, SealedOffer, SealVerdict
from gramhour_service.seals.standing import Standing
from gramhour_service.signing.tokens import NotGenuine, verified

OFFER = json.Decoder(SealedOffer)
NOT_GENUINE = SealVerdict(status="not_genuine")


def verdict(seal: str, standing: Standing, now: datetime) -> SealVerdict:
    """Say whether a seal counts at a moment, and what it promises; it ends on the second."""
    try:
        offer = OFFER.decode(verified(seal, TYP, standing.believed))
    except (NotGenuine, MsgspecError):
        return NOT_GENUINE
    return SealVerdict(status=_status(offer, standing, now.timestamp()), offer=offer)


def _status(offer: SealedOffer, standing: Standing, now: float) -> str:
    if offer.rates_revision in standing.recalled:
        return "recalled"
    if now >= offer.exp:
        return "expired"
    return "not_yet_valid" if offer.nbf is not UNSET and now < offer.nbf else "valid"
