"""A small storefront: shows a channel's listed prices, takes orders later, keeps no price itself.

Each price is shown with its seal, which comes back with the order and is verified here, without
asking the service: so the price that was shown is honoured, though it changed since, and none
that somebody edited is. The shelf follows what changes by ``changed_since``.

    GRAMHOUR_URL=http://127.0.0.1:8750 GRAMHOUR_KEY=... python storefront.py own-shop --port 8760

Orders are written to standard output, a line of JSON each. Needs ``gramhour[seals]``.
"""

import argparse
import json
import os
import re
import sys
import threading
import time
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from html import escape
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs

from gramhour import Client, GramhourError, PriceItem, Prices, SealedOffer
from gramhour.seals import SealKeys, SealRefused

MOST_BYTES, MOST_UNITS = 30_000, 100_000
A_NUMBER = re.compile(r"[0-9]{1,6}")
ANEW = timedelta(hours=1)
"""All prices are read anew so often: seals of prices that stand for long are renewed."""
SAYS = {
    "expired": "This price has expired. Please look at today's.",
    "not_yet_valid": "This price holds from a later day on. Please order then.",
    "recalled": "This price was a mistake and is recalled. Please look at today's.",
}
PAGE = """<!doctype html><html lang="en"><meta charset="utf-8">
<meta name="viewport" content="width=device-width"><title>Shop</title>
<h1>What we make</h1>{goods}"""
GOOD = """<form method="post" action="/orders"><h2>{name}</h2><p>{prices}</p>
<input type="hidden" name="seal" value="{seal}">
<label>Units <input name="quantity" type="number" min="1" max="100000" value="{least}"></label>
<button>Order</button></form>"""


class Shelf:
    """What is for sale, as it was told last, and the keys that verify seals."""

    def __init__(self, client: Client, channel: str) -> None:
        """Read all of it once."""
        self._client, self._channel = client, channel
        self._read_all()

    def follow(self) -> None:
        """Read what changed since, and the keys; all of it now and then, and after new keys."""
        keys = self._client.seal_keys()
        if keys != self._told or datetime.now(UTC) - self._read_at > ANEW:
            self._read_all()
            return
        told = self._client.prices(self._channel, limit=1)
        self._note(told)
        if told.change == self._change:
            return
        items = self._client.all_prices(self._channel, changed_since=self._change, seal=True)
        for item in list(items):
            self._put(self._items, item)

    def goods(self) -> list[PriceItem]:
        """List what holds today, which is the shop's day."""
        told = self._items.values()
        in_force = ([i for i in items if i.valid_from <= self._on] for items in told)
        return [max(items, key=lambda i: (i.valid_from, i.change)) for items in in_force if items]

    def offer(self, seal: str) -> SealedOffer:
        """Give what a seal promises of what is sold here. Raises ``SealRefused``.

        A seal may be genuine and for something else: another channel, a part of somebody's own.
        """
        offer = self._verified(seal)
        if not isinstance(offer.sku, str) or offer.channel != self._channel:
            raise SealRefused("not_sold_here")
        return offer

    def _verified(self, seal: str) -> SealedOffer:
        """Verify a seal; the service is asked only about a key that is not known."""
        try:
            return self._keys.offer_in(seal, datetime.now(UTC))
        except SealRefused as refused:
            if refused.status != "unknown_key":
                raise
        verdict = self._client.verify_seal(seal)
        if verdict.status != "valid" or not isinstance(verdict.offer, SealedOffer):
            raise SealRefused(verdict.status)
        return verdict.offer

    def _read_all(self) -> None:
        self._read_at, self._told = datetime.now(UTC), self._client.seal_keys()
        self._keys = SealKeys(self._told)
        first = self._client.prices(self._channel, limit=1)
        self._change = first.change
        self._note(first)
        items: dict[str, list[PriceItem]] = {}
        for item in self._client.all_prices(self._channel, seal=True):
            self._put(items, item)
        self._items = items

    def _note(self, told: Prices) -> None:
        """Note which day it is in the shop, and what holds for each order."""
        self._on, self.least = day_in_shop(told), told.minimum_order or Decimal(0)
        self.multiple = told.multiple_of or 1
        tax = "with tax" if told.prices_include_tax else "without tax"
        self.says = f"Each, in {told.currency} {tax}; postage comes on top."
        if self.least:
            self.says += f" Orders come to {self.least} at least."

    def _put(self, items: dict[str, list[PriceItem]], item: PriceItem) -> None:
        """Put a price in place of one of the same day; one without breaks ends all before it."""
        kept = [i for i in items.get(item.sku, []) if i.valid_from != item.valid_from]
        items[item.sku] = [*kept, item] if item.breaks else []
        self._change = max(self._change, item.change)


def day_in_shop(told: Prices) -> date:
    """Say which day it is in the shop; an older service does not tell it: then it is ours."""
    on = told.prices_on
    return on if isinstance(on, date) else date.today()  # noqa: DTZ011


def page_of(goods: list[PriceItem], says: str) -> str:
    """Write the page, with what is said of its prices."""
    forms = [
        GOOD.format(
            name=escape(item.name),
            prices=", ".join(f"from {b.from_quantity}: {b.unit_price}" for b in item.breaks),
            least=item.breaks[0].from_quantity,
            seal=escape(str(item.seal or "")),
        )
        for item in goods
        if item.seal  # what is not promised is not sold here
    ]
    shown = (
        f"<p>{escape(says)}</p>{''.join(forms)}" if forms else "<p>Nothing is for sale today.</p>"
    )
    return PAGE.format(goods=shown)


def order_of(shelf: Shelf, sent: str) -> dict[str, Any]:
    """Read an order and price it as was promised. Raises ``SealRefused`` and ``ValueError``."""
    fields = parse_qs(sent, max_num_fields=10)
    text = fields.get("quantity", [""])[0]
    quantity = int(text) if A_NUMBER.fullmatch(text) else 0
    if not 1 <= quantity <= MOST_UNITS:
        raise ValueError(f"Please order 1 to {MOST_UNITS} units.")
    offer = shelf.offer(fields.get("seal", [""])[0])
    if quantity % shelf.multiple:
        raise ValueError(f"It is sold in multiples of {shelf.multiple}.")
    price = offer.unit_price(quantity)
    if price is None:
        raise ValueError(f"It is sold from {offer.breaks[0].quantity} units on.")
    return {
        "sku": offer.sku,
        "quantity": quantity,
        "unit_price": str(price),
        "goods": str(max(price * quantity, shelf.least)),  # the minimum is of today, not sealed
        "currency": offer.currency,
        "prices_include_tax": offer.prices_include_tax,
    }


class Counter(BaseHTTPRequestHandler):
    """Answers the customers of one shelf."""

    shelf: Shelf

    def do_GET(self) -> None:
        """Show what is for sale."""
        if self.path != "/":
            self._answer(HTTPStatus.NOT_FOUND, "There is nothing here.")
        else:
            self._answer(HTTPStatus.OK, page_of(self.shelf.goods(), self.shelf.says))

    def do_POST(self) -> None:
        """Take an order."""
        length = self.headers.get("Content-Length", "")
        if self.path != "/orders" or not length.isdecimal() or int(length) > MOST_BYTES:
            self._answer(HTTPStatus.BAD_REQUEST, "Please order by the form.")
            return
        try:
            order = order_of(self.shelf, self.rfile.read(int(length)).decode())
        except SealRefused as refused:
            says = SAYS.get(refused.status, "This is no price of ours.")
            self._answer(HTTPStatus.CONFLICT, says)
        except GramhourError:
            self._answer(HTTPStatus.SERVICE_UNAVAILABLE, "Please try again in a minute.")
        except ValueError as error:
            self._answer(HTTPStatus.BAD_REQUEST, str(error))
        else:
            sys.stdout.write(json.dumps(order) + "\n")
            sys.stdout.flush()
            says = "Ordered: {quantity} at {unit_price}, {goods} in all."
            self._answer(HTTPStatus.OK, says.format(**order))

    def _answer(self, status: HTTPStatus, page: str) -> None:
        body = (page if page.startswith("<!") else PAGE.format(goods=escape(page))).encode()
        self.send_response(status)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Content-Security-Policy", "default-src 'none'; form-action 'self'")
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: Any) -> None:
        """Say nothing of who asks what."""


def follow(shelf: Shelf, every: float) -> None:
    """Follow what changes for ever; while the service is away the shelf stays as it was."""
    while True:
        time.sleep(every)
        try:
            shelf.follow()
        except GramhourError as error:
            sys.stderr.write(f"{error}\n")


def main() -> None:
    """Open the shop."""
    told = argparse.ArgumentParser(description="A small storefront.")
    told.add_argument("channel")
    told.add_argument("--port", type=int, default=8760)
    told.add_argument("--every", type=float, default=60, help="seconds between looks for changes")
    asked = told.parse_args()
    client = Client(url=os.environ["GRAMHOUR_URL"], key=os.environ["GRAMHOUR_KEY"])
    Counter.shelf = Shelf(client, asked.channel)
    threading.Thread(target=follow, args=(Counter.shelf, asked.every), daemon=True).start()
    server = ThreadingHTTPServer(("127.0.0.1", asked.port), Counter)
    sys.stderr.write(f"http://127.0.0.1:{server.server_port}\n")
    server.serve_forever()


if __name__ == "__main__":
    main()
