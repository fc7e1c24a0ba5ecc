"""OPTIONS on every path: what can be done there. Spreadsheets ask it before each cell."""

from collections.abc import Iterable

from litestar import Response, route
from litestar.handlers import HTTPRouteHandler

from gramhour_service.http.wire import Asked


def options_of(handlers: Iterable[HTTPRouteHandler]) -> list[HTTPRouteHandler]:
    """Make a handler of OPTIONS for each path, which lists the methods of all its handlers."""
    methods: dict[str, set[str]] = {}
    for handler in handlers:
        for path in handler.paths:
            methods.setdefault(path, {"OPTIONS"}).update(map(str, handler.http_methods))
    return [_options(path, ", ".join(sorted(allowed))) for path, allowed in methods.items()]


def _options(path: str, allowed: str) -> HTTPRouteHandler:
    @route(path, http_method="OPTIONS", status_code=204, opt={"scope": None, "cells": False})
    async def options(request: Asked) -> Response[None]:  # noqa: ARG001 (handed by the framework)
        return Response(None, status_code=204, headers={"Allow": allowed})

    return options
