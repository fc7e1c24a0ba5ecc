"""How the fuzzer alters good files that have a structure, so that it gets behind their readers.

Bytes that are flipped at random nearly always end in a reader's first refusal. Half of the time a
document is taken apart instead, altered within and written again. Everything is drawn from the
seed that the fuzzer hands in.
"""

import io
import json
import random
import struct
import zipfile
from collections.abc import Callable
from typing import Any, NamedTuple

import atheris
import msgspec
import tomli_w

from gramhour.contract.documents import parse_json
from gramhour.contract.rates import RateSheet
from gramhour.contract.request import QuoteRequest

Alter = Callable[[bytes, int, int], bytes]
"""Takes what was sent before, how long it may become, and a seed."""

TEXTS = (
    *("", "0", "-0", "1", "-1", "0.1", "1e9", "1E999999", "-1e-999999", "999999999.999999999"),
    *("1000000000", "0.0000000001", "NaN", "Infinity", "1_000", "\u0661", "1,5", " 1 ", "0x10"),
    *("x" * 70, "\0", "ﷺ" * 20, "\u202e", "=1+1", "../..", "~1~0", "asa-green", "pla-chalk"),
    *("large", "small-1", "n04", "own-shop", "market", "2026-12-01", "9999-12-31", "0001-01-01"),
    *("2026-12-01T09:00:00Z", "2026-12-01T09:00:00+23:59", "09:00-10:00", "23:00-24:00"),
    *("Europe/Vienna", "Mars", "quetzal-left", "stone", "fair", "quetzal-planter", "HP-2"),
    *("EUR", "JPY", "whole_packs", "order", "stock", "unit", "true"),
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    *(0, 1, -1, 2, 3, 100, 10_000, 100_000, 100_001, 10**9, 10**30, 0.5, 1e-9, 99.99, 50, 719),
    *(None, True, False, [], {}, [[]], [0], [{}], {"": 0}),
)
MOST_ALTERED = 4
PLACES = (0, 1e-7, 1, 10, 19.999999, 20, -5, 1e6)


def names_of(*structs: type[msgspec.Struct]) -> list[str]:
    """List the names of all members of types of the contract and of those within them."""
    schema = str(msgspec.json.schema_components(structs)[1])
    return sorted({word for word in schema.replace("'", " ").split() if word.isidentifier()})


NAMES = names_of(QuoteRequest, RateSheet)


def altered(value: Any, draw: random.Random, donors: list[Any]) -> Any:
    """Alter one place within a document: another value, one more, one less, one from elsewhere."""
    if isinstance(value, dict) and value and draw.random() < 0.85:
        name = draw.choice(list(value))
        return {**value, name: altered(value[name], draw, donors)}
    if isinstance(value, list) and value and draw.random() < 0.8:
        at = draw.randrange(len(value))
        return [*value[:at], altered(value[at], draw, donors), *value[at + 1 :]]
    if isinstance(value, dict) and value and draw.random() < 0.5:
        gone = draw.choice(list(value))
        return {name: inner for name, inner in value.items() if name != gone}
    if isinstance(value, dict):
        return {**value, draw.choice(NAMES): _drawn(draw, donors)}
    if isinstance(value, list):
        return draw.choice(([*value, _drawn(draw, donors)], value[1:], [*value, *value]))
    return _drawn(draw, donors)


def _drawn(draw: random.Random, donors: list[Any]) -> Any:
    kind = draw.random()
    if kind < 0.4:
        return draw.choice(TEXTS)
    if kind < 0.7 or not donors:
        return draw.choice(VALUES)
    found = draw.choice(donors)
    while isinstance(found, dict | list) and found and draw.random() < 0.9:
        found = draw.choice(list(found.values()) if isinstance(found, dict) else found)
    return found


def in_documents(
    read: Callable[[bytes], Any], write: Callable[[Any], bytes], good: list[bytes], head: int = 0
) -> Alter:
    """Alter documents within; the first ``head`` bytes are none of theirs."""
    donors = [read(each[head:]) for each in good]

    def alter(sent: bytes, longest: int, seed: int) -> bytes:
        draw = random.Random(seed)
        if draw.random() < 0.3:
            return bytes(atheris.Mutate(sent, longest))
        try:
            document = read(sent[head:])
        except Exception:
            document = draw.choice(donors)
        for _ in range(draw.randint(1, MOST_ALTERED)):
            document = altered(document, draw, donors)
        try:
            written = sent[:head].ljust(head, b"\0") + write(document)
        except (TypeError, ValueError, AttributeError, RecursionError, OverflowError):
            return bytes(atheris.Mutate(sent, longest))
        return written if len(written) <= longest else bytes(atheris.Mutate(sent, longest))

    return alter


def in_lines(of_a_line: Alter) -> Alter:
    """Alter one line of several."""

    def alter(sent: bytes, longest: int, seed: int) -> bytes:
        lines = sent.split(b"\n")
        at = seed % len(lines)
        lines[at] = of_a_line(lines[at], longest, seed)
        return b"\n".join(lines)[:longest]

    return alter


def in_packages(sent: bytes, longest: int, seed: int) -> bytes:
    """Alter one file of a zip package, so that what is behind its checksums is reached."""
    draw = random.Random(seed)
    if draw.random() < 0.3:
        return bytes(atheris.Mutate(sent, longest))
    try:
        with zipfile.ZipFile(io.BytesIO(sent)) as package:
            files = {each.filename: package.read(each) for each in package.infolist()}
        name = draw.choice([each for each in files if each.endswith(".model")] or list(files))
        files[name] = bytes(atheris.Mutate(files[name], longest))
        made = io.BytesIO()
        with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as package:
            for each, content in files.items():
                package.writestr(each, content)
    except Exception:
        return bytes(atheris.Mutate(sent, longest))
    return made.getvalue() if len(made.getvalue()) <= longest else sent


def as_they_are(sent: bytes, longest: int, _: int) -> bytes:
    """Alter bytes, whatever they mean."""
    return bytes(atheris.Mutate(sent, longest))


def write_toml(document: Any) -> bytes:
    """Write a document as TOML."""
    return tomli_w.dumps(document).encode()


def in_meshes(sent: bytes, longest: int, seed: int) -> bytes:
    """Alter triangles of a binary STL file so that they still meet, or just do not."""
    draw = random.Random(seed)
    triangles = [sent[at : at + 50] for at in range(84, len(sent) - 49, 50)]
    if draw.random() < 0.3 or not triangles or sent[:5].lower() == b"solid":
        return bytes(atheris.Mutate(sent, longest))
    corners = [each[12 + 12 * n : 24 + 12 * n] for each in triangles for n in range(3)]
    for _ in range(draw.randint(1, MOST_ALTERED)):
        at, number = draw.randrange(len(triangles)), draw.randrange(3)
        one = triangles[at]
        match draw.randrange(5):
            case 0:  # a corner elsewhere, where another is or not
                place = draw.choice(corners) if draw.random() < 0.7 else _drawn_corner(draw)
                triangles[at] = one[: 12 + 12 * number] + place + one[24 + 12 * number :]
            case 1:
                triangles[at] = one[:12] + one[24:36] + one[12:24] + one[36:]
            case 2 if len(triangles) > 1:
                del triangles[at]
            case 3:
                triangles.append(one)
            case _:  # the whole once more, elsewhere
                if 100 * len(triangles) + 84 <= longest:
                    by = draw.choice((0.0, 1e-6, 1.0, 5.0, 20.0, 1e5))
                    triangles += [_moved(each, by) for each in triangles]
    return (sent[:80] + struct.pack("<I", len(triangles)) + b"".join(triangles))[:longest]


def _drawn_corner(draw: random.Random) -> bytes:
    return struct.pack(
        "<3f", *(draw.choice((0, 1e-7, 1, 10, 19.999999, 20, -5, 1e6)) for _ in "xyz")
    )


def _moved(triangle: bytes, by: float) -> bytes:
    numbers = struct.unpack("<12fH", triangle)
    moved = [x + by for x in numbers[3:12]]
    try:
        return struct.pack("<12fH", *numbers[:3], *moved, numbers[12])
    except OverflowError:
        return triangle


class Reader(NamedTuple):
    """A reader, good files to begin with, and how they are altered."""

    read: Callable[[bytes], object]
    good: list[bytes]
    alter: Alter = as_they_are


def as_json(document: Any) -> bytes:
    """Write a document as JSON."""
    return json.dumps(document, default=str).encode()


def of_documents(
    read: Callable[[Any], object],
    good: list[Any],
    parse: Callable[[bytes], Any] = parse_json,
    write: Callable[[Any], bytes] = as_json,
) -> Reader:
    """Make a reader of documents that are parsed before."""
    written = [write(each) for each in good]
    return Reader(lambda sent: read(parse(sent)), written, in_documents(parse, write, written))
