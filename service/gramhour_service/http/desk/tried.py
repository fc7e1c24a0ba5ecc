"""What a change of the rates would do, before it is saved: to the sheet, and to what is listed."""

import asyncio
from collections.abc import Mapping
from typing import Any, NamedTuple

from gramhour.contract.problem import Problem
from gramhour_service.http.desk.api import ask
from gramhour_service.http.desk.serving import needed
from gramhour_service.http.desk.sheet import Sheet
from gramhour_service.http.wire import Asked

LOOKS, BETWEEN_LOOKS = 24, 0.25
"""How often, and after how many seconds each time, a run is looked at."""


class Tried(NamedTuple):
    """What would come of a change: the sheet's side, and a repricing by it, or why not."""

    problem: Problem | None
    changes: Mapping[str, Any] | None
    repricing: Mapping[str, Any] | None = None
    no_repricing: str = ""


async def tried(
    request: Asked, sheet: Sheet, change: Mapping[str, Any], on: str, note: str
) -> Tried:
    """Try a change: nothing is saved."""
    dated = {name: value for name, value in (("effective_from", on), ("note", note)) if value}
    sent = {"changes": [change], "based_on_revision": sheet.revision, **dated}
    told = await ask(request, "POST", "/v1/rate-changes", query={"trial": "true"}, sent=sent)
    if told.problem is not None:
        return Tried(told.problem, None)
    if not request.state.desk.may("listings"):
        return Tried(None, told.document, no_repricing="it needs a key with scope listings")
    run = {"proposed": [change], "note": f"tried: {change['kind']} {change['code']}"}
    priced = await ask(
        request, "POST", "/v1/repricings", sent={**run, **({"rates_on": on} if on else {})}
    )
    if priced.problem is not None:
        return Tried(None, told.document, no_repricing=priced.problem.detail)
    return Tried(None, told.document, await _when_finished(request, priced.document))


async def _when_finished(request: Asked, run: Mapping[str, Any]) -> Mapping[str, Any]:
    """Wait a while for a repricing, whose few figures are what one wants to see here."""
    for _ in range(LOOKS):
        if run["state"] != "running":
            break
        await asyncio.sleep(BETWEEN_LOOKS)
        run = needed(await ask(request, "GET", f"/v1/repricings/{run['id']}"))
    return run
