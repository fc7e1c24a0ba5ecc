"""Every call of the service, described once for both clients.

A call knows nothing of connections, keys or retries.
"""

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from http import HTTPStatus
from typing import Any, Generic, Literal, TypeAlias, TypedDict, TypeVar
from urllib.parse import quote as quoted

import msgspec

from gramhour.contract.answer import PriceQuote, Quote
from gramhour.contract.calibration import Calibration, CalibrationRequest
from gramhour.contract.changes import RateKind
from gramhour.contract.health import Health
from gramhour.contract.request import ListedRequest, MeasuredRequest, QuoteRequest
from gramhour.contract.stored import StoredKind, StoredRate, StoredSheet
from gramhour.tolerant import read_json
from gramhour.typed_rates import with_typed_rate, with_typed_rates

T_co = TypeVar("T_co", covariant=True)
A_PRICE = re.compile(r"\d{1,30}(\.\d{1,30})?", re.ASCII)
JSON, NDJSON, TEXT = "application/json", "application/x-ndjson", "text/plain"
ODS = "application/vnd.oasis.opendocument.spreadsheet"

Request: TypeAlias = QuoteRequest | ListedRequest | MeasuredRequest | Mapping[str, Any]
"""What can be quoted: a type of the contract, or the same as a plain dict."""
Calibrated: TypeAlias = CalibrationRequest | Mapping[str, Any]
"""Builds that were timed: a type of the contract, or the same as a plain dict."""
Amount: TypeAlias = Decimal | int | str
Kind: TypeAlias = RateKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Call(Generic[T_co]):
    """One call: what is asked, and how its answer is read.

    ``decode`` raises ``ValueError`` for what is no such answer; ``statuses`` are those of an
    answer that is no refusal. ``is_safe`` says that asking twice is the same as asking once; a call
    that is not carries an ``Idempotency-Key``, made once for all its tries. ``is_file`` says that a
    file is measured, which takes longer than other answers.
    """

    method: Literal["GET", "POST", "PUT", "DELETE"]
    path: str
    decode: Callable[[bytes], T_co]
    params: Mapping[str, str] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes | None = None
    media_type: str = JSON
    accept: str = JSON
    is_safe: bool = True
    is_file: bool = False
    statuses: Collection[int] = (HTTPStatus.OK,)

    def sent(self) -> Any:
        """Tell what is asked as plain values: the body's, else the parameters."""
        if self.body is None or self.media_type != JSON:
            return dict(self.params)
        return msgspec.json.decode(self.body)


class OnePiece(TypedDict, total=False):
    """What ``unit_price`` takes: a product of one piece and one filament, or a ``sku``.

    Members are those of a quote request, named as there.
    """

    sku: str
    material: str
    mass_g: Amount
    volume_cm3: Amount
    length_m: Amount
    per_build_g: Amount
    machine: str
    nozzle: str
    print_min: Amount
    per_build_min: Amount
    pieces_per_build: int
    order_min: Amount
    build_min: Amount
    unit_min: Amount
    reject_pct: Amount
    channel: str
    margin_pct: Amount
    markup_pct: Amount
    unit_price: Amount
    discount_pct: Amount
    rates_revision: int
    rates_on: date


def quote(request: Request, *, explain: bool) -> Call[Quote]:
    """Ask for a quote in the cost view."""
    return Call(
        method="POST",
        path="/v1/quotes",
        params={"view": "cost"} | ({"explain": "true"} if explain else {}),
        body=msgspec.json.encode(request),
        decode=msgspec.json.Decoder(Quote).decode,
    )


def quote_workbook(request: Request) -> Call[bytes]:
    """Ask for a quote as a workbook."""
    return Call(
        method="POST",
        path="/v1/quotes",
        params={"view": "cost"},
        body=msgspec.json.encode(request),
        accept=ODS,
        decode=bytes,
    )


def quote_price(request: Request) -> Call[PriceQuote]:
    """Ask for a quote in the price view."""
    return Call(
        method="POST",
        path="/v1/quotes",
        params={"view": "price"},
        body=msgspec.json.encode(request),
        decode=msgspec.json.Decoder(PriceQuote).decode,
    )


def calibrate(request: Calibrated) -> Call[Calibration]:
    """Ask what fits builds that were timed."""
    return Call(
        method="POST",
        path="/v1/calibrations",
        body=msgspec.json.encode(request),
        decode=msgspec.json.Decoder(Calibration).decode,
    )


def unit_price(quantity: int, asked: OnePiece) -> Call[Decimal]:
    """Ask for the shown price of a unit."""
    return Call(
        method="GET",
        path="/v1/unit-price",
        params={name: plain(value) for name, value in {"quantity": quantity, **asked}.items()},
        accept=TEXT,
        decode=_number,
    )


def rates(revision: int | None, on: date | None) -> Call[StoredSheet]:
    """Ask for the rate sheet."""
    return Call(
        method="GET",
        path="/v1/rates",
        params=_pins(revision, on),
        decode=lambda body: read_json(body, StoredSheet),
    )


def rates_kind(kind: Kind, revision: int | None, on: date | None) -> Call[StoredKind]:
    """Ask for the rates of a kind."""
    return Call(
        method="GET",
        path=path_of("/v1/rates", kind),
        params=_pins(revision, on),
        decode=lambda body: with_typed_rates(msgspec.json.decode(body, type=StoredKind)),
    )


def rate(kind: Kind, code: str, revision: int | None, on: date | None) -> Call[StoredRate]:
    """Ask for one rate."""
    return Call(
        method="GET",
        path=path_of("/v1/rates", kind, code),
        params=_pins(revision, on),
        decode=lambda body: with_typed_rate(msgspec.json.decode(body, type=StoredRate)),
    )


def health() -> Call[Health]:
    """Ask whether the service is ready."""
    return Call(method="GET", path="/health", decode=msgspec.json.Decoder(Health).decode)


def batch(lines: list[bytes], view: Literal["cost", "price"]) -> Call[bytes]:
    """Ask for many quotes, a line each; the answer is read line by line."""
    return Call(
        method="POST",
        path="/v1/quotes/batch",
        params={"view": view},
        body=b"\n".join(lines),
        media_type=NDJSON,
        accept=NDJSON,
        decode=bytes,
    )


def path_of(under: str, *segments: str) -> str:
    """Write a path. Raises ``ValueError`` for what would name another one (RFC 3986, 5.2.4)."""
    if any(segment in ("", ".", "..") for segment in segments):
        raise ValueError(f"nothing has such a name: {', '.join(map(repr, segments))}")
    return "/".join((under, *(quoted(segment, safe="") for segment in segments)))


def seen(noun: str, if_match: str | None, *, new: bool) -> dict[str, str]:
    """Write what a caller has seen. Raises ``TypeError`` unless exactly one is said."""
    if (if_match is None) is not new:
        raise TypeError(f"give if_match={noun}.tag to change a {noun}, or new=True to add one")
    return {"If-None-Match": "*"} if if_match is None else {"If-Match": if_match}


def _pins(revision: int | None, on: date | None) -> dict[str, str]:
    return given(rates_revision=revision, rates_on=on)


def given(**params: object) -> dict[str, str]:
    """Write the parameters that are not left out."""
    return {name: plain(value) for name, value in params.items() if value is not None}


def plain(value: object) -> str:
    """Write a parameter's value; a day as RFC 3339 has it, a decimal without an exponent."""
    return f"{value:f}" if isinstance(value, Decimal) else str(value)


def _number(body: bytes) -> Decimal:
    told = body.decode("ascii").strip()
    if not A_PRICE.fullmatch(told):
        raise ValueError("not a number as prices are")
    return Decimal(told)
