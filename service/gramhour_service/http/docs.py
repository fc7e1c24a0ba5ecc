"""GET /openapi.json and /docs: the contract, and pages to browse it, all served from here."""

import asyncio
from functools import cache
from importlib.resources import files

from litestar import Response
from litestar.params import FromPath

from gramhour_service.http.operation import Operation, Parameter, serves
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.wire import JSON, Asked, answered, media_type_wanted, tag_of_body

HTML = "text/html"
ASSETS = {
    "swagger-ui-bundle.js": "text/javascript",
    "swagger-ui.css": "text/css",
    "start.js": "text/javascript",
}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; connect-src 'self'; base-uri 'none'; frame-ancestors 'none'"
)
NAME = Parameter(
    "name",
    "a file of the page",
    {"type": "string", "enum": list(ASSETS)},
    place="path",
    required=True,
    example="start.js",
)


@serves(
    "GET",
    "/openapi.json",
    Operation(
        summary="The contract",
        says="This document: OpenAPI 3.1.",
        scope=None,
        gives={JSON: {"type": "object"}},
        is_conditional=True,
    ),
)
async def openapi(request: Asked) -> Response[bytes]:
    """Answer the contract's document, which is written when it is asked for first."""
    document = await asyncio.to_thread(request.app.state.document)
    return _answered(request, document, JSON)


@serves(
    "GET",
    "/docs",
    Operation(
        summary="The contract, to browse",
        says="A page that shows this document. It loads nothing from elsewhere.",
        scope=None,
        gives={HTML: {"type": "string"}},
        is_conditional=True,
    ),
)
async def page(request: Asked) -> Response[bytes]:
    """Answer the page."""
    return _answered(request, _file("index.html"), HTML)


@serves(
    "GET",
    "/docs/{name:str}",
    Operation(
        summary="A file of that page",
        says="Scripts and styles of the page.",
        scope=None,
        parameters=(NAME,),
        gives={"text/javascript": {"type": "string"}, "text/css": {"type": "string"}},
        is_conditional=True,
    ),
)
async def asset(request: Asked, name: FromPath[str]) -> Response[bytes]:
    """Answer a file of the page."""
    if name not in ASSETS:
        raise refused("no-such-path", "the page has no such file")
    return _answered(request, _file(name), ASSETS[name])


def _answered(request: Asked, body: bytes, media_type: str) -> Response[bytes]:
    Parameters(request, ()).check()
    return answered(
        request,
        body,
        media_type_wanted(request, (media_type,)),
        costs=False,
        tag=tag_of_body(body),
        headers={"Content-Security-Policy": POLICY},
    )


@cache
def _file(name: str) -> bytes:
    return files("gramhour_service").joinpath(f"http/browse/{name}").read_bytes()
