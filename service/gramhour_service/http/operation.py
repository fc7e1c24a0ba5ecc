"""What a route tells of itself: whom it lets in, and what the contract's document says of it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from litestar.connection import ASGIConnection
from litestar.handlers import HTTPRouteHandler

from gramhour.contract.members import CODE_PATTERN, SKU_PATTERN
from gramhour_service.http.asking import Scope
from gramhour_service.http.settings import MOST_BODY_BYTES

Schema = Mapping[str, Any]
Method = Literal["GET", "POST", "PUT", "DELETE"]


@dataclass(frozen=True, slots=True)
class Parameter:
    """A query or path parameter, and the schema of its value."""

    name: str
    says: str
    schema: Schema
    place: Literal["query", "path", "header"] = "query"
    required: bool = False
    example: str | int | None = None


@dataclass(frozen=True, slots=True)
class Operation:
    """An operation of the contract.

    ``takes`` and ``gives`` map media types to a type of the contract, or to a schema as it
    stands. ``refusals`` are the types of problems of its own; those that any may give are added.
    ``also`` are further statuses of success, and when they are given; ``headers`` those that a
    caller may send. ``cells`` lets this machine's spreadsheets in, if the service does.
    """

    summary: str
    says: str
    scope: Scope | None
    gives: Mapping[str, Any]
    takes: Mapping[str, Any] = field(default_factory=dict)
    parameters: Sequence[Parameter] = ()
    refusals: Sequence[str] = ()
    examples: Mapping[str, Any] = field(default_factory=dict)
    also: Mapping[int, str] = field(default_factory=dict)
    headers: Sequence[Parameter] = ()
    is_conditional: bool = False
    cells: bool = False
    most_body_bytes: int = MOST_BODY_BYTES


class Route(HTTPRouteHandler):
    """A route that its guards are shown as it is: the framework copies it for each request."""

    async def authorize_connection(self, connection: ASGIConnection[Any, Any, Any, Any]) -> None:
        """Have all guards look at who asks."""
        for guard in self.resolve_guards():
            await guard(connection, self)  # type: ignore[misc]


def serves(method: Method, path: str, operation: Operation) -> Callable[[Any], HTTPRouteHandler]:
    """Make a function the handler of an operation; what answers GET answers HEAD too."""
    return Route(
        path,
        http_method=["GET", "HEAD"] if method == "GET" else [method],
        status_code=200,
        request_max_body_size=operation.most_body_bytes,
        opt={"scope": operation.scope, "cells": operation.cells, "operation": operation},
        include_in_schema=False,
    )


CODE_TEXT: Schema = {"type": "string", "pattern": f"^{CODE_PATTERN}$"}
SKU_TEXT: Schema = {"type": "string", "pattern": f"^{SKU_PATTERN}$"}
BOOLEAN: Schema = {"type": "string", "enum": ["true", "false"], "default": "false"}
VIEW = Parameter(
    "view", "what a customer would see, or costs too", {"type": "string", "enum": ["cost", "price"]}
)
EXPLAIN = Parameter(
    "explain", "each figure with its rule, its working and its inputs (cost view)", BOOLEAN
)
RATES_REVISION = Parameter(
    "rates_revision",
    "the stored rates as known at this revision; else the newest",
    {"type": "integer", "minimum": 1, "maximum": 999_999_999},
)
RATES_ON = Parameter(
    "rates_on",
    "the day whose rates count; else today in the shop's time zone",
    {"type": "string", "format": "date"},
)
