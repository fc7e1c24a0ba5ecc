"""Run as a program: sends back what it is sent, served as the service is, and tells its port.

``bare`` is the server alone: what the goals name. ``framework`` does the same by the web framework
that the service is made with, as little as that can do: no service made with it costs less.
"""

import socket
import sys
from typing import Any

import uvicorn
from litestar import Litestar, Request, Response, route


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


@route(["/v1/quotes", "/v1/unit-price"], http_method=["GET", "POST"], status_code=200)
async def echoed(request: Request[Any, Any, Any]) -> Response[bytes]:
    """Answer with the body of the request."""
    return Response(await request.body(), media_type="application/json")


def main() -> None:
    framework = Litestar([echoed], openapi_config=None, logging_config=None)
    answering: Any = {"bare": echo, "framework": framework}[sys.argv[1]]
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    listening.listen(2048)
    sys.stdout.write(f"{listening.getsockname()[1]}\n")
    sys.stdout.flush()
    config = uvicorn.Config(
        answering,
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
