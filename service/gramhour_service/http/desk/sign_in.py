"""Who sits at the desk: a sign-in by cookie, for the desk's own routes and for nothing else.

The contract's routes never look at a cookie. The desk's do, and so each of them asks more than a
cookie of whoever would change something: that the browser says the request came from a page of
this service, and a token that stands in that page's form. The cookie goes to ``/desk`` only, is
out of scripts' reach, and is sent along by no other site.
"""

import hashlib
import hmac
import secrets
from datetime import datetime, timedelta
from typing import NamedTuple

from gramhour_service.http.asking import OPENS, Asker
from gramhour_service.http.problems import refused
from gramhour_service.http.shop import Shop
from gramhour_service.http.wire import Asked, address_asked
from gramhour_service.store.keys import AccessKey
from gramhour_service.store.sessions import SignIn, begin_sign_in, end_sign_in, find_sign_in

COOKIE = "gramhour-desk"
HOURS = 12
LONGEST_WORD = 100
READS = ("GET", "HEAD", "OPTIONS")
TOKEN = "form-token"  # noqa: S105 (a field's name)


class SignInNeeded(Exception):
    """Nobody is signed in; ``has_ended`` says whether somebody was."""

    def __init__(self, *, has_ended: bool) -> None:
        """Keep whether somebody was."""
        self.has_ended = has_ended
        super().__init__()


class AtDesk(NamedTuple):
    """Who is signed in, until when, and the token that their forms carry."""

    asker: Asker
    ends_at: datetime
    token: str

    def may(self, scope: str) -> bool:
        """Say whether something is open to them."""
        return scope in self.asker.scopes


def admit_at_desk(request: Asked) -> None:
    """Let in who is signed in. Raises ``SignInNeeded``, and ``Refused`` for other sites."""
    if request.method not in READS:
        check_origin(request)
    word = request.cookies.get(COOKIE, "")
    shop: Shop = request.app.state.shop
    found = _found(shop, word)
    if found is None or not found.is_good(shop.now()):
        raise SignInNeeded(has_ended=bool(word))
    asker = asker_of(found.key)
    if not asker.sees_costs:
        raise SignInNeeded(has_ended=True)
    request.state.asker = asker
    request.state.desk = AtDesk(asker, found.ends_at, token_of(word))


def check_origin(request: Asked) -> None:
    """Refuse a request that changes something and was not made by a page of this service.

    Browsers say where a request comes from, and no page can make them lie about it. One that says
    nothing is none that we know of, so it is refused as well. Raises ``Refused``.
    """
    site, origin = (request.headers.get(name) for name in ("sec-fetch-site", "origin"))
    ours = address_asked(request)
    if site is None:
        is_ours = origin == ours
    else:  # it tells the truth whatever a policy makes of the origin
        is_ours = site == "same-origin" and origin in (None, "null", ours)
    if not is_ours:
        raise refused("key-may-not", "this can be sent from a page of the desk only; open it there")


def check_token(desk: AtDesk, sent: str) -> None:
    """Refuse a form that no page of this sign-in holds. Raises ``Refused``."""
    if not hmac.compare_digest(sent.encode(), desk.token.encode()):
        detail = "this form belongs to another sign-in; open its page anew and send it again"
        raise refused("key-may-not", detail)


def token_of(word: str) -> str:
    """Make the token of a sign-in's forms: it cannot be turned back into the cookie."""
    return hashlib.sha256(b"form " + word.encode()).hexdigest()


def asker_of(key: AccessKey) -> Asker:
    """Say who asks with a key, and what is open to them."""
    scopes = frozenset[str]().union(*(OPENS[scope] for scope in key.scopes))
    return Asker("key", key.name, scopes, key.channels or None)


async def begin(shop: Shop, key: AccessKey) -> tuple[str, datetime]:
    """Begin a sign-in; say its word and when it ends: with its key, if that is sooner."""
    word, now = secrets.token_urlsafe(32), shop.now()
    ends_at = now + timedelta(hours=HOURS)
    if key.expires_at is not None:
        ends_at = min(ends_at, key.expires_at)
    await shop.write(lambda store: begin_sign_in(store, key, word, now, ends_at))
    return word, ends_at


async def end(shop: Shop, word: str) -> None:
    """End a sign-in."""
    if 0 < len(word) <= LONGEST_WORD:
        await shop.write(lambda store: end_sign_in(store, word))


def _found(shop: Shop, word: str) -> SignIn | None:
    if not 0 < len(word) <= LONGEST_WORD:
        return None
    return shop.read(lambda store: find_sign_in(store, word))
