"""A shop with many listings of one pot, asked by a program whose disk is in trouble."""

import sys
import time
from pathlib import Path
from typing import Any

import httpx

from gramhour_service.http.settings import Settings
from tests.http.door import Door, make_shop, opened, problem_of
from tests.http.offering import make_pot, of_pot, post_rows

REPRICINGS, QUOTES, PRICES = "/v1/repricings", "/v1/quotes", "/v1/prices"
PATIENCE = 60.0
ONCE = {"Idempotency-Key": "once"}


def seen(word: object) -> None:
    sys.stdout.write(f"{word}\n")


def refusal(answer: httpx.Response) -> str:
    """Say of a refusal its status, its type, and its first fault."""
    assert answer.status_code >= 400, answer.text
    kind, faults = problem_of(answer)
    return f"{answer.status_code} {kind}: {faults[0]['detail']}"


def rows(first: int, to: int) -> list[dict[str, Any]]:
    """Write listings of the pot, each with a note of some length."""
    return [of_pot(f"P-{n}", note="x" * 500) for n in range(first, to)]


def reprice(door: Door, **asked: Any) -> Any:
    """Reprice to the end, whatever that is."""
    answer = door.ask("POST", REPRICINGS, "listings", json=asked)
    assert answer.status_code in (201, 202), answer.text
    return ended(door, answer.json()["id"])


def ended(door: Door, name: str) -> Any:
    """Wait until a repricing runs no longer, and read it."""
    until = time.monotonic() + PATIENCE
    while (now := repricing(door, name))["state"] == "running":
        assert time.monotonic() < until, now
        time.sleep(0.02)
    return now


def repricing(door: Door, name: str) -> Any:
    answer = door.ask("GET", f"{REPRICINGS}/{name}", "listings")
    assert answer.status_code == 200, answer.text
    return answer.json()


def apply(door: Door, name: str) -> httpx.Response:
    return door.ask("POST", f"{REPRICINGS}/{name}/apply", "listings", json={}, headers=ONCE)


def lines(door: Door, name: str) -> int:
    answer = door.ask("GET", f"{REPRICINGS}/{name}/lines?limit=1000", "listings")
    assert answer.status_code == 200, answer.text
    return len(answer.json()["items"])


def newest_change(door: Door) -> int:
    answer = door.ask("GET", f"{PRICES}?channel=own-shop", "price")
    assert answer.status_code == 200, answer.text
    change: int = answer.json()["change"]
    return change


def buyer_is_told(door: Door) -> None:
    """Check that a sku has its listed price for a buyer, and a fresh one for the shop."""
    for key in ("price", "cost"):
        answer = door.ask("POST", QUOTES, key, json={"sku": "P-0", "quantity": 2})
        assert answer.status_code == 200, answer.text


def make_stock(path: Path, listings: int) -> str:
    """Put listings of the pot into a shop and price them; say what a sale was computed as."""
    with opened(Settings(store=make_shop(path))) as door:
        make_pot(door)
        assert post_rows(door, rows(0, listings)).status_code == 200
        assert apply(door, reprice(door)["id"]).status_code == 200
        name: str = reprice(door, over="all", discount_pct=10)["id"]
        return name
