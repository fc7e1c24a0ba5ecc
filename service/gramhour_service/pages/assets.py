"""The files that pages load: styles, scripts, libraries; under an address that tells their content.

The address has a digest of all of them, so that a browser may keep a file for ever and still gets
the new one; within that folder scripts import each other by plain relative names.
"""

import hashlib
from functools import cache
from importlib.resources import files
from pathlib import PurePath
from typing import NamedTuple

MEDIA_TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
FOLDER = files("gramhour_service").joinpath("pages/static")


class Asset(NamedTuple):
    """A file as it is served."""

    media_type: str
    content: bytes


@cache
def assets() -> dict[str, Asset]:
    """Read all files that are served, by name; what has another ending is not."""
    return {
        each.name: Asset(MEDIA_TYPES[ending], each.read_bytes())
        for each in sorted(FOLDER.iterdir(), key=lambda each: each.name)
        if (ending := PurePath(each.name).suffix) in MEDIA_TYPES
    }


@cache
def version() -> str:
    """Say the digest of all files together."""
    digest = hashlib.sha256()
    for name, asset in assets().items():
        digest.update(f"{name} {len(asset.content)}\n".encode() + asset.content)
    return digest.hexdigest()[:16]


def address(name: str) -> str:
    """Say where a file is served; a name without a file is the programmer's fault."""
    assert name in assets(), name
    return f"/assets/{version()}/{name}"
