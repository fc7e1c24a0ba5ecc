"""/desk/rates/{kind}/{code}: one rate: its past, a form to change it, to try that, to save it.

Who saves says by a tag which value they saw. If another one holds by then, or on the day that they
name, nothing is saved: what differs is shown beside what was typed, and it is for a person to say
which is to hold. Where none holds on that day, they are asked if it is to be new from then on.
"""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from litestar import Response
from litestar.params import FromPath

from gramhour.contract.problem import Fault, Problem
from gramhour_service.http.desk.api import Told, ask
from gramhour_service.http.desk.serving import Form, desk_page, form_sent, needed, serves_desk
from gramhour_service.http.desk.sheet import Sheet, sheet_of
from gramhour_service.http.desk.tried import Tried, cautions_on, tried
from gramhour_service.http.problems import refused
from gramhour_service.http.wire import Asked
from gramhour_service.pages.desk.forms import ABSENT, form_of
from gramhour_service.pages.desk.plan import Member
from gramhour_service.pages.desk.rate_form import VALUE, rate_form
from gramhour_service.pages.desk.rows import with_changed_rows
from gramhour_service.pages.desk.sent import document_of
from gramhour_service.pages.desk.words import A_CODE
from gramhour_service.sheets.history import Past, past_of

PATH = "/desk/rates/{kind:str}/{code:str}"
NEW = "new"
MOST_PAST = 50
CHANGED_MEANWHILE = 412
AS_NEW = "*"
"""The tag of a rate that there is not yet."""


class Rate(NamedTuple):
    """The rate that a page is about: its form, kind and code (none yet, of a new one)."""

    member: Member
    kind: str
    code: str

    @property
    def place(self) -> str:
        """Say where the contract has it."""
        return f"/v1/rates/{self.kind}/{self.code}"


class Shown(NamedTuple):
    """What the page shows beside the rate: what was typed, seen and done."""

    value: Any
    tag: str = ""
    effective_from: str = ""
    note: str = ""
    says: str = ""
    problem: Problem | None = None
    saved: Mapping[str, Any] | None = None
    tried: Tried | None = None
    now: Told | None = None
    is_as_opened: bool = False
    cautions: Sequence[Mapping[str, str]] = ()
    code_fault: str = ""


@serves_desk("GET", PATH)
async def rate(request: Asked, kind: FromPath[str], code: FromPath[str]) -> Response[bytes]:
    """Answer a rate as it is on a day, or an empty form for a new one."""
    found = _rate(kind, code)
    on = request.query_params.get("on", "").strip()
    sheet = await sheet_of(request, on)
    if not found.code:
        return await _page(request, sheet, found, Shown({}, effective_from=on))
    told = await ask(request, "GET", found.place, query={"rates_on": on})
    value = ABSENT if found.kind == "shop" and told.problem else needed(told)["value"]
    return await _page(request, sheet, found, Shown(value, told.tag, on))


@serves_desk("POST", PATH)
async def change_rate(request: Asked, kind: FromPath[str], code: FromPath[str]) -> Response[bytes]:
    """Try a change, save it, take the rate away, or add and remove rows of the form."""
    form = await form_sent(request)
    found = _rate(kind, code)
    if not found.code:
        found = found._replace(code=form.one("code"))
    on = form.one("effective_from")
    sheet = await sheet_of(request)
    is_changed = bool(form.one("add") or form.one("remove"))
    value = document_of(found.member, form.fields, VALUE, keep_empty=is_changed)
    typed = Shown(value, form.one("tag"), on, form.one("note"))
    if is_changed:
        shown = typed._replace(value=_with_rows(value, form))
    elif not found.code:
        shown = typed._replace(code_fault="Give it a code first.")
    elif form.one("do") == "try":
        shown = typed._replace(tried=await _tried(request, found, sheet, typed))
    elif form.one("do") == "take away":
        shown = await _done(request, "DELETE", found, typed)
    else:
        typed = typed._replace(tag=form.one("over") or typed.tag)
        stands = form.one("do") == "save as it stands"
        cautions = () if stands else await cautions_on(request, sheet, _change(found, typed), on)
        if cautions:
            shown = typed._replace(cautions=cautions)
        else:
            shown = await _done(request, "PUT", found, typed)
    return await _page(request, sheet, found, shown)


def _rate(kind: str, code: str) -> Rate:
    member = rate_form(kind, code)
    if member is None:
        raise refused("unknown-rate", "there is no such rate")
    return Rate(member, kind, "" if code == NEW else code)


def _with_rows(value: Any, form: Form) -> Any:
    """Add or take away a row of what was typed."""
    document = {"value": {} if value is ABSENT else value}
    return with_changed_rows(document, form.one("add"), form.one("remove"))["value"]


async def _tried(request: Asked, rate: Rate, sheet: Sheet, typed: Shown) -> Tried:
    return await tried(request, sheet, _change(rate, typed), typed.effective_from, typed.note)


def _change(rate: Rate, typed: Shown) -> dict[str, Any]:
    return {"kind": rate.kind, "code": rate.code, "value": _sent(typed.value)}


async def _done(request: Asked, method: str, rate: Rate, typed: Shown) -> Shown:
    """Save a rate or take it away, if it is as it was seen."""
    told = await ask(
        request, method, rate.place,
        query={"effective_from": typed.effective_from, "note": typed.note},
        sent=_sent(typed.value) if method == "PUT" else None,
        headers={"if-none-match": AS_NEW} if typed.tag in ("", AS_NEW) else {"if-match": typed.tag},
    )  # fmt: skip
    if told.problem is None:
        says = "It is saved." if method == "PUT" else "It is gone from that day on."
        return typed._replace(tag=told.tag, saved=told.document or {}, says=says, note="")
    if told.status != CHANGED_MEANWHILE:
        return typed._replace(problem=told.problem)
    now = await ask(request, "GET", rate.place, query={"rates_on": typed.effective_from})
    opened_on = request.query_params.get("on", "").strip()
    opened = await ask(request, "GET", rate.place, query={"rates_on": opened_on})
    is_as_opened = bool(typed.tag) and opened.tag == typed.tag
    return typed._replace(problem=told.problem, now=now, is_as_opened=is_as_opened)


def _sent(value: Any) -> Any:
    return {} if value is ABSENT else value


async def _page(request: Asked, sheet: Sheet, rate: Rate, shown: Shown) -> Response[bytes]:
    problem = shown.problem or (shown.tried.problem if shown.tried else None)
    told = () if problem is None else problem.errors
    is_trial = shown.problem is None
    faults = [_in_form(fault, is_trial=is_trial) for fault in told if not _is_of_code(fault)]
    field = form_of(rate.member, shown.value, sheet.codes, faults, VALUE)
    return desk_page(
        request,
        "rate.html",
        sheet=sheet,
        currency=sheet.currency,
        rate=rate,
        field=field,
        shown=shown,
        faults=faults,
        problem=problem,
        code_fault=shown.code_fault or (A_CODE if any(map(_is_of_code, told)) else ""),
        past=_past(request, rate),
        differs=_differing(shown),
    )


def _past(request: Asked, rate: Rate) -> list[Past]:
    if not rate.code:
        return []
    shop = request.app.state.shop
    return shop.read(lambda store: past_of(store, (rate.kind, rate.code), MOST_PAST)) or []


def _is_of_code(fault: Fault) -> bool:
    """Say whether a fault is about what the rate is called."""
    return fault.parameter == "code" or fault.pointer == "/changes/0/code"


def _in_form(fault: Fault, *, is_trial: bool) -> Fault:
    """Say where a fault of the rate stands in its form; a trial points to its day and note, too."""
    where = fault.pointer if isinstance(fault.pointer, str) else ""
    if fault.parameter in ("effective_from", "note"):
        return Fault(f"/{fault.parameter}", fault.detail)
    if is_trial and where and not where.startswith("/changes/0"):
        return fault
    where = where.removeprefix("/changes/0").removeprefix(VALUE)
    return Fault(VALUE + where, fault.detail)


def _differing(shown: Shown) -> list[tuple[str, Any, Any]]:
    """List where what was typed differs from what holds by now: member, now, typed."""
    if shown.now is None or shown.now.document is None:
        return []
    now, typed = shown.now.document["value"], _sent(shown.value)
    if not isinstance(now, dict) or not isinstance(typed, dict):
        return [("", now, typed)]
    names = dict.fromkeys([*now, *typed])
    return [
        (name, now.get(name, ""), typed.get(name, ""))
        for name in names
        if str(now.get(name, "")) != str(typed.get(name, ""))
    ]
