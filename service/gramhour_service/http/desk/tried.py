"""What a change of the rates would do, before it is saved: to the sheet, and to what is listed."""

import asyncio
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from gramhour.contract.problem import Problem
from gramhour_service.http.desk.api import Told, ask
from gramhour_service.http.desk.serving import needed
from gramhour_service.http.desk.sheet import Sheet
from gramhour_service.http.wire import Asked

LOOKS, BETWEEN_LOOKS = 24, 0.25
"""How often, and after how many seconds each time, a run is looked at."""


class Tried(NamedTuple):
    """What would come of a change: the sheet's side, and a repricing by it, or why not.

    ``without`` is the same repricing without the change: what was saved before and is not yet
    applied moves prices, too.
    """

    problem: Problem | None
    changes: Mapping[str, Any] | None
    repricing: Mapping[str, Any] | None = None
    no_repricing: str = ""
    without: Mapping[str, Any] | None = None


async def tried(
    request: Asked, sheet: Sheet, change: Mapping[str, Any], on: str, note: str
) -> Tried:
    """Try a change: nothing is saved."""
    told = await _trial(request, sheet, change, on, note)
    if told.problem is not None:
        return Tried(told.problem, None)
    if not told.document["changes"]:
        return Tried(None, told.document)
    if not request.state.desk.may("listings"):
        return Tried(None, told.document, no_repricing="it needs a key with scope listings")
    name = f"{change['kind']} {change['code']}"
    run = await _repriced(request, on, {"proposed": [change], "note": f"tried: {name}"})
    if run.problem is not None:
        return Tried(None, told.document, no_repricing=run.problem.detail)
    moves = await _when_finished(request, run.document)
    if not _moves_any(moves):
        return Tried(None, told.document, moves)
    before = await _repriced(request, on, {"note": f"as saved, beside what was tried: {name}"})
    if before.problem is not None:
        return Tried(None, told.document, moves)
    without = await _when_finished(request, before.document)
    return Tried(None, told.document, moves, without=without if _moves_any(without) else None)


async def cautions_on(
    request: Asked, sheet: Sheet, change: Mapping[str, Any], on: str
) -> Sequence[Mapping[str, str]]:
    """Say what of a change is hardly meant; nothing of one that cannot be saved."""
    told = await _trial(request, sheet, change, on, "asked before it is saved")
    return () if told.problem is not None else told.document.get("cautions", ())


async def _trial(
    request: Asked, sheet: Sheet, change: Mapping[str, Any], on: str, note: str
) -> Told:
    dated = {name: value for name, value in (("effective_from", on), ("note", note)) if value}
    sent = {"changes": [change], "based_on_revision": sheet.revision, **dated}
    return await ask(request, "POST", "/v1/rate-changes", query={"trial": "true"}, sent=sent)


async def _repriced(request: Asked, on: str, asked: Mapping[str, Any]) -> Told:
    dated = {"rates_on": on} if on else {}
    return await ask(request, "POST", "/v1/repricings", sent={**asked, **dated})


def _moves_any(run: Mapping[str, Any]) -> bool:
    """Say whether a repricing moves prices, or may yet."""
    counts = run["counts"]
    return bool(counts["up"] or counts["down"] or run["state"] == "running")


async def _when_finished(request: Asked, run: Mapping[str, Any]) -> Mapping[str, Any]:
    """Wait a while for a repricing, whose few figures are what one wants to see here."""
    for _ in range(LOOKS):
        if run["state"] != "running":
            break
        await asyncio.sleep(BETWEEN_LOOKS)
        run = needed(await ask(request, "GET", f"/v1/repricings/{run['id']}"))
    return run
