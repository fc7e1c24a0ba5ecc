"""A small shop of its own, whose numbers can be checked by hand, and the command to ask it with.

Ten plant stakes: 50 g at 30.00 a kilogram, 2 h at 1.50 an hour and 0.1 kW at 0.30 a kilowatt-hour,
2 minutes at 30.00 an hour, one tag of packs of five at 2.50. One stake: 1.50 + 3.00 + 0.06 + 1.00,
ten: 55.60, and two packs of tags: 60.60. At 10.00 each: profit 39.40, 39.40 % of 100.00.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gramhour_service.commandline import main

Run = Callable[..., Result]

REQUEST = """\
rates_on = 2026-12-01
quantity = 10
breaks = [1, 10]
channel = "stall"
aim = { unit_price = "10.00" }

[product]
name = "Plant stake"
hazards = ["food contact"]
components = [{ component = "tag" }]
work = { unit_min = 2 }

[[product.pieces]]
machine = "printer"
feed = [{ material = "pla", mass_g = 50 }]
print_min = 120
"""

RATES = """\
currency = "EUR"
labour_rate_per_hour = 30.00
price_per_kwh = 0.30

[materials.pla]
name = "PLA, moss"
price_per_kg = 30.00

[machines.printer]
rate_per_hour = 1.50
power_w = 100

[components.tag]
name = "Name tag"
charging = "order"
offers = [{ pack_quantity = 5, price = 2.50 }]

[channels.stall]
name = "Market stall"
prices_include_tax = false
tax_rate_pct = 20
margin_floor_pct = 25
"""


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with a request and a rate sheet."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "stake.toml").write_text(REQUEST)
    (tmp_path / "rates.toml").write_text(RATES)
    return tmp_path


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Run the command with arguments and get its exit code and what it printed."""

    def run(*arguments: str, read: str | bytes = b"", **environment: str) -> Result:
        clean = {"COLUMNS": None, "NO_COLOR": None, "FORCE_COLOR": None, **environment}
        clean.setdefault("GRAMHOUR_STORE", str(tmp_path / "shop" / "store.sqlite"))
        return CliRunner(env=clean).invoke(main, arguments, input=read, catch_exceptions=False)

    return run
