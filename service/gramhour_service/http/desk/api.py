"""How the desk asks the service: by the contract's own routes, as whoever is signed in.

A page shows what a route answers, to the letter, so that the desk can say nothing else than the
contract does. The request goes to the application itself, with no socket between; who asks is
told beside its headers, where no caller from outside can put anything.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple
from urllib.parse import quote, urlencode

import msgspec
from litestar.types import Message

from gramhour.contract.problem import Problem
from gramhour_service.http.asking import ASKED_BY
from gramhour_service.http.problems import MEDIA_TYPE
from gramhour_service.http.wire import JSON, Asked

REFUSALS = 400


class Told(NamedTuple):
    """What a route answered: its status, tag and place, and the document or the refusal."""

    status: int
    headers: Mapping[str, str]
    document: Any
    problem: Problem | None

    @property
    def tag(self) -> str:
        """The answer's ``ETag``."""
        return self.headers.get("etag", "")


async def ask(
    request: Asked,
    method: str,
    path: str,
    *,
    query: Mapping[str, object] | None = None,
    sent: Any = None,
    headers: Mapping[str, str] | None = None,
) -> Told:
    """Ask a route as whoever is signed in; ``query`` leaves out what is empty."""
    body = b"" if sent is None else msgspec.json.encode(sent)
    told = {"accept": JSON, **(headers or {})}
    if sent is not None:
        told |= {"content-type": JSON, "content-length": str(len(body))}
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "scheme": request.scope["scheme"],
        "path": path,
        "raw_path": quote(path).encode(),
        "query_string": urlencode({k: v for k, v in (query or {}).items() if v}).encode(),
        "root_path": "",
        "headers": [(name.encode(), value.encode()) for name, value in told.items()],
        "client": None,
        "server": request.scope["server"],
        ASKED_BY: request.state.asker,
    }
    return await _answered(request.app, scope, body)


async def _answered(app: Any, scope: dict[str, Any], body: bytes) -> Told:
    parts, status, headers = [], 0, dict[str, str]()
    waiting = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive() -> Any:
        return waiting.pop() if waiting else {"type": "http.disconnect"}

    async def send(message: Message) -> None:
        nonlocal status, headers
        if message["type"] == "http.response.start":
            status = message["status"]
            headers = {name.decode().lower(): value.decode() for name, value in message["headers"]}
        elif message["type"] == "http.response.body":
            parts.append(message["body"])

    await app(scope, receive, send)
    answer = b"".join(parts)
    if status >= REFUSALS:
        assert headers["content-type"] == MEDIA_TYPE, headers
        return Told(status, headers, None, msgspec.json.decode(answer, type=Problem))
    return Told(status, headers, msgspec.json.decode(answer) if answer else None, None)
