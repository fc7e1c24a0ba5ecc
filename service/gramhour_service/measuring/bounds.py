"""How much a file may ask for, and how a reader says that it cannot read it. Needs no arrays."""

from typing import Literal, NamedTuple

STL = "model/stl"
MESHES = (STL, "model/3mf")
"""The registered media types of what can be measured."""

RefusalKind = Literal["unreadable", "too-large", "takes-too-long", "other-media-type"]


class Refused(Exception):
    """A file cannot be measured: the kind is for programs, the words for people."""

    def __init__(self, kind: RefusalKind, detail: str) -> None:
        """Keep what kind of refusal it is, and why."""
        super().__init__(detail)
        self.kind = kind
        self.detail = detail


HEADER_BYTES = 80
COUNT_BYTES = 4
TRIANGLE_BYTES = 50
"""Of a binary STL file: what stands before its triangles, and each of them."""


class Limits(NamedTuple):
    """How much a file may ask of the machine that measures it."""

    file_bytes: int = 100_000_000
    unpacked_bytes: int = 500_000_000
    triangles: int = 2_000_000
    memory_bytes: int = 1 << 30
    seconds: int = 60


def unreadable(detail: str) -> Refused:
    """Say that a file is not what it should be."""
    return Refused("unreadable", detail)


def check_count(content: bytes | bytearray, limits: Limits) -> None:
    """Refuse a binary STL file by the count that it begins with, before anything is read of it."""
    start = HEADER_BYTES + COUNT_BYTES
    told = int.from_bytes(content[HEADER_BYTES:start], "little")
    if told > limits.triangles and len(content) == start + TRIANGLE_BYTES * told:
        raise too_many_triangles(told, limits)


def too_many_triangles(count: int, limits: Limits) -> Refused:
    """Say that a file has more triangles than are read."""
    return Refused(
        "too-large",
        f"the file has {count:,} triangles, at most {limits.triangles:,} are read; "
        "export it with a coarser resolution",
    )


def too_many_bytes(count: int, limits: Limits) -> Refused:
    """Say that a file is larger than what is read."""
    return Refused(
        "too-large",
        f"the file has {count:,} bytes, at most {limits.file_bytes:,} are read; "
        "export it with a coarser resolution",
    )


def takes_too_long(limits: Limits) -> Refused:
    """Say that a file takes more time than there is."""
    return Refused(
        "takes-too-long",
        f"measuring the file takes more than {limits.seconds} s; export it with a coarser "
        "resolution, or split it",
    )
