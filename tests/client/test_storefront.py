"""The example storefront in its own process, before a service in its own: prices are honoured."""

import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from decimal import Decimal
from html import unescape
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest
from msgspec.structs import replace

from gramhour import Client
from gramhour_service.seals.turning import recall
from gramhour_service.store.entries import Written
from gramhour_service.store.keys import add_key
from gramhour_service.store.opening import open_store
from tests.client.listed import listed
from tests.client.running import KEY, ROOT, Running, a_store, running

OF_THE_SHOP = "a-key-that-may-price-the-shop"
PATIENCE = 60.0
SEAL = re.compile(r'name="seal" value="([^"]+)"')


class Front(NamedTuple):
    """The storefront's process and where it is, the shop's own client, the service, the store."""

    process: subprocess.Popen[str]
    url: str
    shop: Client
    service: Running
    store: Path

    def page(self) -> str:
        answer = httpx.get(self.url)
        assert answer.status_code == 200, answer.text
        return unescape(answer.text)

    def seal(self) -> str:
        (seal,) = SEAL.findall(self.page())
        return str(seal)

    def order(self, seal: str, quantity: object = 10) -> tuple[int, str]:
        """Order by the form; say the status and what is answered below the heading."""
        answer = httpx.post(f"{self.url}/orders", data={"seal": seal, "quantity": str(quantity)})
        return answer.status_code, unescape(answer.text.rpartition("</h1>")[2])

    def taken(self) -> Any:
        """Read an order that was taken."""
        assert self.process.stdout is not None
        return json.loads(self.process.stdout.readline())

    def wait_until_shown(self, words: str) -> None:
        until = time.monotonic() + PATIENCE
        while words not in (page := self.page()):
            assert time.monotonic() < until, page
            time.sleep(0.1)


@contextmanager
def opened(service: Running, shop: Client, store: Path) -> Iterator[Front]:
    told = {"GRAMHOUR_URL": service.url, "GRAMHOUR_KEY": KEY}
    command = [sys.executable, "-W", "error", "client/examples/storefront.py", "own-shop"]
    with subprocess.Popen(
        [*command, "--port", "0", "--every", "0.2"],
        cwd=ROOT,
        env={**os.environ, **told},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            assert process.stderr is not None
            yield Front(process, process.stderr.readline().strip(), shop, service, store)
        finally:
            process.kill()


@pytest.fixture(scope="module")
def front(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Front]:
    folder = tmp_path_factory.mktemp("front")
    path = a_store(folder / "store")
    with closing(open_store(path)) as store:
        add_key(store, "shop", OF_THE_SHOP, ["rates", "listings"], now=datetime.now(UTC))
    with (
        running(path, folder / "asked") as service,
        Client(url=service.url, key=OF_THE_SHOP) as shop,
    ):
        listed(shop, "HP-1")
        with opened(service, shop, path) as front:
            yield front


def reprice(front: Front, labour: str) -> None:
    """Let the hour cost something else, and apply what that comes to."""
    newest = front.shop.revisions(limit=1).items[0].rates_revision
    change = {"kind": "shop", "code": "labour_rate_per_hour", "value": labour}
    front.shop.change_rates([change], based_on_revision=newest)
    front.shop.apply(front.shop.wait_for(front.shop.reprice(over="all").id).id)


def test_price_is_shown_ordered_later_and_honoured_though_it_changed(front: Front) -> None:
    assert (
        "<h2>Herb planter, self-watering</h2><p>from 1: 46.90, from 10: 28.90</p>" in front.page()
    )
    assert "<p>Each, in EUR with tax; postage comes on top.</p>" in front.page()
    friday = front.seal()
    reprice(front, "40.00")
    front.wait_until_shown("from 1: 51.90, from 10: 31.90")
    monday = front.seal()
    assert front.order(friday) == (200, "Ordered: 10 at 28.90, 289.00 in all.")
    assert front.taken() == {
        "sku": "HP-1", "quantity": 10, "unit_price": "28.90", "goods": "289.00",
        "currency": "EUR", "prices_include_tax": True,
    }  # fmt: skip
    assert front.order(monday, 3) == (200, "Ordered: 3 at 51.90, 155.70 in all.")
    assert front.taken()["goods"] == "155.70"


@pytest.mark.parametrize(
    ("quantity", "says"),
    [(0, "Please order"), (100_001, "Please order"), ("٣", "Please order"), ("", "Please order")],
)
def test_order_of_no_number_is_refused(front: Front, quantity: object, says: str) -> None:
    status, told = front.order(front.seal(), quantity)
    assert (status, told[: len(says)]) == (400, says)


def test_price_that_somebody_edited_is_refused(front: Front) -> None:
    head, payload, signature = front.seal().split(".")
    for forged in ("", "x", f"{head}.{payload[:-4]}AAAA.{signature}", f"{head}.{payload}."):
        assert front.order(forged) == (409, "This is no price of ours.")


def test_genuine_price_of_what_is_not_sold_here_is_refused(front: Front) -> None:
    work = {"order_min": 5}
    asked = {"product": {"name": "Herb planter", "work": work}, "quantity": 10, "seal": True}
    sealed = front.shop.quote({**asked, "channel": "own-shop"}).seal
    assert front.shop.verify_seal(str(sealed)).status == "valid"
    assert front.order(str(sealed)) == (409, "This is no price of ours.")
    assert front.order(front.seal(), 3)[0] == 200
    assert front.taken()["quantity"] == 3


def test_recalled_price_is_refused_and_the_right_one_shown_in_its_place(front: Front) -> None:
    reprice(front, "44.00")
    front.wait_until_shown("from 1: 54.90, from 10: 32.90")
    mistyped = front.seal()
    newest = front.shop.revisions(limit=1).items[0].rates_revision
    with closing(open_store(front.store)) as store:
        recall(store, [newest], "mistyped", Written("tests", datetime.now(UTC)))
    front.wait_until_shown("Nothing is for sale today.")
    says = "This price was a mistake and is recalled. Please look at today's."
    assert front.order(mistyped) == (409, says)
    reprice(front, "32.00")
    front.wait_until_shown("from 1: 46.90, from 10: 28.90")
    assert front.order(front.seal()) == (200, "Ordered: 10 at 28.90, 289.00 in all.")
    assert front.taken()["unit_price"] == "28.90"


def test_an_order_comes_to_the_channels_minimum_at_least(front: Front) -> None:
    newest = front.shop.revisions(limit=1).items[0].rates_revision
    own_shop = front.shop.rate("channels", "own-shop").value
    value = replace(own_shop, minimum_order=Decimal(60))
    change = {"kind": "channels", "code": "own-shop", "value": value}
    front.shop.change_rates([change], based_on_revision=newest)
    front.wait_until_shown("postage comes on top. Orders come to 60.00 at least.</p>")
    assert front.order(front.seal(), 1)[1].endswith(", 60.00 in all.")
    assert front.taken()["goods"] == "60.00"


def test_orders_are_taken_while_the_service_is_away(front: Front) -> None:
    seal = front.seal()
    front.service.process.kill()
    front.service.process.wait()
    status, says = front.order(seal)
    assert (status, says[:15]) == (200, "Ordered: 10 at ")
    assert front.taken()["sku"] == "HP-1"
    assert "Herb planter" in front.page()
