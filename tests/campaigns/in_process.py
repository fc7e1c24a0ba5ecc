"""An application asked with bytes as they come over the wire, with no client that tidies them."""

import asyncio
import tempfile
from pathlib import Path
from typing import Any, NamedTuple

from litestar import Request

from gramhour.contract.rates import RateSheet
from gramhour_service.http.app import create_app
from gramhour_service.http.measurements import measurements
from gramhour_service.http.settings import Settings
from tests.http import canaries, canary_shop
from tests.http.canaries import CANARY
from tests.http.door import NOW, Headers, make_shop, scope_of, secret

FAULT = 500


class Answer(NamedTuple):
    """What came back."""

    status: int
    headers: dict[bytes, bytes]
    body: bytes


def request_of(app: Any, headers: Headers, body: bytes = b"") -> Request[Any, Any, Any]:
    """Make a request as handlers are given one."""
    waiting = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive() -> Any:
        return waiting.pop() if waiting else {"type": "http.disconnect"}

    async def send(_: Any) -> None:
        raise AssertionError("nothing is answered")

    scope: Any = scope_of("POST", "/", b"", headers)
    scope |= {"litestar_app": app, "route_handler": measurements}
    return Request(scope, receive, send)


class Shop:
    """The shop of the canaries (or another sheet's), in this process.

    A fault of the service is raised.
    """

    def __init__(self, sheet: RateSheet | None = None) -> None:
        self._folder = tempfile.TemporaryDirectory()
        path = make_shop(Path(self._folder.name) / "gramhour.sqlite", sheet or canaries.sheet())
        if sheet is None:
            canary_shop.stock(path)
        settings = Settings(
            store=path,
            public_quotes=True,
            quotes_a_minute=10**9,
            prices_a_minute=10**9,
            wrong_keys_a_minute=10**9,
        )
        self.app: Any = create_app(settings, lambda: NOW)
        self._runner = asyncio.Runner()

    def ask(
        self,
        method: str,
        path: str,
        *,
        key: str | None = "listings",
        query: bytes = b"",
        headers: Headers | None = None,
        body: bytes = b"",
    ) -> Answer:
        """Ask with the key of a name."""
        told = [] if key is None else [(b"authorization", f"Bearer {secret(key)}".encode())]
        told += [(b"content-length", str(len(body)).encode()), *(headers or [])]
        answer: Answer = self.run(self._asked(scope_of(method, path, query, told), body))
        return answer

    def find_canaries(self, answer: Answer, sent: bytes) -> None:
        """Make sure that an answer holds no rate of the shop's; what was sent may come back."""
        found = CANARY.findall(answer.body.decode("utf-8", "replace").lower().replace(".", ""))
        known = sent.decode("utf-8", "replace").lower().replace(".", "")
        assert not [each for each in found if each not in known], answer

    def run(self, work: Any) -> Any:
        """Wait for something that is awaited."""
        return self._runner.run(work)

    async def _asked(self, scope: dict[str, Any], body: bytes) -> Answer:
        status, headers, parts = 0, dict[bytes, bytes](), list[bytes]()
        waiting = [{"type": "http.request", "body": body, "more_body": False}]

        async def receive() -> Any:
            return waiting.pop() if waiting else {"type": "http.disconnect"}

        async def send(message: Any) -> None:
            nonlocal status, headers
            if message["type"] == "http.response.start":
                status, headers = message["status"], dict(message["headers"])
            elif message["type"] == "http.response.body":
                parts.append(message.get("body", b""))

        await self.app(scope, receive, send)
        if status == FAULT:
            raise AssertionError(b"".join(parts))
        return Answer(status, headers, b"".join(parts))
