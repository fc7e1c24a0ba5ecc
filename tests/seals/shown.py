"""Shorthand for asking for seals and showing them, as callers do."""

import base64
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
from msgspec import json

from tests.http.door import Door, problem_of
from tests.http.four_pots import POT

QUOTES, PRICES, VERIFY = "/v1/quotes", "/v1/prices", "/v1/seals/verify"
JWKS = "/.well-known/jwks.json"
TYP = "gramhour-price+jws"
FREE: dict[str, Any] = {
    "product": POT, "quantity": 3, "breaks": [10], "channel": "own-shop", "seal": True,
}  # fmt: skip
LABOUR: dict[str, Any] = {"kind": "shop", "code": "labour_rate_per_hour", "value": "44"}
DAY = timedelta(days=1)
END_OF_14_DAYS = datetime(2026, 12, 15, 23, 0, tzinfo=UTC)
"""NOW is the 1st of December; the demo's shop is an hour east of UTC."""
END_OF_21_DAYS = datetime(2026, 12, 22, 23, 0, tzinfo=UTC)


def claims(seal: str) -> Any:
    """Read what a seal says, as anybody can."""
    payload = seal.split(".")[1]
    return json.decode(base64.urlsafe_b64decode(payload + "=" * (-len(payload) % 4)))


def header(seal: str) -> Any:
    part = seal.partition(".")[0]
    return json.decode(base64.urlsafe_b64decode(part + "=" * (-len(part) % 4)))


def for_sale(door: Door, key: str | None = "price", **query: Any) -> list[Any]:
    answer = door.ask("GET", PRICES, key, params={"channel": "own-shop", "seal": "true", **query})
    assert answer.status_code == 200, answer.text
    items: list[Any] = answer.json()["items"]
    return items


def quote(door: Door, key: str = "price", **asked: Any) -> Any:
    answer = door.ask("POST", QUOTES, key, json={"sku": "P", "quantity": 3, "seal": True, **asked})
    assert answer.status_code == 200, answer.text
    return answer.json()


def described(door: Door, view: str = "cost", **asked: Any) -> Any:
    answer = door.ask("POST", QUOTES, "cost", json={**FREE, **asked}, params={"view": view})
    assert answer.status_code == 200, answer.text
    return answer.json()


def verified(door: Door, seal: str) -> Any:
    answer = door.ask("POST", VERIFY, json={"seal": seal})
    assert answer.status_code == 200, answer.text
    return answer.json()


def refusal(answer: httpx.Response) -> tuple[int, str, list[tuple[str | None, str]]]:
    kind, faults = problem_of(answer)
    return answer.status_code, kind, [(f.get("pointer"), f["detail"]) for f in faults]


def keys(door: Door) -> list[str]:
    answer = door.ask("GET", JWKS)
    assert answer.status_code == 200, answer.text
    return [key["kid"] for key in answer.json()["keys"]]
