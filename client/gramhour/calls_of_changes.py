"""The calls that change the stored rates, and those that read what was changed, for both clients.

Like ``calls``, they know nothing of connections, keys or retries.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from http import HTTPStatus
from typing import Any, TypeAlias

import msgspec

from gramhour.calls import Call, Kind, given, path_of, seen
from gramhour.contract.changes import (
    RateChange,
    RevisionChanges,
    Revisions,
    SavedChanges,
    SavedRate,
    StoredRevision,
)
from gramhour.typed_rates import with_typed_rate

Change: TypeAlias = RateChange | Mapping[str, Any]
"""A change of a rate: a type of the contract, or the same as a plain dict."""
MADE = (HTTPStatus.OK, HTTPStatus.CREATED)


def change_rates(
    changes: Iterable[Change],
    based_on_revision: int,
    effective_from: date | None,
    note: str | None,
    *,
    trial: bool,
) -> Call[SavedChanges]:
    """Ask for several changes as one revision; a trial may be repeated as it is."""
    dated = {"effective_from": effective_from, "note": note}
    body = {"changes": list(changes), "based_on_revision": based_on_revision}
    return Call(
        method="POST",
        path="/v1/rate-changes",
        params={"trial": "true"} if trial else {},
        body=msgspec.json.encode(body | {k: v for k, v in dated.items() if v is not None}),
        decode=msgspec.json.Decoder(SavedChanges).decode,
        is_safe=trial,
        statuses=MADE,
    )


def put_rate(
    key: tuple[Kind, str],
    value: Any,
    if_match: str | None,
    effective_from: date | None,
    note: str | None,
    *,
    new: bool,
) -> Call[SavedRate]:
    """Ask for a rate to be changed or added. Raises ``TypeError`` if it is not said which."""
    return Call(
        method="PUT",
        path=path_of("/v1/rates", *key),
        params=given(effective_from=effective_from, note=note),
        headers=seen("rate", if_match, new=new),
        body=msgspec.json.encode(value),
        decode=lambda body: with_typed_rate(msgspec.json.decode(body, type=SavedRate)),
        statuses=MADE,
    )


def delete_rate(
    key: tuple[Kind, str], if_match: str, effective_from: date | None, note: str | None
) -> Call[None]:
    """Ask for a rate to be taken away."""
    return Call(
        method="DELETE",
        path=path_of("/v1/rates", *key),
        params=given(effective_from=effective_from, note=note),
        headers={"If-Match": if_match},
        decode=lambda _: None,
        statuses=(HTTPStatus.NO_CONTENT,),
    )


def revisions(limit: int | None, cursor: str | None) -> Call[Revisions]:
    """Ask for a page of the revisions."""
    return Call(
        method="GET",
        path="/v1/revisions",
        params=given(limit=limit, cursor=cursor),
        decode=msgspec.json.Decoder(Revisions).decode,
    )


def revision(number: int) -> Call[StoredRevision]:
    """Ask for one revision."""
    return Call(
        method="GET",
        path=f"/v1/revisions/{number}",
        decode=msgspec.json.Decoder(StoredRevision).decode,
    )


def revision_changes(number: int, since: int | None) -> Call[RevisionChanges]:
    """Ask what a revision changed."""
    return Call(
        method="GET",
        path=f"/v1/revisions/{number}/changes",
        params=given(since=since),
        decode=msgspec.json.Decoder(RevisionChanges).decode,
    )
