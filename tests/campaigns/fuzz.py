"""Feeds each reader of foreign bytes what a coverage-guided fuzzer (atheris) makes of good ones.

In an environment of its own, for it is no dependency of ours:
``python -m venv /tmp/fuzz && /tmp/fuzz/bin/pip install atheris``, then with the tests'
site-packages in PYTHONPATH ``/tmp/fuzz/bin/python tests/campaigns/fuzz.py READER SECONDS``.
A reader may refuse in its own way; every other exception ends the run and is shown.
"""

import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import NamedTuple

import atheris

with atheris.instrument_imports(include=["gramhour", "gramhour_service"]):
    from gramhour.contract.documents import parse_json, parse_toml
    from gramhour.contract.problem import Refused
    from gramhour_service.answer.quoting import answer_quote
    from gramhour_service.http.batch import _lines
    from gramhour_service.listings.csv_rows import read_listing_rows
    from gramhour_service.measuring.bounds import Limits
    from gramhour_service.measuring.bounds import Refused as RefusedFile
    from gramhour_service.measuring.measurement import measure, read_mesh
    from gramhour_service.resolve.sheet import sound_sheet
    from gramhour_service.sheets.csv_kind import read_rows, written_rows
    from gramhour_service.toolpath.faults import ToolpathRefused
    from gramhour_service.toolpath.measured import Filament
    from gramhour_service.toolpath.motion import Motion
    from gramhour_service.toolpath.reading import read_toolpath

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "service" / "gramhour_service" / "demo"
SAMPLES = ROOT / "tests" / "measuring" / "samples"
DEMO_SHEET = parse_toml((DEMO / "sheet.toml").read_bytes())
SHEET = sound_sheet(DEMO_SHEET)
LIMITS = Limits(triangles=5_000)
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
LONGEST = 20_000
GCODE = b"""M83
G21
G90
G1 Z0.2 F600
G1 X10 Y0 E0.4 F1800
G2 X20 Y10 I10 J0 E0.7
M82
G92 E0
G1 X0 E5
T0
"""
OWN_WAYS = (Refused, RefusedFile, ToolpathRefused)


class Reader(NamedTuple):
    """A reader, and good files to begin with."""

    read: Callable[[bytes], object]
    good: Iterable[bytes]


def _requests() -> list[bytes]:
    return [file.read_bytes() for file in DEMO.glob("*.toml") if file.name != "sheet.toml"]


def _as_json(document: bytes) -> bytes:
    from msgspec.json import encode  # noqa: PLC0415 (not to be instrumented)

    return encode(parse_toml(document))


READERS = {
    "json": Reader(
        lambda sent: answer_quote(parse_json(sent), SHEET), [_as_json(each) for each in _requests()]
    ),
    "toml": Reader(lambda sent: answer_quote(parse_toml(sent), SHEET), _requests()),
    "sheet": Reader(
        lambda sent: sound_sheet(parse_toml(sent)), [(DEMO / "sheet.toml").read_bytes()[:LONGEST]]
    ),
    "ndjson": Reader(_lines, [b"\n".join(_as_json(each) for each in _requests()[:2])]),
    "csv": Reader(
        lambda sent: read_rows("materials", sent),
        [
            written_rows(
                "materials", parse_toml((DEMO / "sheet.toml").read_bytes())["materials"]
            ).encode()
        ],
    ),
    "listings": Reader(read_listing_rows, [(DEMO / "shop" / "listings.csv").read_bytes()]),
    "stl": Reader(
        lambda sent: measure(read_mesh(sent, "model/stl", LIMITS)),
        [(DEMO / "shop" / "seed-tray-label.stl").read_bytes()],
    ),
    "3mf": Reader(
        lambda sent: measure(read_mesh(sent, "model/3mf", LIMITS)),
        [file.read_bytes() for file in SAMPLES.glob("*.3mf") if file.stat().st_size < LONGEST],
    ),
    "gcode": Reader(lambda sent: read_toolpath([sent], MOTION, FILAMENTS), [GCODE]),
}


def main(name: str, seconds: int) -> None:
    reader = READERS[name]

    def once(sent: bytes) -> None:
        try:
            reader.read(sent)
        except OWN_WAYS:
            return

    with tempfile.TemporaryDirectory() as corpus:
        for number, good in enumerate(reader.good):
            (Path(corpus) / f"good-{number}").write_bytes(good)
            once(good)
        arguments = [f"-max_total_time={seconds}", f"-max_len={LONGEST}", "-timeout=20"]
        atheris.Setup([sys.argv[0], corpus, "-rss_limit_mb=3000", *arguments], once)
        atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
