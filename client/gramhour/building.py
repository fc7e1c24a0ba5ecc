"""Builds the request of a call: the URL, the headers, the key, the timeouts."""

import re
import secrets
from collections.abc import Callable
from importlib.metadata import version
from typing import NamedTuple, TypeAlias

import httpx

from gramhour.calls import Call
from gramhour.errors import OF_HTTPX, of_httpx
from gramhour.retries import Retries
from gramhour.timeouts import Timeouts

Http: TypeAlias = httpx.Client | httpx.AsyncClient
WHOLE = "gramhour.whole"
"""The extension of a request that says how many seconds one try may take as a whole."""
A_LABEL = re.compile(r"[^\s%]{1,63}")
LARGEST_PORT = 65_535
A_KEY = re.compile("[!-~]+")
USER_AGENT = f"gramhour/{version('gramhour')}"


def new_idempotency_key() -> str:
    """Make a key that no other call has: 128 random bits."""
    return secrets.token_urlsafe(16)


class Caller(NamedTuple):
    """Who asks, where, and with how much patience. Without timeouts, httpx's client has its own."""

    url: str
    key: str | None
    timeouts: Timeouts | None
    retries: Retries
    new_key: Callable[[], str] = new_idempotency_key

    def __repr__(self) -> str:
        """Tell where; the key is nobody's business."""
        return f"Caller(url={self.url!r})"


def checked_caller(caller: Caller) -> Caller:
    """Refuse, in the programmer's face, what could never be sent."""
    if not caller.url.startswith(("http://", "https://")):
        raise ValueError(f"the url must begin with http:// or https://, not {caller.url!r}")
    trouble = _trouble_of_url(caller.url)
    if trouble:
        raise ValueError(f"the url {caller.url!r} is none: {trouble}")
    if caller.key is not None and not A_KEY.fullmatch(caller.key):
        raise ValueError("the key is empty or has characters that no key has; copy it whole")
    return caller


def _trouble_of_url(url: str) -> str:
    """Say why a URL could never be asked, if so."""
    try:
        parsed = httpx.URL(url)
        labels = parsed.host.removesuffix(".").split(".")
    except (httpx.InvalidURL, ValueError) as error:
        return str(error)
    is_name = ":" not in parsed.host  # else a number of IP version 6
    if is_name and not all(A_LABEL.fullmatch(label) for label in labels):
        return f"no host can have the name {parsed.host!r}"
    if parsed.port is not None and not 1 <= parsed.port <= LARGEST_PORT:
        return f"a port is from 1 to {LARGEST_PORT}, not {parsed.port}"
    if parsed.query or parsed.fragment:
        return "it goes on behind its path"
    return ""


def build(http: Http, caller: Caller, call: Call[object]) -> httpx.Request:
    """Build a request. It can be sent more than once. Raises ``GramhourError`` for a bad URL."""
    try:
        request = http.build_request(
            call.method,
            caller.url.rstrip("/") + call.path,
            params=call.params or None,
            content=call.body,
            headers=_headers(caller, call),
        )
    except OF_HTTPX as error:
        raise of_httpx(error, caller.url) from error
    if caller.timeouts is not None:
        request.extensions["timeout"] = caller.timeouts.for_httpx(is_file=call.is_file).as_dict()
        request.extensions[WHOLE] = caller.timeouts.whole
    return request


def _headers(caller: Caller, call: Call[object]) -> dict[str, str]:
    headers = {"Accept": call.accept, "User-Agent": USER_AGENT, **call.headers}
    if caller.key is not None:
        headers["Authorization"] = f"Bearer {caller.key}"
    if call.body is not None:
        headers["Content-Type"] = call.media_type
    if not call.is_safe:
        headers["Idempotency-Key"] = caller.new_key()
    return headers
