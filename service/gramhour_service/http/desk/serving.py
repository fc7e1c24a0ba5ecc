"""The desk's routes: each lets in who is signed in, and takes a form only with its token.

A form that is sent after its sign-in has ended is not lost: the page that asks to sign in again
keeps what was typed, and hands it on.
"""

from collections.abc import Callable, Mapping
from functools import partial
from http import HTTPStatus
from typing import Any, NamedTuple
from urllib.parse import parse_qs, urlencode

from litestar import Response, route
from litestar.handlers import HTTPRouteHandler

from gramhour.contract.problem import Refused
from gramhour_service.http.desk.api import Told
from gramhour_service.http.desk.sign_in import (
    READS,
    TOKEN,
    AtDesk,
    SignInNeeded,
    admit_at_desk,
    check_token,
)
from gramhour_service.http.operation import Method
from gramhour_service.http.problems import refused
from gramhour_service.http.settings import MOST_FORM_BYTES
from gramhour_service.http.site.serving import page, refused_page
from gramhour_service.http.wire import OF_COSTS, Asked, query_asked, read
from gramhour_service.pages.desk.sent import Sent

FORM = "application/x-www-form-urlencoded"
MOST_FIELDS = 20_000
SIGN_IN = "/desk/sign-in"
PART = "x-desk-part"
"""A header by which a script of the desk asks for the changing part of a page only."""


class Form(NamedTuple):
    """A form as it was sent."""

    fields: Sent

    def one(self, name: str) -> str:
        """Read a field that has one value; empty if it is not there."""
        return self.fields.get(name, [""])[0].strip()


def serves_desk(method: Method, path: str) -> Callable[[Any], HTTPRouteHandler]:
    """Make a function the handler of a page of the desk."""
    return route(
        path,
        http_method=["GET", "HEAD"] if method == "GET" else [method],
        status_code=200,
        request_max_body_size=MOST_FORM_BYTES,
        before_request=let_in,
        opt={"scope": None, "cells": False},
        exception_handlers={Exception: refused_page},
        include_in_schema=False,
    )


async def let_in(request: Asked) -> Response[bytes] | None:
    """Let in who is signed in; from others keep what they sent, until they are again."""
    try:
        admit_at_desk(request)
    except SignInNeeded as needed:
        if request.method in READS and PART not in request.headers:
            path, asked = request.scope["path"], query_asked(request)
            asked = f"{path}?{asked}" if asked else path
            query = {"next": asked, **({"ended": "true"} if needed.has_ended else {})}
            return go_to(SIGN_IN, query)
        return sign_in_page(
            request,
            status=HTTPStatus.UNAUTHORIZED,
            says="Your sign-in has ended. Sign in again; what you typed is kept.",
            then=request.scope["path"],
            kept=None if request.method in READS else await fields_of(request),
        )
    return None


async def fields_of(request: Asked) -> Form:
    """Read a form. Raises ``Refused`` if it is none."""
    if request.content_type[0] != FORM:
        raise refused("unsupported-media-type", f"send a form, as {FORM}")
    body = await request.body()
    try:
        return await read(body, partial(_fields, body))
    except ValueError:
        raise refused("malformed-document", "this is no form, or has too many fields") from None


def _fields(body: bytes) -> Form:
    return Form(
        parse_qs(body.decode(), keep_blank_values=True, max_num_fields=MOST_FIELDS, errors="strict")
    )


async def form_sent(request: Asked) -> Form:
    """Read a form of whoever is signed in. Raises ``Refused`` if it lacks their token."""
    form = await fields_of(request)
    check_token(request.state.desk, form.one(TOKEN))
    return form


def desk_page(
    request: Asked, template: str, *, status: int = HTTPStatus.OK, **values: object
) -> Response[bytes]:
    """Answer a page of the desk, or only its part that changes, if a script asks for that."""
    desk: AtDesk = request.state.desk
    is_part = PART in request.headers
    path = request.scope["path"]
    return page(
        request, f"desk/{template}", costs=True, status=status,
        desk=desk, token_name=TOKEN, is_part=is_part, path=path, **values,
    )  # fmt: skip


def go_to(place: str, query: Mapping[str, str] | None = None) -> Response[bytes]:
    """Send the browser to another page."""
    where = f"{place}?{urlencode(query)}" if query else place
    headers = {"Location": where, "Cache-Control": OF_COSTS}
    return Response(b"", status_code=HTTPStatus.SEE_OTHER, headers=headers)


def sign_in_page(
    request: Asked,
    *,
    status: int = HTTPStatus.OK,
    says: str = "",
    then: str = "/desk",
    kept: Form | None = None,
    fault: str = "",
) -> Response[bytes]:
    """Answer the page for signing in; ``kept`` are fields of a form to be handed on."""
    fields = {} if kept is None else kept.fields
    handed_on = [
        (name, value) for name, values in fields.items() if name != TOKEN for value in values
    ]
    return page(
        request, "desk/sign-in.html", costs=True, status=status,
        says=says, then=then, kept=handed_on, fault=fault,
    )  # fmt: skip


def needed(told: Told) -> Any:
    """Take the document that a page cannot do without. Raises ``Refused``."""
    if told.problem is not None:
        kind = told.problem.type.removeprefix("/problems/")
        raise Refused(kind, tuple(told.problem.errors))
    return told.document
