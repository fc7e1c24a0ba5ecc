"""Every reader of foreign bytes, as the fuzzer feeds it, with good files to begin with.

Behind each reader stands what its bytes come to: a request is priced and its answer written, a mesh
is measured and laid down in beads. Where bytes meet a route, the whole application is asked, for a
price key too, and an answer to one that holds a canary of the shop's is a finding.
"""

import json
from collections.abc import Callable
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlencode

import msgspec

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Refused
from gramhour.contract.reading import read_calibration, read_workload
from gramhour_service.answer.price_view import price_view
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.comparing.asked import sought
from gramhour_service.comparing.evaluating import evaluate, evaluations
from gramhour_service.comparing.told import told
from gramhour_service.http.batch import _lines
from gramhour_service.http.measurements import UNDERSTOOD, _file_sent
from gramhour_service.http.wire import media_type_sent, media_type_wanted, tags_sent
from gramhour_service.listings.csv_rows import read_listing_rows
from gramhour_service.measuring.mesh import Limits
from gramhour_service.measuring.mesh import Refused as RefusedFile
from gramhour_service.measuring.process import Task, measured_apart
from gramhour_service.own_parts.calibrated import calibrated
from gramhour_service.own_parts.profiles import laid_by
from gramhour_service.pages.desk.bench_form import REQUEST
from gramhour_service.pages.desk.forms import document_of, form_of, with_row, without_row
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.cells import columns_of
from gramhour_service.sheets.csv_kind import merged, read_rows, written_rows
from gramhour_service.sheets.rows import SHOP
from gramhour_service.signing.keys import made_key
from gramhour_service.signing.tokens import NotGenuine, signed, verified
from gramhour_service.toolpath.faults import ToolpathRefused
from gramhour_service.toolpath.measured import Filament
from gramhour_service.toolpath.motion import Motion
from gramhour_service.toolpath.reading import read_toolpath
from tests.campaigns.altered import (
    Alter,
    as_they_are,
    in_documents,
    in_lines,
    in_meshes,
    in_packages,
    write_toml,
)
from tests.campaigns.in_process import Shop, request_of
from tests.cube import CUBE
from tests.http import canaries
from tests.http.door import NOW

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "service" / "gramhour_service" / "demo"
SAMPLES = ROOT / "tests" / "measuring" / "samples"
PLAIN_SHEET = parse_toml((DEMO / "sheet.toml").read_bytes())
SHEET = sound_sheet(PLAIN_SHEET)
SMALL_SHEET = {
    "currency": "EUR", "labour_rate_per_hour": 24, "price_per_kwh": Decimal("0.30"),
    "materials": {"pla": {"price_per_kg": Decimal("21.50")}},
    "machines": {"printer": {"rate_per_hour": Decimal("0.35"), "power_w": 120}},
    "channels": {"shop": {"prices_include_tax": True, "tax_rate_pct": 19}},
}  # fmt: skip
KINDS = (SHOP, "materials", "nozzles", "machines", "components", "channels", "profiles", "services")
LIMITS = Limits(triangles=5_000)
PROFILES = (laid_by("fine-04", SHEET),)
LONGEST = 20_000
MOST_EVALUATIONS = 300
EXPLAINED = 32
"""One in so many requests is explained."""

OWN_WAYS = (Refused, RefusedFile, ToolpathRefused, NotGenuine)
"""How readers refuse; whatever else they raise is a finding."""

MOTION = Motion(
    speed_mm_s=300,
    acceleration_mm_s2=1500,
    deceleration_mm_s2=2500,
    corner_speed_change_mm_s=12,
    vertical_speed_mm_s=15,
    vertical_acceleration_mm_s2=200,
    filament_speed_mm_s=45,
    filament_acceleration_mm_s2=900,
)
FILAMENTS = {0: Filament(diameter_mm=1.75, density_g_cm3=1.24)}
GCODE = b"""M83
G21
G90
G1 Z0.2 F600
G1 X10 Y0 E0.4 F1800
G2 X20 Y10 I10 J0 E0.7
G3 X0 Y0 R12 E.5
G28 X
G10
G11
G10 S1
G4 P100
M82
G92 E0
G91
G1 X0 E5
G20
N12 T0 M6 (a comment) *71
PRINT_START A=1
/G1 X1
G1 X5E2 ; end
"""


class Reader(NamedTuple):
    """A reader, good files to begin with, and how they are altered."""

    read: Callable[[bytes], object]
    good: list[bytes]
    alter: Alter = as_they_are


def as_json(document: Any) -> bytes:
    """Write a document as JSON."""
    return json.dumps(document, default=str).encode()


def requests() -> list[Any]:
    """Give the demo's requests, and one with all that may stand beside a product."""
    found = [parse_toml(each.read_bytes()) for each in sorted(DEMO.glob("*.toml"))]
    asked = [each for each in found if "product" in each]
    more = {
        "breaks": [1, 5], "discount_pct": "3", "from": "2026-12-01T09:00:00+01:00",
        "valid_days": 9, "rates_on": "2026-12-01", "aim": {"unit_price": "40"},
        "rate_overrides": {"materials": {"asa-green": {"price_per_kg": "31"}}},
        "workload": {"machines": {"large": {"queue_h": ["4.5"]}}},
    }  # fmt: skip
    return [*asked, {**asked[0], **more}]


def quoted(sent: Any) -> None:
    """Price a request and write both views, of some with reasons, which take ten times as long."""
    quote = answer_quote(sent, SHEET, explain=len(str(sent)) % EXPLAINED == 0)
    msgspec.json.encode(quote)
    msgspec.json.encode(price_view(quote))


def _of_documents(
    read: Callable[[Any], object],
    good: list[Any],
    parse: Callable[[bytes], Any] = parse_json,
    write: Callable[[Any], bytes] = as_json,
) -> Reader:
    written = [write(each) for each in good]
    return Reader(lambda sent: read(parse(sent)), written, in_documents(parse, write, written))


def _sheet(parse: Callable[[bytes], Any], write: Callable[[Any], bytes]) -> Reader:
    return _of_documents(sound_sheet, [SMALL_SHEET, canaries.SHEET], parse, write)


def _ndjson() -> Reader:
    def read(sent: bytes) -> None:
        for item in _lines(sent):
            if item.refused is None:
                try:
                    quoted(item.sent)
                except Refused:
                    continue

    lines = [as_json(each) for each in requests()[:3]]
    return Reader(read, [b"\n".join(lines)], in_lines(in_documents(parse_json, as_json, lines)))


def _csv() -> Reader:
    """Read rows of a kind, told by the first byte, and lay them over the demo's sheet."""

    def read(sent: bytes) -> None:
        kind = KINDS[sent[0] % len(KINDS)] if sent else SHOP
        rows = read_rows(kind, sent[1:])
        before = PLAIN_SHEET if kind == SHOP else PLAIN_SHEET.get(kind, {})
        rates = {row.code: merged(row, before.get(row.code)) for row in rows.rows}
        laid = rates if kind == SHOP else {kind: {**before, **rates}}
        written_rows(kind, rates)
        sound_sheet({**PLAIN_SHEET, **laid})

    good = []
    for number, kind in enumerate(KINDS):
        names = [*msgspec.structs.asdict(SHEET)] if kind == SHOP else []
        shop = {name: PLAIN_SHEET[name] for name in names if not isinstance(PLAIN_SHEET.get(name), dict | type(None))}  # fmt: skip  # noqa: E501
        rates = shop if kind == SHOP else PLAIN_SHEET[kind]
        good.append(bytes([number]) + written_rows(kind, rates).encode())
        assert columns_of(kind)
    return Reader(read, good)


def _listings() -> Reader:
    def read(sent: bytes) -> None:
        rows = read_listing_rows(sent)
        written_rows("listings", {row.code: merged(row, {}) for row in rows.rows if not row.faults})

    return Reader(read, [(DEMO / "shop" / "listings.csv").read_bytes()])


def _mesh(media_type: str, good: list[bytes], alter: Alter = as_they_are) -> Reader:
    task = Task(media_type, LIMITS, PROFILES)
    return Reader(lambda sent: msgspec.json.encode(measured_apart(sent, task)), good, alter)


def _tokens() -> Reader:
    key = made_key()
    keys = {"a": key}
    good = [signed(b'{"iat":1}', "gramhour-price+jws", key), "e30.e30." + "A" * 86]
    good.append(signed(b"x", "other", key))

    def read(sent: bytes) -> None:
        text = sent.decode("latin-1")
        assert verified(text, "gramhour-price+jws", keys) == b'{"iat":1}', text

    return Reader(read, [each.encode() for each in good])


def _headers() -> Reader:
    """Read headers, a line each: Accept, Content-Type, If-Match, If-None-Match, others."""
    names = (b"accept", b"content-type", b"if-match", b"if-none-match", b"authorization", b"cookie",
             b"accept-encoding", b"idempotency-key")  # fmt: skip
    shop = Shop()
    asked = (("GET", "/v1/prices", "price"), ("GET", "/v1/rates", "cost"),
             ("PUT", "/v1/products/x", "listings"), ("GET", "/v1/unit-price", None))  # fmt: skip

    def read(sent: bytes) -> None:
        given = list(zip(names, sent.split(b"\n"), strict=False))
        request = request_of(shop.app, given)
        for way in (
            lambda: media_type_wanted(request, ("application/json", "text/csv")),
            lambda: media_type_sent(request, UNDERSTOOD),
            lambda: tags_sent(request, "if-match"),
        ):
            try:
                way()
            except Refused:
                continue
        method, path, key = asked[len(sent) % len(asked)]
        shop.ask(method, path, key=key, query=b"channel=fair", headers=given, body=b"{}")

    good = b'application/json;q=0.5, text/*\napplication/json; charset="utf-8"\n"r1@2026-12-01"'
    more = b'\nW/"v1", *\nBearer x\ngramhour-desk=a; b="c"\ngzip;q=0\nonce'
    return Reader(read, [good + more, b"*/*\nmultipart/form-data; boundary=x\n*\n*"])


def _queries() -> Reader:
    """Ask what takes parameters with them, told by the first byte; a price key sees no canary."""
    shop = Shop()
    asked = (
        ("/v1/unit-price", "price"), ("/v1/unit-price", "cost"), ("/v1/prices", "price"),
        ("/v1/listings", "cost"), ("/v1/products", "cost"), ("/v1/rates", "cost"),
        ("/v1/revisions", "cost"), ("/v1/repricings", "listings"), ("/", None), ("/desk/sign-in", None),
    )  # fmt: skip

    def read(sent: bytes) -> None:
        path, key = asked[sent[0] % len(asked)] if sent else asked[0]
        answer = shop.ask("GET", path, key=key, query=sent[1:])
        if key in ("price", None):
            shop.find_canaries(answer, sent)

    good = [
        (1, "material=stone&mass_g=42.5&machine=quetzal-left&print_min=95&channel=fair&quantity=10"
            "&breaks=1,5&decimal=comma&errors=text&again=1&view=price&from=2026-12-01T09:00:00Z"),
        (0, "sku=HP-2&quantity=4&view=price"),
        (2, "channel=fair&changed_since=1&limit=1&cursor=3.4&seal=false"),
        (2, "channel=fair&limit=1&cursor=3.HP-1"),
        (3, "limit=1&cursor=HP-1&channel=fair&uses=materials/stone&below_floor=true&product=x"),
        (4, "limit=5&cursor=x"),
        (5, "rates_revision=1&rates_on=2026-12-01"),
        (6, "limit=1&cursor=1"),
        (7, "limit=1&cursor=2026-12-01T09:00:00+00:00:0000000000000000"),
        (8, "sku=HP-2&quantity=4&by=2026-12-24"),
        (9, "next=/desk/bench?load=x&ended=true"),
    ]  # fmt: skip
    return Reader(read, [bytes([number]) + query.encode() for number, query in good])


def _multipart() -> Reader:
    """Read a form with a file, as ``/v1/measurements`` and the page for own parts do."""
    shop = Shop()
    head = [(b"content-type", b"multipart/form-data; boundary=x")]

    def read(sent: bytes) -> None:
        if b".stl" not in sent.lower() and b".3mf" not in sent.lower():  # nothing to measure apart
            shop.ask("POST", "/own-part", key=None, headers=head, body=sent)
        shop.run(_file_of(request_of(shop.app, head, sent)))

    part = b'--x\r\nContent-Disposition: form-data; name="%s"%s\r\n%s\r\n%s\r\n'
    text = part % (b"quantity", b"", b"Content-Type: text/plain; charset=latin-1\r\n", b"2")
    file = part % (b"file", b'; filename="a.stl"', b"Content-Type: model/stl\r\n", CUBE[:50])
    return Reader(read, [text + file + b"--x--\r\n", text + b"--x--\r\n", b"--x--\r\n"])


async def _file_of(request: Any) -> None:
    kind, take_in = await _file_sent(request)
    assert kind in UNDERSTOOD
    await take_in()


def _forms() -> Reader:
    """Read a form of the desk's bench into a document, and show it as a form again."""
    from urllib.parse import parse_qs  # noqa: PLC0415

    def read(sent: bytes) -> None:
        try:
            fields = parse_qs(sent.decode(), keep_blank_values=True, errors="strict")
        except ValueError:
            return
        document: Any = document_of(REQUEST, fields)
        whole = document if isinstance(document, dict) else {}
        for change, name in ((with_row, "add"), (without_row, "remove")):
            if name in fields:
                whole = change(whole, fields[name][0])
        form_of(REQUEST, whole, {})
        msgspec.json.encode(whole)

    fields = {
        "/quantity": "10", "/channel": "own-shop", "/breaks": "1, 5", "/aim/margin_pct": "40",
        "row": ["/product/pieces/0", "/product/pieces/0/feed/0"], "/product/name": "Pot",
        "/product/pieces/0/machine": "large", "/product/pieces/0/feed/0/mass_g": "4",
        "/product/hazards": "heat source", "/rate_overrides": "{}", "add": "/product/components",
        "remove": "/product/pieces/0", "/from": "2026-12-01T09:00:00Z", "/seal": "true",
    }  # fmt: skip
    return Reader(read, [urlencode(fields, doseq=True).encode()])


def _comparison(sent: Any) -> None:
    asked = sought(_find, NOW, sent)
    if evaluations(asked) > MOST_EVALUATIONS:
        return
    steps = evaluate(asked)
    while True:
        try:
            next(steps)
        except StopIteration as ended:
            msgspec.json.encode(told(asked, ended.value))
            return


def _find(revision: int | None, on: Any) -> Any:
    return _demo_store().app.state.shop.pinned(revision, on)


@cache
def _demo_store() -> Shop:
    return Shop(SHEET)


def _comparisons() -> Reader:
    good = [parse_toml((DEMO / "shop" / "compare-nozzles.toml").read_bytes())]
    return _of_documents(_comparison, good)


def _calibrations() -> Reader:
    good = [parse_toml((DEMO / "shop" / "timed-builds.toml").read_bytes())]
    return _of_documents(
        lambda sent: msgspec.json.encode(calibrated(read_calibration(sent, SHEET), SHEET)), good
    )


def _workload() -> Reader:
    good = [{"machines": {"large": {"queue_h": ["4.5", 3]}}}]
    return _of_documents(lambda sent: read_workload(sent, SHEET), good)


def _bodies() -> Reader:
    """Send documents to the routes that take them, told by the first byte."""
    shop = Shop()
    pot = {"pieces": [{"machine": "quetzal-left", "print_min": "95",
                       "feed": [{"material": "stone", "mass_g": "42.5"}]}]}  # fmt: skip
    listing = {"product": "quetzal-planter", "channel": "fair", "breaks": [1, 2]}
    change = {"kind": "shop", "code": "price_per_kwh", "value": "0.4"}
    asked: list[tuple[str, str, str, Any]] = [
        ("POST", "/v1/rate-changes", "rates",
         {"based_on_revision": 1, "effective_from": "2027-01-05", "note": "n", "changes": [change]}),
        ("POST", "/v1/products", "listings", {"items": [{"code": "pot", "product": pot}]}),
        ("POST", "/v1/listings", "listings", {"items": [{"sku": "P-1", **listing}]}),
        ("POST", "/v1/seals/verify", "price", {"seal": "e30.e30." + "A" * 86}),
        ("POST", "/v1/quotes", "price", {"sku": "HP-2", "quantity": 4, "channel": "fair"}),
        ("POST", "/v1/quotes", "price",
         {"measurement": "x", "service": "own-parts", "material": "stone", "quantity": 2}),
        ("POST", "/v1/quotes/batch", "price", {"requests": [{"sku": "HP-2", "quantity": 4}]}),
        ("POST", "/v1/quotes", "cost", {"product": pot, "quantity": 2, "channel": "fair"}),
        ("PUT", "/v1/workload", "listings", {"machines": {"quetzal-left": {"queue_h": [1]}}}),
        ("PUT", "/v1/rates/materials/stone", "rates", {"price_per_kg": "20"}),
        ("PUT", "/v1/products/pot", "listings", {"product": pot}),
        ("PUT", "/v1/listings/P-2", "listings", listing),
    ]  # fmt: skip

    def read(sent: bytes) -> None:
        method, path, key, _ = asked[sent[0] % len(asked)] if sent else asked[0]
        query = b"trial=true" if path == "/v1/rate-changes" else b""
        headers = [(b"content-type", b"application/json"), (b"if-none-match", b"*")]
        answer = shop.ask(method, path, key=key, query=query, headers=headers, body=sent[1:])
        if key == "price":
            shop.find_canaries(answer, sent)

    good = [bytes([number]) + as_json(each[3]) for number, each in enumerate(asked)]
    return Reader(read, good, in_documents(parse_json, as_json, good, head=1))


def readers() -> dict[str, Callable[[], Reader]]:
    """Name all readers; each is made when it is fed."""
    return {
        "json": lambda: _of_documents(quoted, requests()),
        "toml": lambda: _of_documents(quoted, requests(), parse_toml, write_toml),
        "sheet": lambda: _sheet(parse_toml, write_toml),
        "ndjson": _ndjson,
        "csv": _csv,
        "listings": _listings,
        "stl": lambda: _mesh(
            "model/stl",
            [CUBE, (DEMO / "shop" / "seed-tray-label.stl").read_bytes()],
            in_meshes,
        ),
        "3mf": lambda: _mesh(
            "model/3mf",
            [file.read_bytes() for file in SAMPLES.glob("*.3mf") if file.stat().st_size < LONGEST],
            in_packages,
        ),
        "gcode": lambda: Reader(lambda sent: read_toolpath([sent], MOTION, FILAMENTS), [GCODE]),
        "tokens": _tokens,
        "headers": _headers,
        "queries": _queries,
        "multipart": _multipart,
        "forms": _forms,
        "bodies": _bodies,
        "comparisons": _comparisons,
        "calibrations": _calibrations,
        "workload": _workload,
    }
