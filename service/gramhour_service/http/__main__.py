"""Writes what the docs hold of the HTTP layer.

``python -m gramhour_service.http contract > openapi/openapi.json``, and ``problems`` for
``openapi/problems.md``.
"""

import sys

from gramhour_service.http.app import HANDLERS
from gramhour_service.http.document import document_of
from gramhour_service.http.problem_types import problem_table

PROBLEMS_HEAD = """# Every type of problem

Made from the code by `python -m gramhour_service.http problems`; do not edit. A type never changes
its meaning.

"""


def written(what: str) -> bytes:
    """Write the contract's document or the table of problems."""
    if what == "contract":
        return document_of(HANDLERS)
    return (PROBLEMS_HEAD + problem_table()).encode()


if __name__ == "__main__":
    sys.stdout.buffer.write(written(sys.argv[1]))
