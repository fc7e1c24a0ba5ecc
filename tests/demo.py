"""The demo requests and their sheet, as the tests ask them."""

from functools import cache
from pathlib import Path
from typing import Any

from gramhour.contract.documents import parse_toml
from gramhour.contract.rates import RateSheet
from gramhour_service.resolve.sheet import sound_sheet

FOLDER = Path(__file__).parent.parent / "service" / "gramhour_service" / "demo"
SHEET = FOLDER / "sheet.toml"
REQUESTS = sorted(path for path in FOLDER.glob("*.toml") if path != SHEET)


@cache
def sheet() -> RateSheet:
    return sound_sheet(parse_toml(SHEET.read_bytes()))


@cache
def request(name: str) -> Any:
    return parse_toml((FOLDER / f"{name}.toml").read_bytes())


NAMES = [path.stem for path in REQUESTS]
