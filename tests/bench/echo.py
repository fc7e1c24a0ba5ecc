"""Run as a program: sends back what it is sent, served as the service is, and tells its port."""

import socket
import sys
from typing import Any

import uvicorn


async def echo(scope: Any, receive: Any, send: Any) -> None:
    """Answer with the body of the request."""
    assert scope["type"] == "http"
    body, more = b"", True
    while more:
        event = await receive()
        body += event.get("body", b"")
        more = event.get("more_body", False)
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def main() -> None:
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    listening.listen(2048)
    sys.stdout.write(f"{listening.getsockname()[1]}\n")
    sys.stdout.flush()
    config = uvicorn.Config(
        echo,
        lifespan="off",
        proxy_headers=False,
        log_level="warning",
        access_log=False,
        server_header=False,
        loop="uvloop",
        http="httptools",
    )
    uvicorn.Server(config).run(sockets=[listening])


if __name__ == "__main__":
    main()
