"""The calls that price listings anew, and those that apply it, for both clients.

Like ``calls``, they know nothing of connections, keys or retries.
"""

from collections.abc import Collection, Iterable
from datetime import date
from http import HTTPStatus
from typing import Any, Literal, TypedDict

import msgspec

from gramhour.calls import Amount, Call, given, path_of
from gramhour.calls_of_changes import Change
from gramhour.contract.repricing import Applied, Repricing, RepricingLines, Repricings

STARTED = (HTTPStatus.CREATED, HTTPStatus.ACCEPTED)


class RepricingAsked(TypedDict, total=False):
    """What ``reprice`` takes: which listings, and by which rates.

    Members are those of a ``RepricingRequest``, named as there.
    """

    over: Literal["affected", "all"]
    skus: Iterable[str]
    rates_revision: int
    rates_on: date
    proposed: Iterable[Change]
    discount_pct: Amount
    note: str


class LineFilter(TypedDict, total=False):
    """Which lines of a repricing: of an outcome, under their floor, on a channel."""

    outcome: Literal["new", "up", "down", "unchanged", "held", "failed"]
    under_floor: bool
    channel: str


class ApplyingAsked(TypedDict, total=False):
    """What ``apply`` takes: which prices stay or may move by much, and from when they hold.

    Members are those of an ``ApplyRequest``, named as there, but for the underscore that
    Python's own word ``except`` needs.
    """

    except_: Collection[str]
    confirm: Collection[str]
    effective_from: date
    max_change_pct: Amount
    note: str


def reprice(asked: RepricingAsked) -> Call[Repricing]:
    """Ask for a repricing."""
    return Call(
        method="POST",
        path="/v1/repricings",
        body=_body(dict(asked)),
        decode=msgspec.json.Decoder(Repricing).decode,
        is_safe=False,
        statuses=STARTED,
    )


def repricing(name: str) -> Call[Repricing]:
    """Ask how far a repricing is."""
    return Call(
        method="GET",
        path=path_of("/v1/repricings", name),
        decode=msgspec.json.Decoder(Repricing).decode,
    )


def repricing_lines(
    name: str, filters: LineFilter, limit: int | None, cursor: str | None
) -> Call[RepricingLines]:
    """Ask for a page of a repricing's lines."""
    only: dict[str, object] = {k: v for k, v in filters.items() if v is not False}
    if "under_floor" in only:
        only["under_floor"] = "true"
    return Call(
        method="GET",
        path=f"{path_of('/v1/repricings', name)}/lines",
        params=given(limit=limit, cursor=cursor, **only),
        decode=msgspec.json.Decoder(RepricingLines).decode,
    )


def repricings(limit: int | None, cursor: str | None) -> Call[Repricings]:
    """Ask for a page of the repricings."""
    return Call(
        method="GET",
        path="/v1/repricings",
        params=given(limit=limit, cursor=cursor),
        decode=msgspec.json.Decoder(Repricings).decode,
    )


def apply(name: str, asked: ApplyingAsked) -> Call[Applied]:
    """Ask for the prices of a repricing to hold."""
    return Call(
        method="POST",
        path=f"{path_of('/v1/repricings', name)}/apply",
        body=_body({member.rstrip("_"): value for member, value in asked.items()}),
        decode=msgspec.json.Decoder(Applied).decode,
        is_safe=False,
    )


def _body(asked: dict[str, Any]) -> bytes:
    """Write what is asked; what may be given as any iterable is a list there."""
    listed = {"skus", "proposed", "except", "confirm"}
    plain = {k: list(v) if k in listed else v for k, v in asked.items() if v is not None}
    return msgspec.json.encode(plain)
