"""Reads the problem of a refusal."""

import msgspec
from msgspec import UNSET, Struct, UnsetType

from gramhour.contract.problem import Fault, Problem


class _Fault(Struct):
    """A fault as it is told: a parameter's has no pointer."""

    detail: str
    pointer: str | UnsetType = UNSET
    parameter: str | UnsetType = UNSET
    line: int | UnsetType = UNSET


class _Problem(Struct):
    type: str
    title: str
    status: int
    detail: str
    errors: list[_Fault]


def read_problem(body: bytes | msgspec.Raw) -> Problem:
    """Read a problem. Raises ``ValueError``."""
    told = msgspec.json.decode(body, type=_Problem)
    return Problem(
        type=told.type,
        title=told.title,
        status=told.status,
        detail=told.detail,
        errors=[
            Fault(each.pointer, each.detail, each.parameter, each.line) for each in told.errors
        ],
    )
