"""What is promised: a listed price as it was applied, or a quote that anybody would have got."""

from datetime import date, datetime, time, timedelta
from typing import Any, Final, NamedTuple

from msgspec import UNSET, UnsetType, json

from gramhour.contract.answer import Quote
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.rates import RateSheet
from gramhour.contract.request import QuoteRequest
from gramhour.contract.seals import TYP, SealedBreak, SealedOffer
from gramhour_service.listings.told import breaks_listed
from gramhour_service.resolve.days import day_at, end_of_validity, time_zone_of
from gramhour_service.resolve.members import defaults_of
from gramhour_service.seals.standing import MOST_DAYS, Standing
from gramhour_service.signing.tokens import signed
from gramhour_service.store.prices import PriceChange

DAYS_LISTED: Final = 21
"""For so many days a listed price is promised when it is signed."""
SECOND: Final = timedelta(seconds=1)

NOT_THE_SHOPS: Final = (
    "aim",
    "discount_pct",
    "rates",
    "rate_overrides",
    "rates_revision",
    "rates_on",
)
LEAVE_IT_OUT: Final = (
    "a sealed price is the shop's own, by its rates in force and its channel's policy; "
    "leave this out, or ask without seal"
)
NO_KEY: Final = "there is no key to sign with yet; ask again"


class ListedBy(NamedTuple):
    """The rates that a listed price came from, or was last confirmed by."""

    revision: int
    on: str
    sheet: RateSheet


def listed_offer(
    price: PriceChange, by: ListedBy, issuer: str, now: datetime, today: RateSheet
) -> SealedOffer:
    """Promise a listed price from its day on; the days are those of today's shop."""
    begins = date.fromisoformat(price.effective_from)
    starts_at = datetime.combine(begins, time.min, tzinfo=time_zone_of(today))
    return SealedOffer(
        iss=issuer,
        iat=int(now.timestamp()),
        nbf=int(starts_at.timestamp()) if starts_at > now else UNSET,
        exp=end_after(max(begins, day_at(now, today)), DAYS_LISTED, today),
        sku=price.sku,
        channel=price.channel,
        currency=by.sheet.currency,
        prices_include_tax=_includes_tax(by.sheet, price.channel),
        breaks_hold="from",
        breaks=[
            SealedBreak(
                quantity=each.from_quantity,
                unit_price=each.unit_price,
                unit_price_net=each.unit_price_net,
            )
            for each in breaks_listed(price)
        ],
        rules=price.rules,
        rates_revision=by.revision,
        rates_on=date.fromisoformat(by.on),
    )


def quoted_offer(
    request: QuoteRequest,
    sheet: RateSheet | None,
    quote: Quote,
    standing: Standing,
    now: datetime,
    **what: str,
) -> SealedOffer:
    """Promise a quote, at its own quantities only; ``what`` says for what, if not for a product.

    Raises ``Refused`` with every reason why it is no offer of the shop's.
    """
    faults = _why_not(request, standing, quote.rates_revision, is_named=bool(what))
    if faults:
        raise Refused("cannot-be-sealed", tuple(faults))
    assert sheet is not None, "without rates of its own it is by the stored sheet"
    assert quote.valid_until is not UNSET, "a quote by stored rates has its end"
    assert quote.rates_revision is not UNSET, "and its revision"
    assert quote.rates_on is not UNSET, "and its day"
    assert standing.issuer is not None, "there is a key, so there is a name"
    name = request.product.name
    for_what: dict[str, Any] = what or {"product": name}
    by_quantity = {each.quantity: each for each in (quote.at_quantity, *quote.breaks)}
    return SealedOffer(
        iss=standing.issuer,
        iat=int(now.timestamp()),
        exp=int((quote.valid_until + SECOND).timestamp()),
        channel=request.channel,
        currency=quote.currency,
        prices_include_tax=_includes_tax(sheet, request.channel),
        breaks_hold="at",
        breaks=[
            SealedBreak(
                quantity=quantity,
                unit_price=each.unit_price,
                unit_price_net=each.unit_price_net,
            )
            for quantity, each in sorted(by_quantity.items())
        ],
        rules=quote.rules,
        rates_revision=quote.rates_revision,
        rates_on=quote.rates_on,
        **for_what,
    )


def sealed(offer: SealedOffer, standing: Standing) -> str:
    """Sign an offer. Raises ``Refused`` while there is no key."""
    key = standing.signs
    if key is None:
        raise Refused("cannot-be-sealed", (Fault(UNSET, NO_KEY),))
    return signed(json.encode(offer), TYP, key)


def end_after(day: date, days: int, sheet: RateSheet) -> int:
    """Say, in seconds since 1970, when a day of the shop's so many days later is over."""
    return int((end_of_validity(day, days, sheet) + SECOND).timestamp())


def overrides_in(sent: dict[str, Any]) -> list[Fault]:
    """Refuse, by name, what would make a sealed price another than the shop's own."""
    return [Fault(pointer(name), LEAVE_IT_OUT) for name in NOT_THE_SHOPS if name in sent]


def recalled_fault(revision: int) -> Fault:
    """Say why nothing is sealed by a revision."""
    return Fault(
        UNSET,
        f"seals by revision {revision} of the rates were recalled; save right rates, then ask "
        "again (of what is listed: reprice all, and apply)",
    )


def _why_not(
    request: QuoteRequest, standing: Standing, revision: int | UnsetType, *, is_named: bool
) -> list[Fault]:
    sent = {name: True for name in NOT_THE_SHOPS if getattr(request, name) is not UNSET}
    faults = overrides_in(sent)
    if request.product.name is UNSET and not is_named:
        detail = "is missing: a seal says by this name what it is for"
        faults.append(Fault("/product/name", detail))
    days = request.valid_days
    if days is not UNSET and days > MOST_DAYS:
        faults.append(Fault("/valid_days", f"a sealed price holds for at most {MOST_DAYS} days"))
    if not faults and isinstance(revision, int) and revision in standing.recalled:
        faults.append(recalled_fault(revision))
    return faults


def _includes_tax(sheet: RateSheet, channel: str) -> bool:
    assert sheet.channels is not UNSET, "the channel is one of them"
    return sheet.channels[channel].prices_include_tax


def usual_days() -> int:
    """Say for how many days a quote holds that says nothing of it."""
    days: int = defaults_of(QuoteRequest)["valid_days"]
    return days
