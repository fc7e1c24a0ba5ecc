"""Shorthand for changing rates as a caller does."""

from json import dumps
from typing import Any

import httpx

from tests.http.door import JSON, Door, problem_of

RATES, CHANGES, REVISIONS = "/v1/rates", "/v1/rate-changes", "/v1/revisions"
LABOUR, POWER = f"{RATES}/shop/labour_rate_per_hour", f"{RATES}/shop/price_per_kwh"
GREEN = f"{RATES}/materials/asa-green"
FIRST = '"r1@2026-12-01"'
"""The tag of every rate of the demo's sheet, which is the first revision, of today."""
TODAY, FRIDAY, MONDAY = "2026-12-01", "2026-12-04", "2026-12-07"
NEW = {"If-None-Match": "*"}
DEARER: dict[str, Any] = {"kind": "shop", "code": "labour_rate_per_hour", "value": "33.50"}


def seen(tag: str) -> dict[str, str]:
    """Say what tag was seen."""
    return {"If-Match": tag}


def put(door: Door, path: str, value: Any, headers: dict[str, str], **query: str) -> httpx.Response:
    """Put a rate."""
    sent = {"Content-Type": JSON, **headers}
    return door.ask("PUT", path, "rates", content=dumps(value), headers=sent, params=query)


def delete(door: Door, path: str, headers: dict[str, str], **query: str) -> httpx.Response:
    """Take a rate away."""
    return door.ask("DELETE", path, "rates", headers=headers, params=query)


def change(
    door: Door, *changes: Any, based_on: int = 1, word: str | None = None, **more: Any
) -> httpx.Response:
    """Send changes, under a word if one is given; ``trial`` is a parameter."""
    query = {"trial": "true"} if more.pop("trial", False) else {}
    headers = {} if word is None else {"Idempotency-Key": word}
    body = {"changes": list(changes), "based_on_revision": based_on, **more}
    return door.ask("POST", CHANGES, "rates", json=body, params=query, headers=headers)


def tag_of(door: Door, path: str, **query: str) -> str:
    """Read the tag of a rate."""
    return door.ask("GET", path, "cost", params=query).headers["etag"]


def value_of(door: Door, path: str, **query: str) -> Any:
    """Read the value of a rate."""
    return door.ask("GET", path, "cost", params=query).json()["value"]


def newest(door: Door) -> int:
    """Say the newest revision."""
    revision: int = door.ask("GET", REVISIONS, "cost").json()["items"][0]["rates_revision"]
    return revision


def refused(answer: httpx.Response) -> tuple[str, list[tuple[str | None, str]]]:
    """Say the type of a refusal, and where each fault is and what it is."""
    kind, faults = problem_of(answer)
    return kind, [
        (fault.get("pointer", fault.get("parameter")), fault["detail"]) for fault in faults
    ]


def removed(code: str, kind: str = "nozzles") -> dict[str, Any]:
    """Take a rate away, as one of several changes."""
    return {"kind": kind, "code": code, "value": None}


def of_machine(code: str, **members: Any) -> dict[str, Any]:
    """Put a machine, as one of several changes."""
    return {"kind": "machines", "code": code, "value": members}


def plain(sent: Any) -> Any:
    """Write amounts as texts, as JSON has no exact ones."""
    if isinstance(sent, dict):
        return {name: plain(value) for name, value in sent.items()}
    if isinstance(sent, list):
        return [plain(value) for value in sent]
    return sent if isinstance(sent, int | str | type(None)) else str(sent)
