"""The service in a process of its own that counts batch requests, and may kill itself midway."""

import os
import signal
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import uvicorn

from gramhour_service.http.app import create_app
from gramhour_service.http.running import listening_socket
from gramhour_service.http.settings import Settings


class Counted:
    """An ASGI application around another: notes requests and answers of batches, line by line."""

    def __init__(self, app: Any, file: Path, dies_after: int) -> None:
        self.app, self.file, self.dies_after = app, file, dies_after
        self.answered = 0

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope.get("path") != "/v1/quotes/batch":
            await self.app(scope, receive, send)
            return
        body = bytearray()

        async def counted_receive() -> Any:
            message = await receive()
            body.extend(message.get("body", b""))
            if not message.get("more_body", False) and body:
                with self.file.open("a") as file:
                    file.write(f"{len(bytes(body).splitlines())}\n")
                body.clear()
            return message

        async def counted_send(message: Any) -> None:
            await send(message)
            self.answered += message.get("body", b"").count(b"\n")
            if self.dies_after and self.answered >= self.dies_after:
                os.kill(os.getpid(), signal.SIGKILL)

        await self.app(scope, counted_receive, counted_send)


def serve_counted(store: Path, port: int, file: Path, dies_after: int, told: Connection) -> None:
    """Serve on a port, any if it is 0, and tell which as soon as it listens.

    It counts into a file, and dies after so many answers unless that is 0.
    """
    app = Counted(create_app(Settings(store=store)), file, dies_after)
    listening = listening_socket("127.0.0.1", port)
    listening.listen()
    told.send(listening.getsockname()[1])
    uvicorn.Server(uvicorn.Config(app, log_level="warning")).run(sockets=[listening])
