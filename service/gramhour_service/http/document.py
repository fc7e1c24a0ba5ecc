"""Writes the contract's document (OpenAPI 3.1) from what each route tells of itself.

``python -m gramhour_service.http contract > openapi/openapi.json`` writes the committed one; a
test compares. Nothing in it depends on time, place or order of hashing.
"""

from collections.abc import Iterable
from functools import cache
from http import HTTPStatus
from typing import Any

import msgspec
from litestar.handlers import HTTPRouteHandler

from gramhour.contract.problem import Problem
from gramhour_service.http.operation import Operation, Parameter
from gramhour_service.http.problem_types import PROBLEMS
from gramhour_service.http.problems import MEDIA_TYPE
from gramhour_service.http.schemas import Schemas

TITLE = "Gramhour"
SAYS = (
    "What one unit of a 3D-printed product costs and what to ask for it: for people who run a "
    "small business on desktop material-extrusion printers, on every channel, for 1, 10 or 100. "
    "Money and percentages are decimal strings in answers; in requests they may be strings or "
    "numbers and are read exactly."
)
OF_ANY = (
    "malformed-host",
    "internal-error",
    "method-not-allowed",
    "service-busy",
    "took-too-long",
)
OF_KEYS = (
    "key-needed",
    "key-may-not",
    "too-many-requests",
    "store-unavailable",
    "store-busy",
)
OF_QUERIES = ("invalid-request", "not-acceptable")
OF_BODIES = (
    "malformed-document",
    "body-too-large",
    "unsupported-media-type",
    "invalid-request",
    "invalid-rates",
)
CONDITIONAL = {
    "name": "If-None-Match",
    "in": "header",
    "description": "the ETag of an earlier answer; 304 if it still holds",
    "schema": {"type": "string"},
}
ANSWER_HEADERS = {
    "Cache-Control": {"schema": {"type": "string"}},
    "Vary": {"schema": {"type": "string"}},
}


def document_of(handlers: Iterable[HTTPRouteHandler]) -> bytes:
    """Write the document of all operations."""
    return _written(tuple(handlers))


@cache
def _written(handlers: tuple[HTTPRouteHandler, ...]) -> bytes:
    schemas = Schemas()
    paths: dict[str, Any] = {}
    for handler in handlers:
        operation: Operation = handler.opt["operation"]
        (path,) = handler.paths
        told = _operation(operation, schemas)
        methods = sorted(str(method) for method in handler.http_methods)
        entry = paths.setdefault(path.replace(":str}", "}"), {})
        for method in methods:
            name = _id(method, path)
            entry[method.lower()] = (
                {"operationId": name, **told}
                if method != "HEAD"
                else _head({"operationId": name, **told})
            )
    document = {
        "openapi": "3.1.0",
        "info": {"title": TITLE, "description": SAYS, "version": "0.1.0"},
        "paths": paths,
        "components": {
            "schemas": schemas.components(),
            "securitySchemes": {
                "key": {"type": "http", "scheme": "bearer", "description": "gramhour keys add"}
            },
        },
    }
    return msgspec.json.format(msgspec.json.encode(document), indent=1) + b"\n"


def _operation(operation: Operation, schemas: Schemas) -> dict[str, Any]:
    parameters = [_parameter(each) for each in (*operation.parameters, *operation.headers)]
    if operation.is_conditional:
        parameters.append(CONDITIONAL)
    told: dict[str, Any] = {
        "summary": operation.summary,
        "description": _description(operation),
        "parameters": parameters,
        "responses": _responses(operation, schemas),
    }
    if operation.takes:
        told["requestBody"] = {"required": True, "content": _bodies(operation, schemas)}
    if operation.scope is not None:
        told["security"] = [{"key": []}, {}] if operation.scope == "price" else [{"key": []}]
    return told


def _description(operation: Operation) -> str:
    scope = f" Needs scope `{operation.scope}`." if operation.scope else " Needs no key."
    return operation.says + scope


def _head(operation: dict[str, Any]) -> dict[str, Any]:
    """Describe HEAD: the answer of GET without its body."""
    responses = {
        status: {name: value for name, value in response.items() if name != "content"}
        for status, response in operation["responses"].items()
    }
    return {**operation, "responses": responses}


def _id(method: str, path: str) -> str:
    words = path.replace("/v1", "").replace(":str", "").strip("/").replace("/", " ")
    return "-".join((method.lower(), *words.replace("{", "").replace("}", "").split())).replace(
        ".", "-"
    )


def _parameter(parameter: Parameter) -> dict[str, Any]:
    told: dict[str, Any] = {
        "name": parameter.name,
        "in": parameter.place,
        "description": parameter.says,
        "required": parameter.required,
        "schema": parameter.schema,
    }
    if parameter.example is not None:
        told["example"] = parameter.example
    return told


def _bodies(operation: Operation, schemas: Schemas) -> dict[str, Any]:
    bodies = {}
    for media_type, takes in operation.takes.items():
        body: dict[str, Any] = {"schema": schemas.of(takes)}
        if operation.examples and media_type == "application/json":
            body["examples"] = {
                name: {"value": example} for name, example in operation.examples.items()
            }
        bodies[media_type] = body
    return bodies


def _responses(operation: Operation, schemas: Schemas) -> dict[str, Any]:
    headers = dict(ANSWER_HEADERS)
    if operation.is_conditional:
        headers["ETag"] = {"schema": {"type": "string"}}
    responses: dict[str, Any] = {
        "200": {
            "description": operation.summary,
            "headers": headers,
            "content": {
                media_type: {"schema": schemas.of(gives)}
                for media_type, gives in operation.gives.items()
            },
        }
    }
    if operation.is_conditional:
        responses["304"] = {"description": "It is still as the ETag sent says", "headers": headers}
    for status, when in operation.also.items():
        told = {**responses["200"], "description": when}
        if status == HTTPStatus.NO_CONTENT:
            del told["content"]
        responses[str(status)] = told
    if HTTPStatus.NO_CONTENT in operation.also:
        del responses["200"]
    by_status: dict[int, list[str]] = {}
    for kind in sorted(_refusals(operation)):
        by_status.setdefault(PROBLEMS[kind].status, []).append(kind)
    for status, kinds in sorted(by_status.items()):
        responses[str(status)] = {
            "description": "; ".join(f"`{kind}`: {PROBLEMS[kind].title}" for kind in kinds),
            "content": {MEDIA_TYPE: {"schema": schemas.of(Problem)}},
        }
    return responses


def _refusals(operation: Operation) -> set[str]:
    kinds = {*OF_ANY, *OF_QUERIES, *operation.refusals}
    if operation.scope is not None:
        kinds |= set(OF_KEYS)
    if operation.takes:
        kinds |= set(OF_BODIES)
    if any(parameter.place == "path" for parameter in operation.parameters):
        kinds.add("no-such-path")
    return kinds
