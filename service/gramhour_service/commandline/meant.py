"""What a file is: by how it begins, the ending of its name, or its members.

So one that is meant for another command is refused in words, with the command that takes it. What
cannot be told apart is left to the reader of what was expected.
"""

import re
from collections.abc import Iterable
from pathlib import PurePath
from typing import Any, NamedTuple

from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.rates import OF_A_SHEET

STANDARD_INPUT = "-"


class Kind(NamedTuple):
    """A kind of document: what it is, members that only it has, and what takes it."""

    what: str
    has: frozenset[str]
    goes: str


REQUEST = Kind(
    "a quote request", frozenset({"quantity", "measurement"}), "gramhour quote {} takes it"
)
COMPARISON = Kind(
    "a comparison", frozenset({"alternatives", "quantities"}), "gramhour compare {} takes it"
)
CHANGES = Kind(
    "a list of changes of rates",
    frozenset({"changes"}),
    "gramhour rates change {} takes it, or gramhour reprice --propose {}",
)
BUILDS = Kind("a list of timed builds", frozenset({"builds"}), "gramhour calibrate {} takes it")
ROWS = Kind(
    "a list of products or listings",
    frozenset({"items"}),
    "gramhour products import {} or gramhour listings import {} takes it",
)
SHEET = Kind(
    "a rate sheet",
    OF_A_SHEET,
    "name it with --rates, or take it into the store: gramhour rates import {}",
)
PRODUCTS = Kind("a list of products", frozenset({"code"}), "gramhour products import {} takes it")
LISTINGS = Kind("a list of listings", frozenset({"sku"}), "gramhour listings import {} takes it")
OF_ONE = (
    f"this is {REQUEST.what}, where {PRODUCTS.what} is expected; {REQUEST.goes}. To keep its "
    'product, make a list of it: above it [[items]] and code = "…", then [items.product] for '
    "[product], [[items.product.pieces]] for [[product.pieces]] and so on, without quantity, "
    'breaks, channel and aim; in JSON {"items": [{"code": "…", "product": {…}}]}'
)
KINDS_OF_DOCUMENTS = (COMPARISON, CHANGES, BUILDS, ROWS, REQUEST, SHEET)


class Foreign(NamedTuple):
    """What a file is that is no document: what it is called, and what takes it."""

    what: str
    goes: str


MESH = Foreign("a mesh", "gramhour quote {} or gramhour measure {} takes it")
SPREADSHEET = Foreign(
    "a spreadsheet",
    "save what is in it as CSV: gramhour rates import FILE --kind KIND and gramhour listings "
    "import FILE take that",
)
EXPORT = "export it as STL or 3MF: gramhour quote FILE and gramhour measure FILE take that"
OTHER_MESH = Foreign("a mesh in a form that is not read here", EXPORT)
PROGRAM = Foreign("a program", "it cannot be read as data")
LINES = Foreign("a file of lines of JSON", ROWS.goes)
OF_ENDING = {
    ".stl": MESH,
    ".3mf": MESH,
    ".ods": SPREADSHEET,
    ".xlsx": SPREADSHEET,
    ".step": (SOLID := Foreign("a solid model (STEP)", "export it as a mesh, STL or 3MF")),
    ".stp": SOLID,
    **dict.fromkeys((".obj", ".ply", ".amf", ".off", ".glb", ".gltf", ".wrl"), OTHER_MESH),
    **dict.fromkeys((".exe", ".dll", ".so", ".app", ".msi"), PROGRAM),
    ".gcode": Foreign("a toolpath", "gramhour measure {} takes it"),
    **dict.fromkeys((".yaml", ".yml"), Foreign("YAML", "write what is in it as that")),
    ".ndjson": LINES,
    ".jsonl": LINES,
    ".csv": Foreign(
        "a table (CSV)",
        "gramhour rates import {} --kind KIND or gramhour listings import {} takes it",
    ),
}
OF_BEGINNING = {
    b"PK\x03\x04": Foreign("a ZIP archive", "unpack it and name the file in it"),
    b"ISO-10303-21": SOLID,
    b"SQLite format 3\x00": Foreign("a store", "name it with --store"),
    b"%PDF-": Foreign("a PDF", "it cannot be read as data"),
    b"\x89PNG": (PICTURE := Foreign("a picture", "it cannot be read as data")),
    b"\xff\xd8\xff": PICTURE,
    b"\x7fELF": PROGRAM,
    b"\xcf\xfa\xed\xfe": PROGRAM,
    b"\x1f\x8b": Foreign("a packed file (gzip)", "unpack it and name the file in it"),
    b"\xd0\xcf\x11\xe0": Foreign("an office document of an old form", SPREADSHEET.goes),
}
NO_TEXT = Foreign("no text", "if it should be, save it as a text in UTF-8")
LOOKED_AT = 1_000


def foreign(file: str, body: bytes) -> Foreign | None:
    """Say what a file is that is no document in TOML or JSON, as far as that can be told."""
    ending = PurePath(file).suffix.lower()
    if ending in OF_ENDING:
        return OF_ENDING[ending]
    if body.startswith(b"solid") and b"facet" in body[:1000]:
        return MESH
    if b"opendocument.spreadsheet" in body[:100]:
        return SPREADSHEET
    if body.startswith(b"MZ") and b"\x00" in body[:LOOKED_AT]:
        return PROGRAM
    found = next((each for begins, each in OF_BEGINNING.items() if body.startswith(begins)), None)
    return NO_TEXT if found is None and b"\x00" in body[:LOOKED_AT] else found


def check_foreign(file: str, body: bytes, wanted: str) -> None:
    """Refuse a file that is no document, saying what it is and what takes it."""
    found = foreign(file, body)
    if found is not None:
        raise _wrong(found.what, wanted, found.goes, file)


def check_kind(file: str, says: Any, wanted: Kind) -> None:
    """Refuse a document that has nothing of what is wanted, and something of another kind."""
    if not isinstance(says, dict) or not wanted.has.isdisjoint(says):
        return
    for kind in KINDS_OF_DOCUMENTS:
        if not kind.has.isdisjoint(says):
            raise _wrong(kind.what, wanted.what, kind.goes, file)


def check_rows(file: str, rows: Iterable[Any], wanted: Kind) -> None:
    """Refuse rows of products for listings, or the other way, if all of them are that."""
    other = LISTINGS if wanted is PRODUCTS else PRODUCTS
    keys = [row.keys() for row in rows if isinstance(row, dict)]
    if keys and all(other.has <= each and wanted.has.isdisjoint(each) for each in keys):
        raise _wrong(other.what, wanted.what, other.goes, file)


def check_list(file: str, says: Any, wanted: Kind) -> None:
    """Refuse one product as it stands in a request, and a list under its own name."""
    named = wanted.what.rpartition(" ")[2]
    if not isinstance(says, dict) or "items" in says:
        return
    if isinstance(says.get(named), list):
        detail = f'write {named} as items: [[items]] in TOML, {{"items": [...]}} in JSON'
        raise Refused("wrong-file", (Fault(pointer(named), detail),))
    if wanted is PRODUCTS and isinstance(says.get("product"), dict):
        detail = OF_ONE.replace("{}", "FILE" if file == STANDARD_INPUT else file)
        raise Refused("wrong-file", (Fault("", detail),))


def check_table(file: str, body: bytes, wanted: str) -> None:
    """Refuse a table (CSV) with a column of skus, which only listings have."""
    header = body.partition(b"\n")[0].decode(errors="replace")
    if "sku" in {name.strip(' "\r').lower() for name in re.split("[,;\t]", header)}:
        raise _wrong(f"{LISTINGS.what} (CSV)", wanted, LISTINGS.goes, file)


def _wrong(what: str, expected: str, goes: str, file: str) -> Refused:
    named = "FILE" if file == STANDARD_INPUT else file
    detail = f"this is {what}, where {expected} is expected; {goes.replace('{}', named)}"
    return Refused("wrong-file", (Fault("", detail),))
