"""Asks the service for what a sheet's rows say. Knows nothing of the office, nor of sheets.

Only the standard library: the office brings a Python of its own. No redirect is followed and no
proxy used, so that the key goes nowhere but to the address that was set.
"""

import http.client
import json
import time
from urllib.parse import quote, urlencode, urlsplit

from gramhour_one_piece import name_of_fault, one_piece_request

MOST_AT_ONCE = 190
"""Of rows with 50 breaks each the service answers no more in one go."""
SECONDS_TO_ANSWER = 5
SECONDS_FOR_MANY = 60
SECONDS_KEPT = 2
SECONDS_DOWN = 5
MOST_KEPT = 5_000
NOT_FOUND = "there is no service of that kind at {}"


class Refused(Exception):
    """The service says no, or says nothing. Its words are for people."""

    def __init__(self, words, names=()):
        """Keep the words, and the names of the columns that they are about."""
        super().__init__(words)
        self.names = tuple(names)


class Service:
    """A service, and the key for it; what it said in the last seconds is kept."""

    def __init__(self, address, key):
        """Ask at ``address``, with ``key`` unless it is empty. Raises ``Refused``."""
        parts = urlsplit(address.strip().rstrip("/"))
        if parts.scheme not in ("http", "https") or not parts.hostname:
            raise Refused(f"the address {address!r} is none: it begins with http:// or https://")
        self.address, self._parts = address, parts
        self._headers = {"Authorization": f"Bearer {key.strip()}"} if key.strip() else {}
        self._kept = {}
        self._down_until, self._down = 0.0, None

    def quote(self, told):
        """Quote one row. The same row is not asked for twice within two seconds.

        Raises ``Refused``. After no answer came, for some seconds no row is asked for at all: a
        sheet of a thousand must not wait a thousand times.
        """
        query, now = urlencode(told, quote_via=quote), time.monotonic()
        if now < self._down_until:
            raise self._down
        good_until, answer = self._kept.get(query, (0.0, None))
        if good_until < now:
            answer = self._asked(query)
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            self._kept[query] = (time.monotonic() + SECONDS_KEPT, answer)
        if isinstance(answer, Refused):
            raise answer
        return answer

    def _asked(self, query):
        try:
            with _Answer(self, "GET", f"/v1/unit-price?{query}", SECONDS_TO_ANSWER) as answer:
                return json.loads(answer.whole())
        except Unreachable as down:
            self._down, self._down_until = down, time.monotonic() + SECONDS_DOWN
            raise
        except Refused as refused:
            return refused

    def quotes(self, rows):
        """Quote many rows: a quote or a ``Refused`` for each, in order, or none at all.

        Raises ``Refused``, also if the service breaks off: then nothing is known of any row.
        """
        answers = []
        for start in range(0, len(rows), MOST_AT_ONCE):
            answers += self._some(rows[start : start + MOST_AT_ONCE])
        return answers

    def _some(self, rows):
        body = b"".join(json.dumps(one_piece_request(told)).encode() + b"\n" for told in rows)
        path = "/v1/quotes/batch"
        with _Answer(self, "POST", path, SECONDS_FOR_MANY, body) as answer:
            lines = [json.loads(line) for line in answer.whole().splitlines()]
        if not lines or lines.pop() != {"done": len(rows)} or len(lines) != len(rows):
            raise Unreachable(f"the answer of {self.address} broke off; nothing was written")
        return [each["quote"] if "quote" in each else _refused(each["problem"]) for each in lines]


class Unreachable(Refused):
    """No answer came."""


class _Answer:
    """An answer, whose connection is closed in any case."""

    def __init__(self, service, method, path, seconds, body=None):
        parts = service._parts
        kind = {"http": http.client.HTTPConnection, "https": http.client.HTTPSConnection}
        self._address = service.address
        self._sent = (method, parts.path + path, body, dict(service._headers))
        self._sent[3]["Accept"] = "application/json" if body is None else "application/x-ndjson"
        if body is not None:
            self._sent[3]["Content-Type"] = "application/x-ndjson"
        self._connection = kind[parts.scheme](parts.hostname, parts.port, timeout=seconds)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._connection.close()

    def whole(self):
        """Read the answer. Raises ``Refused``."""
        try:
            self._connection.request(*self._sent)
            answer = self._connection.getresponse()
            body = answer.read()
        except (OSError, http.client.HTTPException, ValueError) as error:
            detail = str(error) or type(error).__name__
            raise Unreachable(f"{self._address} gives no answer: {detail}") from None
        if answer.status == http.client.OK:
            return body
        raise _told(body, NOT_FOUND.format(self._address))


def _told(body, otherwise):
    """Read a problem."""
    try:
        return _refused(json.loads(body))
    except (ValueError, KeyError, TypeError, AttributeError):
        return Refused(otherwise)


def _refused(problem):
    """Tell a problem in a line, each fault with the name of its column."""
    named = []
    for fault in problem["errors"]:
        name = fault.get("parameter") or name_of_fault(fault.get("pointer", ""))
        named.append((name, f"{name}: {fault['detail']}" if name else fault["detail"]))
    words = "; ".join(dict.fromkeys(said for _, said in named)) or problem["title"]
    return Refused(words, (name for name, _ in named if name))


def prices(quoted):
    """List the quantities of a quote with their unit prices: those listed, if it is of a sku."""
    if "listed" in quoted:
        return {each["from_quantity"]: each["unit_price"] for each in quoted["listed"]["breaks"]}
    return {each["quantity"]: each["unit_price"] for each in quoted["breaks"]}


def price_asked(quoted):
    """Say what a buyer of the asked quantity pays for a unit. Raises ``Refused``."""
    asked = quoted["at_quantity"]
    if "listed" not in quoted:
        return asked["unit_price"]
    below = {n: price for n, price in prices(quoted).items() if n <= asked["quantity"]}
    if not below:
        raise Refused(f"it is not sold below {min(prices(quoted), default='any quantity')}")
    return below[max(below)]


def cost_of(quoted):
    """Say what a unit costs. Raises ``Refused`` if the key does not see it."""
    return _seen(quoted)["unit_cost"]


def margin_of(quoted):
    """Say the margin at the price that buyers pay. Raises ``Refused``."""
    asked = _seen(quoted)
    if asked["margin_pct"] is None:
        raise Refused("there is no margin: the order has a net of 0")
    if "listed" in quoted and price_asked(quoted) != asked["unit_price"]:
        raise Refused("the listed price is another than today's rates give: reprice it first")
    return asked["margin_pct"]


def _seen(quoted):
    if "unit_cost" not in quoted["at_quantity"]:
        raise Refused("costs are seen with a key of scope cost: set it under Gramhour, Address…")
    return quoted["at_quantity"]
