"""What a 3MF package is asked before its reader sees it: how far it unpacks and multiplies."""

import zipfile
import zlib
from collections import defaultdict
from io import BytesIO
from xml.parsers import expat

from gramhour_service.measuring.bounds import Limits, Refused, unreadable

RELATIONS = "_rels/.rels"
"""What of an open package names its first part (ISO/IEC 29500-2)."""

MOST_ENTRIES = 10_000
MOST_INSTANCES = 100_000
MOST_NESTED = 100
PACKED_BY = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""Packages of this kind know no other method (ISO/IEC 29500-2; from memory)."""

COMPONENTS_UNASKED = 40
"""So few components cannot multiply to harm, and are what nearly all packages have."""


def check_package(content: bytes, limits: Limits) -> None:
    """Refuse what is no package, or would take far more than its own size. Raises ``Refused``."""
    try:
        with zipfile.ZipFile(BytesIO(content)) as package:
            entries = package.infolist()
            _check_entries(entries, limits)
            if not any(entry.filename.lower() == RELATIONS for entry in entries):
                raise unreadable("the zip file is no 3MF package: nothing in it names a model")
            models = [entry for entry in entries if entry.filename.lower().endswith(".model")]
            for entry in models:
                _check_components(package.read(entry))
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, NotImplementedError) as error:
        raise unreadable("the file is no 3MF package: it is no sound zip file") from error


def _check_entries(entries: list[zipfile.ZipInfo], limits: Limits) -> None:
    """Refuse a package by what its directory says; a zip reader stops at the sizes said there."""
    unpacked = sum(entry.file_size for entry in entries)
    if unpacked > limits.unpacked_bytes or len(entries) > MOST_ENTRIES:
        raise Refused(
            "too-large",
            f"the 3MF package unpacks to {unpacked:,} bytes in {len(entries):,} files; at most "
            f"{limits.unpacked_bytes:,} in {MOST_ENTRIES:,} are read",
        )
    if any(entry.flag_bits & 1 for entry in entries):
        raise unreadable("the 3MF package is encrypted")
    if any(entry.compress_type not in PACKED_BY for entry in entries):
        raise unreadable(
            "the 3MF package is packed by another method than deflate; export it again"
        )


def _check_components(document: bytes) -> None:
    """Refuse objects whose components double each other: the reader would follow every one.

    Objects may name only those before them, so one pass counts what each comes to.
    """
    if document.count(b"omponent") < COMPONENTS_UNASKED:
        return
    instances: dict[str, int] = defaultdict(int)
    depth: dict[str, int] = defaultdict(int)
    own = [""]

    def start(name: str, attributes: dict[str, str]) -> None:
        match name.rpartition(":")[2]:
            case "object":
                own[0] = attributes.get("id", "")
                instances[own[0]] = depth[own[0]] = 0
            case "component":
                part = attributes.get("objectid", "")
                instances[own[0]] += max(1, instances[part])
                depth[own[0]] = max(depth[own[0]], depth[part] + 1)
                if instances[own[0]] > MOST_INSTANCES or depth[own[0]] > MOST_NESTED:
                    raise too_many_instances()

    def doctype(*_: object) -> None:
        raise unreadable("the 3MF package declares entities, which its format forbids")

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.StartDoctypeDeclHandler = doctype
    try:
        parser.Parse(document, True)
    except expat.ExpatError as error:
        raise unreadable(f"the 3MF package holds no sound XML: {error}") from error


def too_many_instances() -> Refused:
    """Say that a build comes to too many objects."""
    return Refused(
        "too-large",
        f"the build holds more than {MOST_INSTANCES:,} objects, or ones nested more than "
        f"{MOST_NESTED} deep",
    )
