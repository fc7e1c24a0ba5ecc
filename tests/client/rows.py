"""Requests of many rows, what their answers must be, and servers that answer them badly."""

import json
from collections.abc import Iterator
from typing import Any

from msgspec import UNSET

from tests.client.demand import ONE_PIECE
from tests.client.misbehaving import Asked, Handler, Turn

NDJSON = "application/x-ndjson"


def requests(count: int, first: int = 0) -> Iterator[dict[str, Any]]:
    for number in range(first, first + count):
        yield {**ONE_PIECE, "quantity": number % 7, "reference": f"row {number}"}


def is_answer_to(number: int, answer: Any) -> bool:
    """A quantity of 0 is refused, any other quoted; each answer echoes its own reference."""
    assert answer.reference == f"row {number}"
    if number % 7 == 0:
        return bool(answer.problem.errors[0].pointer == "/quantity" and answer.quote is UNSET)
    return bool(answer.quote.at_quantity.quantity == number % 7 and answer.problem is UNSET)


def echo(handler: Handler, asked: Asked) -> None:
    """Answer each line by a problem that names it: quick, and easy to count."""
    told = b"".join(map(problem_for, asked.body.splitlines()))
    told += b'{"done":%d}\n' % len(asked.body.splitlines())
    handler.tell(200, told, NDJSON)


def problem_for(line: bytes) -> bytes:
    reference = json.loads(line)["reference"]
    problem = {"type": "/problems/x", "title": "x", "status": 422, "detail": "x", "errors": []}
    return json.dumps({"reference": reference, "problem": problem}).encode() + b"\n"


def breaks_off(after: int) -> Turn:
    """Answer so many lines and half of the next, then hang up."""

    def turn(handler: Handler, asked: Asked) -> None:
        told = b"".join(problem_for(line) for line in asked.body.splitlines()[:after])
        handler.begin(200, NDJSON, **{"Content-Length": "1000000"})
        handler.wfile.write(told + b'{"reference": "row')
        handler.hang_up()

    return turn


def ends_early(handler: Handler, asked: Asked) -> None:
    """Answer 5 lines as if that were all, without the last line that counts them."""
    told = b"".join(problem_for(line) for line in asked.body.splitlines()[:5])
    handler.tell(200, told, NDJSON)
