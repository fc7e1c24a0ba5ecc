"""Every reader of foreign bytes, as the fuzzer feeds it, with good files to begin with.

Behind each reader stands what its bytes come to: a request is priced and its answer written, a mesh
is measured and laid down in beads.
"""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec
from litestar.exceptions import HTTPException

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Refused
from gramhour.contract.reading import read_calibration, read_workload
from gramhour_service.answer.price_view import price_view
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.http.batch import _lines
from gramhour_service.http.work import work_of
from gramhour_service.listings.csv_rows import read_listing_rows
from gramhour_service.measuring.apart import Task
from gramhour_service.measuring.bounds import Limits
from gramhour_service.measuring.bounds import Refused as RefusedFile
from gramhour_service.measuring.process import measured_apart
from gramhour_service.own_parts.calibrated import calibrated
from gramhour_service.own_parts.profiles import laid_by
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.cells import columns_of
from gramhour_service.sheets.csv_kind import merged, read_rows, written_rows
from gramhour_service.sheets.rows import SHOP
from gramhour_service.signing.tokens import NotGenuine
from gramhour_service.toolpath.faults import ToolpathRefused
from gramhour_service.toolpath.reading import read_toolpath
from tests.campaigns import doors
from tests.campaigns.altered import (
    Alter,
    Reader,
    as_json,
    as_they_are,
    in_documents,
    in_lines,
    in_meshes,
    in_packages,
    of_documents,
    write_toml,
)
from tests.cube import CUBE
from tests.http import canaries
from tests.toolpath.paths import FILAMENT, MOTION

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
EXPLAINED = 32
"""One in so many requests is explained."""

OWN_WAYS = (Refused, RefusedFile, ToolpathRefused, NotGenuine, HTTPException)
"""How readers refuse, the framework's too; whatever else they raise is a finding."""

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
    work_of(sent)
    quote = answer_quote(sent, SHEET, explain=len(str(sent)) % EXPLAINED == 0)
    msgspec.json.encode(quote)
    msgspec.json.encode(price_view(quote))


def _sheet(parse: Callable[[bytes], Any], write: Callable[[Any], bytes]) -> Reader:
    return of_documents(sound_sheet, [SMALL_SHEET, canaries.SHEET], parse, write)


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


def _calibrations() -> Reader:
    good = [parse_toml((DEMO / "shop" / "timed-builds.toml").read_bytes())]
    return of_documents(
        lambda sent: msgspec.json.encode(calibrated(read_calibration(sent, SHEET), SHEET)), good
    )


def _workload() -> Reader:
    good = [{"machines": {"large": {"queue_h": ["4.5", 3]}}}]
    return of_documents(lambda sent: read_workload(sent, SHEET), good)


def readers() -> dict[str, Callable[[], Reader]]:
    """Name all readers; each is made when it is fed."""
    return {
        "json": lambda: of_documents(quoted, requests()),
        "toml": lambda: of_documents(quoted, requests(), parse_toml, write_toml),
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
        "gcode": lambda: Reader(lambda sent: read_toolpath([sent], MOTION, {0: FILAMENT}), [GCODE]),
        "tokens": doors.tokens,
        "headers": doors.headers,
        "queries": doors.queries,
        "multipart": doors.multipart,
        "forms": doors.forms,
        "bodies": doors.bodies,
        "comparisons": doors.comparisons,
        "calibrations": _calibrations,
        "workload": _workload,
    }
