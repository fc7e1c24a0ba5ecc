"""Bodies in and answers out: media types, tags, what may be cached.

What a caller sends is read by its Content-Type; what is answered is chosen by Accept.
"""

import asyncio
import hashlib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache, partial
from http import HTTPStatus
from typing import Any, TypeVar

from litestar import Request, Response
from litestar.datastructures.headers import Accept
from litestar.response import Stream
from litestar.types import HTTPResponseStartEvent, Receive, Scope, Send

from gramhour.contract.documents import parse_json, parse_toml
from gramhour_service.http.problems import refused
from gramhour_service.http.settings import MOST_LISTS, MOST_TOML_BYTES, MOST_VALUES

Asked = Request[Any, Any, Any]
T = TypeVar("T")

JSON = "application/json"
NDJSON = "application/x-ndjson"
TOML = "application/toml"
TEXT = "text/plain"
CSV = "text/csv"
ODS = "application/vnd.oasis.opendocument.spreadsheet"

VARY = "Accept, Authorization"
OF_PRICES = "private, no-cache"
OF_COSTS = "no-store"
LONGEST_ACCEPT = 2_000
LARGE = 100_000
"""Bytes that take so long to be read that others are answered meanwhile."""
ANY = "*"
WEIGHT_OF_ZERO = re.compile(r";\s*q=0(\.0*)?\s*(;|$)", re.IGNORECASE)


def address_asked(request: Asked) -> str:
    """Say at which address the service was asked: as the caller has it, else where it listens."""
    return f"{request.scope['scheme']}://{request.headers.get('host') or _listening(request)}"


def _listening(request: Asked) -> str:
    host, port = request.scope["server"] or ("localhost", None)
    name = f"[{host}]" if ":" in host else host
    return f"{name}:{port}" if port else name


def query_asked(request: Asked) -> str:
    """Say what was asked for after the path, as it was sent; whatever that is."""
    return request.scope["query_string"].decode("latin-1")


def media_type_sent(request: Asked, understood: Sequence[str]) -> str:
    """Say the media type of the body. Raises ``Refused`` if it is none that is understood."""
    sent, parameters = request.content_type
    charset = parameters.get("charset", "utf-8").lower().strip('"')
    if sent not in understood or charset not in ("utf-8", "utf8"):
        raise refused(
            "unsupported-media-type",
            f"send a body of Content-Type {' or '.join(understood)}, in UTF-8",
        )
    return sent


async def document_sent(request: Asked, understood: Sequence[str] = (JSON, TOML)) -> Any:
    """Read the body as plain values, numbers exact. Raises ``Refused``."""
    parse = PARSERS[media_type_sent(request, understood)]
    body = await request.body()
    return await read(body, partial(parsed, body, parse))


async def file_sent(request: Asked) -> bytearray:
    """Take in a body that may be large: to join its parts at the end would keep others waiting."""
    body = bytearray()
    async for part in request.stream():
        body += part
    return body


def json_sent(body: bytes) -> Any:
    """Parse JSON, unless it holds so much that others would wait. Raises ``Refused``."""
    for sign, most, what in ((b"[", MOST_LISTS, "lists"), (b",", MOST_VALUES, "values")):
        if body.count(sign) > most:
            detail = f"at most {most:,} {what} are read of a document; send less at once"
            raise refused("body-too-large", detail)
    return parse_json(body)


def toml_sent(body: bytes) -> Any:
    """Parse TOML, unless it would take seconds. Raises ``Refused``."""
    if len(body) > MOST_TOML_BYTES:
        detail = f"at most {MOST_TOML_BYTES // 1_000_000} MB of TOML is read; send JSON, or less"
        raise refused("body-too-large", detail)
    return parse_toml(body)


PARSERS = {JSON: json_sent, TOML: toml_sent}


async def read(body: bytes, work: Callable[[], T]) -> T:
    """Do what reads a body; of a large one in a thread."""
    return work() if len(body) < LARGE else await asyncio.to_thread(work)


async def parts_sent(request: Asked) -> Mapping[str, Any]:
    """Read a form of parts. Raises ``Refused`` for a text that its own charset cannot be."""
    try:
        return await request.form()
    except (LookupError, UnicodeError):  # the framework decodes by whatever charset a part names
        detail = "a part of the form is no text of the charset that it names; send UTF-8"
        raise refused("malformed-document", detail) from None


def parsed(body: bytes, parse: Callable[[bytes], Any]) -> Any:
    """Read a body that is not empty. Raises ``Refused``."""
    if not body.strip():
        raise refused("malformed-document", "the body is empty; send a document")
    return parse(body)


def media_type_wanted(request: Asked, offered: Sequence[str]) -> str:
    """Choose the form of the answer, the first one offered where any will do.

    Raises ``Refused`` if the caller accepts none.
    """
    accept = _joined(request, "accept").strip() or "*/*"
    wanted = _best(accept, tuple(offered)) if len(accept) <= LONGEST_ACCEPT else None
    if wanted is None:
        raise refused("not-acceptable", f"this can be answered as {' or '.join(offered)}")
    return wanted


@lru_cache(maxsize=256)
def _best(accept: str, offered: tuple[str, ...]) -> str | None:
    """Find the best form; what has a weight of 0 is not acceptable (RFC 9110, 12.4.2)."""
    accepted, excluded = [], set()
    for each in accept.split(","):
        if WEIGHT_OF_ZERO.search(each):
            excluded.add(each.split(";")[0].strip().lower())
        else:
            accepted.append(each)
    remaining = [form for form in offered if form not in excluded]
    return Accept(",".join(accepted)).best_match(remaining) if accepted else None


class Answer(Response[bytes]):
    """Bytes that are sent as they stand: the framework would go through the headers three times."""

    def to_asgi_response(self, *_: Any, **__: Any) -> Any:
        """Be what the framework sends."""
        return self

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:  # noqa: ARG002
        """Send it."""
        body, status = self.content, self.status_code or HTTPStatus.OK
        headers: dict[str, str] = dict(self.headers)
        if status != HTTPStatus.NOT_MODIFIED:
            kind = str(self.media_type)
            headers["content-type"] = f"{kind}; charset=utf-8" if kind.startswith("text/") else kind
            headers["content-length"] = str(len(body))
        raw = [
            (name.lower().encode("latin-1"), value.encode("latin-1"))
            for name, value in headers.items()
        ]
        start: HTTPResponseStartEvent = {
            "type": "http.response.start",
            "status": int(status),
            "headers": [*raw, *(cookie.to_encoded_header() for cookie in self.cookies)],
        }
        await send(start)
        await send({"type": "http.response.body", "body": body, "more_body": False})


def answered(
    request: Asked,
    body: bytes,
    media_type: str,
    *,
    costs: bool,
    status: int = 200,
    tag: str | None = None,
    headers: Mapping[str, str] | None = None,
) -> Response[bytes]:
    """Send an answer; if the caller has it already, by its tag, say only that."""
    told = {"Vary": VARY, "Cache-Control": OF_COSTS if costs else OF_PRICES, **(headers or {})}
    if tag is not None:
        told["ETag"] = tag
        if _has_already(request, tag):
            return Answer(b"", status_code=HTTPStatus.NOT_MODIFIED, headers=told)
    return Answer(body, status_code=status, media_type=media_type, headers=told)


def streamed(rows: Iterator[bytes], media_type: str) -> Stream:
    """Send what holds costs as it comes."""
    return Stream(rows, media_type=media_type, headers={"Vary": VARY, "Cache-Control": OF_COSTS})


def tag_of_body(body: bytes) -> str:
    """Make the tag of an answer from the answer itself."""
    return f'"{hashlib.sha256(body).hexdigest()[:24]}"'


def _joined(request: Asked, name: str) -> str:
    """Read a header that is a list; several lines of it are one list (RFC 9110, 5.3)."""
    return ",".join(request.headers.getall(name, []))


def _has_already(request: Asked, tag: str) -> bool:
    """Say whether the caller has an answer already, by the tags it sent."""
    if request.method not in ("GET", "HEAD"):
        return False
    known = tags_sent(request, "if-none-match")
    return known == {ANY} or tag in known


def tags_sent(request: Asked, name: str) -> set[str]:
    """Read tags, to be compared weakly (RFC 9110, 13.1.2): a compressing proxy makes them weak."""
    tags = {each.strip().removeprefix("W/") for each in _joined(request, name).split(",")}
    return tags - {""}
