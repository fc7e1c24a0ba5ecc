"""STL, binary and ASCII: triangles without a unit, taken as millimetres.

Read here, in a few lines of numpy, because general readers of this format answer a cut file with
no faces, drop triangles that are no numbers, and take trailing bytes for text; here each of those
is a fault in words.
"""

import re
from codecs import BOM_UTF8, getincrementaldecoder

import numpy as np

from gramhour_service.measuring.bounds import (
    COUNT_BYTES,
    HEADER_BYTES,
    TRIANGLE_BYTES,
    Limits,
    too_many_triangles,
    unreadable,
)
from gramhour_service.measuring.mesh import FileRead, Surface, checked_coordinates

TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])

# Nothing here is tried twice: whatever a file holds, its reading takes time in its length.
NUMBER = rb"[+-]?+(?:\d++\.?+\d*+|\.\d++)(?:[eE][+-]?+\d++)?+"
THREE = rb"\s++(" + NUMBER + rb")\s++(" + NUMBER + rb")\s++(" + NUMBER + rb")\s++"
ANY_THREE = rb"\s++\S++\s++\S++\s++\S++\s++"
FACET = re.compile(
    rb"\s*+facet\s++normal" + ANY_THREE + rb"outer\s++loop\s++"
    rb"vertex" + THREE + rb"vertex" + THREE + rb"vertex" + THREE + rb"endloop\s++endfacet(?=\s|$)",
    re.IGNORECASE,
)
SOLID = re.compile(rb"\s*+solid\b[^\r\n]*+", re.IGNORECASE)
END = re.compile(rb"\s*+endsolid\b[^\r\n]*+", re.IGNORECASE)
NOT_IN_TEXT = re.compile(r"[\x00-\x08\x0e-\x1f]")
A_TEXT = (
    "the file is a text that is no STL file: an ASCII one begins with the word solid and lists "
    "facets; export the part as STL again"
)
REST = re.compile(rb"\s*+\Z")


def read_stl(content: bytes, limits: Limits) -> FileRead:
    """Read an STL file, binary or ASCII: its length tells which. Raises ``Refused``."""
    if not content.strip():
        raise unreadable("the file is empty")
    corners = _binary_corners(content, limits)
    if corners is None:
        corners = _ascii_corners(content.removeprefix(BOM_UTF8), limits)
    if not len(corners):
        raise unreadable("the file holds no triangle")
    vertices = checked_coordinates(corners.reshape(-1, 3), "corners of triangles")
    faces = np.arange(len(vertices), dtype=np.int64).reshape(-1, 3)
    return FileRead((Surface(vertices, faces),), has_unit=False)


def _binary_corners(content: bytes, limits: Limits) -> np.ndarray | None:
    """Give the corners of a binary file, or nothing if it is a text.

    A header may begin with "solid" too, so that word decides only where the length does not fit.
    """
    start = HEADER_BYTES + COUNT_BYTES
    told = int.from_bytes(content[HEADER_BYTES:start], "little") if len(content) >= start else -1
    if told >= 0 and len(content) == start + TRIANGLE_BYTES * told:
        if told > limits.triangles:
            raise too_many_triangles(told, limits)
        return np.frombuffer(content, TRIANGLE, count=told, offset=start)["corners"]
    if SOLID.match(content.removeprefix(BOM_UTF8)) and b"\0" not in content[: 4 * HEADER_BYTES]:
        return None
    if _is_text(content[: 4 * HEADER_BYTES]):
        raise unreadable(A_TEXT)
    if told < 0:
        raise unreadable("the file is too short for an STL file, and no ASCII one")
    raise unreadable(
        f"a binary STL file of {told:,} triangles has {start + TRIANGLE_BYTES * told:,} bytes, "
        f"this one has {len(content):,}: it is cut off, or no STL file; export it again"
    )


def _is_text(beginning: bytes) -> bool:
    """Say whether a file begins as a text does; its last sign may be cut."""
    try:
        return not NOT_IN_TEXT.search(getincrementaldecoder("utf-8")().decode(beginning))
    except UnicodeDecodeError:
        return False


def _ascii_corners(content: bytes, limits: Limits) -> np.ndarray:
    """Give the corners of all facets of all solids of an ASCII file."""
    numbers: list[float] = []
    at, is_inside = 0, False
    while True:
        if is_inside and (facet := FACET.match(content, at)):
            numbers.extend(map(float, facet.groups()))
            at = facet.end()
        elif is_inside and (end := END.match(content, at)):
            at, is_inside = end.end(), False
        elif not is_inside and (solid := SOLID.match(content, at)):
            at, is_inside = solid.end(), True
        elif not is_inside and REST.match(content, at):
            return np.array(numbers).reshape(-1, 3, 3)
        else:
            raise _not_a_facet(content, at, is_inside=is_inside)
        if len(numbers) > 9 * limits.triangles:
            raise too_many_triangles(len(numbers) // 9, limits)


def _not_a_facet(content: bytes, at: int, *, is_inside: bool) -> Exception:
    rest = content[at : at + 4 * HEADER_BYTES]
    line = content.count(b"\n", 0, at + len(rest) - len(rest.lstrip())) + 1
    if not rest.strip():
        return unreadable(f"line {line}: the ASCII STL file ends before endsolid: it is cut off")
    expected = "a whole facet of three finite vertices, or endsolid" if is_inside else "solid"
    return unreadable(f"line {line}: expected {expected}; export the file again")
