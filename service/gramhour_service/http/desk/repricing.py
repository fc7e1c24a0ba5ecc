"""/desk/repricings/{id}: how far it is, its report, and applying all of it but what is ticked.

What is ticked stays ticked whatever is looked at: listings that a filter hides are carried along.
"""

import secrets
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any, NamedTuple
from urllib.parse import quote

from litestar import Response
from litestar.params import FromPath

from gramhour.contract.problem import Fault, Problem
from gramhour.contract.repricing import ApplyRequest
from gramhour_service.http.desk.api import ask
from gramhour_service.http.desk.serving import (
    PART,
    Form,
    desk_page,
    form_sent,
    needed,
    serves_desk,
)
from gramhour_service.http.desk.sheet import sheet_of
from gramhour_service.http.wire import Asked
from gramhour_service.pages.desk.report_shown import shown_lines
from gramhour_service.pages.desk.sent import BETWEEN, with_point
from gramhour_service.pages.desk.words import BARELY_MOVED
from gramhour_service.resolve.members import defaults_of

PATH = "/desk/repricings/{name:str}"
ROUTE = "/v1/repricings"
MOST_LINES = 1_000
MOST_CHANGE = str(defaults_of(ApplyRequest)["max_change_pct"])
"""What the contract takes if it is not told."""


class Looked(NamedTuple):
    """Which lines are looked at."""

    outcome: str = ""
    under_floor: str = ""
    channel: str = ""


class Typed(NamedTuple):
    """What is to be applied: all but what is left out, and from when."""

    left_out: tuple[str, ...] = ()
    confirmed: tuple[str, ...] = ()
    also: str = ""
    effective_from: str = ""
    max_change_pct: str = MOST_CHANGE
    note: str = ""
    once: str = ""


class Done(NamedTuple):
    """What came of applying."""

    applied: Mapping[str, Any] | None = None
    problem: Problem | None = None
    faults: Sequence[Fault] = ()


@serves_desk("GET", PATH)
async def repricing(request: Asked, name: FromPath[str]) -> Response[bytes]:
    """Answer a report, or how far it is."""
    asked = request.query_params
    looked = Looked(*(asked.get(member, "") for member in Looked._fields))
    return await _page(request, name, looked, Typed())


@serves_desk("POST", PATH)
async def apply_repricing(request: Asked, name: FromPath[str]) -> Response[bytes]:
    """Look at other lines, or apply what is not left out."""
    form = await form_sent(request)
    looked = Looked(*(form.one(member) for member in Looked._fields))
    typed = _typed(form)
    if form.one("do") != "apply":
        return await _page(request, name, looked, typed)
    told = await ask(
        request, "POST", f"{ROUTE}/{quote(name, safe='')}/apply",
        sent=_sent(typed), headers={"idempotency-key": typed.once} if typed.once else {},
    )  # fmt: skip
    problem = told.problem
    faults = () if problem is None else problem.errors
    return await _page(request, name, looked, typed, Done(told.document, problem, faults))


def _typed(form: Form) -> Typed:
    return Typed(
        left_out=tuple(dict.fromkeys(form.fields.get("out", ()))),
        confirmed=tuple(dict.fromkeys(form.fields.get("confirm", ()))),
        also=form.one("also"),
        effective_from=form.one("effective_from"),
        max_change_pct=with_point(form.one("max_change_pct")),
        note=form.one("note"),
        once=form.one("once"),
    )


def _sent(typed: Typed) -> dict[str, Any]:
    also = [sku for sku in BETWEEN.split(typed.also) if sku]
    sent = {
        "except": list(dict.fromkeys([*typed.left_out, *also])),
        "confirm": list(typed.confirmed),
        "effective_from": typed.effective_from,
        "max_change_pct": typed.max_change_pct,
        "note": typed.note,
    }
    return {name: value for name, value in sent.items() if value}


async def _page(
    request: Asked,
    name: str,
    looked: Looked,
    typed: Typed,
    done: Done = Done(),  # noqa: B008
) -> Response[bytes]:
    place = f"{ROUTE}/{quote(name, safe='')}"
    told = needed(await ask(request, "GET", place))
    if PART in request.headers:
        return desk_page(request, "repricing-progress.html", repricing=told)
    sheet = await sheet_of(request)
    lines: Mapping[str, Any] = {"items": []}
    if told["state"] != "running":
        query = {"limit": MOST_LINES, **looked._asdict()}
        lines = needed(await ask(request, "GET", f"{place}/lines", query=query))
    shown = {line["sku"] for line in lines["items"]}
    return desk_page(
        request,
        "repricing.html",
        sheet=sheet,
        currency=sheet.currency,
        repricing=told,
        lines=shown_lines(lines["items"]),
        has_more="next_cursor" in lines,
        looked=looked,
        typed=typed._replace(once=secrets.token_hex(16)),
        hidden=[sku for sku in typed.left_out if sku not in shown],
        hidden_confirmed=[sku for sku in typed.confirmed if sku not in shown],
        to_confirm=_to_confirm(lines["items"], typed.max_change_pct or MOST_CHANGE),
        done=done,
        barely_moved=BARELY_MOVED,
        channels=sheet.codes["channels"],
    )


def _to_confirm(lines: Sequence[Mapping[str, Any]], most: str) -> set[str]:
    """Name the listings whose price would move by more than is taken without asking."""
    try:
        limit = Decimal(most)
    except InvalidOperation:
        return set()
    return {
        line["sku"]
        for line in lines
        if line["outcome"] in ("up", "down")
        and (abs(Decimal(line.get("change_pct", "0"))) > limit or _rises_from_nothing(line))
    }


def _rises_from_nothing(line: Mapping[str, Any]) -> bool:
    return any(
        Decimal(each.get("old_unit_price", "1")) == 0 < Decimal(each["unit_price"])
        for each in line["breaks"]
    )
