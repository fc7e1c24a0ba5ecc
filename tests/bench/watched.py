"""Run as a program: serves a store as the service does, and says how long its loop was held up.

``GET /held`` answers the CPU milliseconds that passed, at most, between two turns of the event
loop since it was last asked: how long others waited at least, however busy the machine is
otherwise. While nothing goes on, no CPU time passes.
"""

import asyncio
import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
import uvicorn

from gramhour_service.http.running import SETTINGS, _encoded, app, listening_socket
from gramhour_service.http.settings import Settings
from tests.http.door import HERE

BETWEEN_LOOKS = 0.001


class Watch:
    """Stands before the application, and looks at the CPU's clock whenever the loop turns."""

    def __init__(self, served: Any) -> None:
        self._served, self._held = served, 0.0
        self._looking: asyncio.Task[None] | None = None

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if self._looking is None:
            self._looking = asyncio.get_running_loop().create_task(self._look())
        if scope["type"] != "http" or scope["path"] != "/held":
            await self._served(scope, receive, send)
            return
        held, self._held = self._held, 0.0
        start: dict[str, Any] = {"type": "http.response.start", "status": 200, "headers": []}
        await send(start)
        await send({"type": "http.response.body", "body": f"{1_000 * held:.1f}".encode()})

    async def _look(self) -> None:
        before = time.process_time()
        while True:
            await asyncio.sleep(BETWEEN_LOOKS)
            now = time.process_time()
            self._held, before = max(self._held, now - before), now


class Watched(NamedTuple):
    """A service that is watched."""

    port: int

    def held(self) -> float:
        """Say the milliseconds since it was last asked."""
        with urllib.request.urlopen(f"http://{HERE}:{self.port}/held") as answer:
            return float(answer.read())


@contextmanager
def watching(store: Path) -> Iterator[Watched]:
    """Serve a store by one worker of its own, as long as it is watched."""
    command = [sys.executable, "-m", "tests.bench.watched", str(store)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            service = Watched(int(process.stdout.readline()))
            service.held()
            yield service
        finally:
            process.terminate()


def main() -> None:
    store = Path(sys.argv[1])
    settings = Settings(store=store, counts=store.with_name("counts"))
    os.environ[SETTINGS] = msgspec.json.encode(settings, enc_hook=_encoded).decode()
    served = app()
    served.asgi_handler = Watch(served.asgi_handler)
    listening = listening_socket(HERE, 0)
    sys.stdout.write(f"{listening.getsockname()[1]}\n")
    sys.stdout.flush()
    config = uvicorn.Config(
        served, log_level="warning", access_log=False, loop="uvloop", http="httptools"
    )
    uvicorn.Server(config).run(sockets=[listening])


if __name__ == "__main__":
    main()
