"""Reads documents: TOML or JSON, from a file or from standard input."""

import codecs
import sys
from pathlib import Path
from typing import Any, NamedTuple

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Fault, Refused
from gramhour_service.commandline.meant import (
    STANDARD_INPUT,
    Kind,
    check_foreign,
    check_kind,
)


class Document(NamedTuple):
    """What a file says, as plain values with exact numbers."""

    file: str
    says: Any


def read_document(file: str, wanted: Kind) -> Document:
    """Read TOML or JSON as the file's ending says; else what begins with ``{`` is JSON.

    Raises ``Refused`` if the file cannot be opened, not be understood, or is of another kind.
    """
    body = read_body(file)
    check_foreign(file, body, f"{wanted.what} (TOML or JSON)")
    ending = Path(file).suffix.lower()
    is_json = ending == ".json" or (ending != ".toml" and body.lstrip()[:1] == b"{")
    says = parse_json(body) if is_json else parse_toml(body)
    check_kind(file, says, wanted)
    return Document(file, says)


def read_body(file: str) -> bytes:
    """Read a file, or standard input. Raises ``Refused`` if it cannot be opened."""
    return _without_mark(read_bytes(file))


def shown(file: str) -> str:
    """Name a file to a person."""
    return "standard input" if file == STANDARD_INPUT else file


def read_bytes(file: str) -> bytes:
    """Read a file as it is, or standard input. Raises ``Refused`` if it cannot be opened."""
    if file == STANDARD_INPUT:
        return sys.stdin.buffer.read()
    try:
        return Path(file).read_bytes()
    except (OSError, ValueError) as error:
        raise Refused("unreadable-file", (Fault("", _why_unreadable(error)),)) from None


def _why_unreadable(error: OSError | ValueError) -> str:
    match error:
        case FileNotFoundError():
            return "there is no such file; check its name and the folder you are in"
        case IsADirectoryError():
            return "this is a folder; name a file in it"
        case PermissionError():
            return "you may not read this file; change its permissions or copy it"
        case OSError(strerror=str(reason)):
            return f"cannot be read ({reason.lower()}); check where it is kept"
    return "this cannot be the name of a file; check it"


def write_file(file: str, body: bytes) -> None:
    """Write a file. Raises ``Refused`` if it cannot be written."""
    try:
        Path(file).write_bytes(body)
    except (OSError, ValueError) as error:
        raise Refused("unwritable-file", (Fault("", _why_unwritable(error)),)) from None


def _why_unwritable(error: OSError | ValueError) -> str:
    match error:
        case FileNotFoundError():
            return "there is no such folder; make it, or name another"
        case IsADirectoryError():
            return "this is a folder; name a file in it"
        case PermissionError():
            return "you may not write here; name another folder"
        case OSError(strerror=str(reason)):
            return f"cannot be written ({reason.lower()}); name another file"
    return "this cannot be the name of a file; check it"


def _without_mark(body: bytes) -> bytes:
    """Leave out the mark that some editors put first; some shells write UTF-16 behind theirs."""
    if body.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return body.decode("utf-16").encode()
        except UnicodeDecodeError:
            return body
    return body.removeprefix(codecs.BOM_UTF8)
