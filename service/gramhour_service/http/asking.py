"""Who asks, and what they may: one function that every route passes through.

A key opens its scopes. Without one, two doors can be opened when the service is started: public
quoting (prices of public channels), and this machine's own spreadsheet cells. A cell's prices
let whoever reads many of them compute the shop's rates, so that door is for the maker alone:
behind a proxy, or for a web page in the maker's browser, every caller would look like this
machine, and whatever hints at either is turned away.
"""

import re
from collections.abc import Callable
from datetime import datetime
from functools import lru_cache
from ipaddress import IPv6Address, ip_address
from typing import Any, Literal, NamedTuple, Protocol

from litestar.connection import ASGIConnection
from litestar.handlers.base import BaseRouteHandler
from msgspec import UNSET, UnsetType

from gramhour.contract.problem import Fault, Refused
from gramhour_service.http.problems import refused
from gramhour_service.http.settings import Settings
from gramhour_service.store.keys import AccessKey

Connection = ASGIConnection[Any, Any, Any, Any]
Scope = Literal["price", "cost", "rates", "listings", "operate"]
FindKey = Callable[[str], AccessKey | None]

OPENS: dict[str, frozenset[str]] = {
    "price": frozenset({"price"}),
    "cost": frozenset({"price", "cost"}),
    "rates": frozenset({"price", "cost", "rates"}),
    "listings": frozenset({"price", "cost", "listings"}),
    "operate": frozenset({"operate"}),
}
"""What each scope of a key opens, the smaller ones included."""

ASKED_BY = "gramhour.asked_by"
"""Where in a request's ASGI scope the desk says for whom it asks. Servers make the scope, so no
caller can put anything there."""

FORWARDING = re.compile(r".*forwarded.*|.*(client|real|connecting)-ip|via", re.IGNORECASE)
"""Headers that proxies put in to say for whom they ask."""
LONGEST_KEY = 200


class Doorkeeper(Protocol):
    """What must be known of a shop to let somebody in."""

    settings: Settings
    now: Callable[[], datetime]

    def find_key(self, secret: str) -> AccessKey | None:
        """Find the key that a caller shows."""

    def note_use(self, name: str, now: datetime) -> None:
        """Note that a key was used."""

    def count_wrong_key(self, address: str) -> None:
        """Count a key that opens nothing. Raises ``Refused``."""

    def has_store(self) -> bool:
        """Say whether there is a store."""

    def public_channels(self) -> frozenset[str]:
        """List the channels that are open to callers without a key."""


class Asker(NamedTuple):
    """Who asks: what is open to them, and on which channels (``None``: on all)."""

    door: Literal["key", "public", "cells", "no store"]
    name: str
    scopes: frozenset[str]
    channels: frozenset[str] | None = None

    @property
    def sees_costs(self) -> bool:
        """Say whether costs may be shown to them."""
        return "cost" in self.scopes

    @property
    def may_describe(self) -> bool:
        """Say whether they may have a product of their own description priced."""
        return self.sees_costs or self.door == "cells"


NO_GOOD_KEY = (
    "this key is unknown, expired or revoked: look for a space or a line end copied along, or ask "
    "the shop for a key (gramhour keys add)"
)
SEND_A_KEY = "send a key: Authorization: Bearer KEY"
NOBODY = Asker("public", "", frozenset())


async def admit(connection: Connection, handler: BaseRouteHandler) -> None:
    """Let in who has the scope that the route needs; every route passes through here.

    A route says its scope in ``opt``; none means that it is open to all. Raises ``Refused``.
    """
    state = connection.scope["state"]
    needed: Scope | None = handler.opt["scope"]
    if needed is None:
        state["asker"] = NOBODY
        return
    told: Any = connection.scope.get(ASKED_BY)
    shop: Doorkeeper = connection.app.state.shop
    asker: Asker = told or who_asks(connection, shop, is_cell=handler.opt["cells"])
    if needed not in asker.scopes:
        raise lacking(asker, f"this needs a key with scope {needed}")
    state["asker"] = asker


def lacking(asker: Asker, needs: str, parameter: str | UnsetType = UNSET) -> Refused:
    """Say which scope is lacking; who sent no key is told so, and how to send one."""
    if asker.door != "public":
        return Refused("key-may-not", (Fault(UNSET, needs, parameter=parameter),))
    detail = f"{needs}, and none was sent; {SEND_A_KEY}"
    return Refused("key-needed", (Fault(UNSET, detail, parameter=parameter),))


def who_asks(connection: Connection, shop: Doorkeeper, *, is_cell: bool) -> Asker:
    """Tell by key, else by the doors that are open. Raises ``Refused`` if there is none."""
    authorization = connection.headers.get("authorization")
    if authorization is not None:
        now = shop.now()
        try:
            asker = _by_key(authorization, shop.find_key, now)
        except Refused:
            shop.count_wrong_key(caller_of(connection))
            raise
        shop.note_use(asker.name, now)
        return asker
    settings = shop.settings
    if settings.cells_from and is_cell:
        if not _is_own_cell(connection, settings.cells_from):
            raise refused("key-needed", "cells may ask from this machine itself only")
        return Asker("cells", "this machine's cells", OPENS["price"])
    if not shop.has_store():  # nobody can have a key, and there is nothing to see
        return Asker("no store", _address(connection), OPENS["cost"])
    if settings.public_quotes:
        channels = shop.public_channels()
        return Asker("public", caller_of(connection), OPENS["price"], channels)
    raise refused("key-needed", SEND_A_KEY)


def public_asker(connection: Connection, shop: Doorkeeper) -> Asker | None:
    """Take whoever looks at a page as a caller without a key; nobody if that door is closed.

    A key that comes along opens nothing here, so that a page for customers shows what they see.
    """
    if not shop.settings.public_quotes or not shop.has_store():
        return None
    return Asker("public", caller_of(connection), OPENS["price"], shop.public_channels())


def _by_key(authorization: str, find_key: FindKey, now: datetime) -> Asker:
    scheme, _, secret = authorization.partition(" ")
    secret = secret.strip()
    if scheme.casefold() != "bearer" or not 0 < len(secret) <= LONGEST_KEY:
        raise refused("key-needed", "send the key as Authorization: Bearer KEY")
    key = find_key(secret)
    if key is None or not key.is_good(now):
        raise refused("key-needed", NO_GOOD_KEY)
    return _asker_with(key)


@lru_cache(maxsize=256)
def _asker_with(key: AccessKey) -> Asker:
    scopes = frozenset[str]().union(*(OPENS[scope] for scope in key.scopes))
    return Asker("key", key.name, scopes, key.channels or None)


def _is_own_cell(connection: Connection, cells_from: frozenset[str]) -> bool:
    """Say whether a caller is a program on this machine that came by no other way.

    Many proxies speak HTTP/1.0 to what is behind them; spreadsheets and curl do not.
    """
    headers = connection.headers
    forwarded = any(map(FORWARDING.fullmatch, headers)) or (
        connection.scope.get("http_version") == "1.0"
    )
    foreign = "origin" in headers or headers.get("host", "").lower() not in cells_from
    return not forwarded and not foreign and _is_loopback(_address(connection))


def _address(connection: Connection) -> str:
    return connection.client.host if connection.client else ""


def caller_of(connection: Connection) -> str:
    """Name a caller by address; of IPv6 by the network, which one caller usually has whole."""
    address = _address(connection)
    try:
        parsed = ip_address(address)
    except ValueError:
        return address
    if not isinstance(parsed, IPv6Address):
        return address
    return str(parsed.ipv4_mapped or f"{IPv6Address(int(parsed) >> 64 << 64)}/64")


def _is_loopback(address: str) -> bool:
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False
