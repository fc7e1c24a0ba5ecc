"""The scripts in client/examples, run as their users run them, against a real service."""

import csv
import os
import re
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from gramhour import Client
from tests import demo
from tests.http.door import HERE, secret
from tests.office.conftest import stocked
from tests.server.running import Service, demo_store, serving, take_in

EXAMPLES = Path(__file__).parents[2] / "client" / "examples"
LONGEST = 60
HEADINGS = ["Part", "material", "mass_g", "machine", "print_min", "channel", "quantity"]
RESULTS = ["unit_price_asked", "unit_cost", "margin", "error"]
ROWS, ROWS_LONG = 1_500, 5_000
"""Of more than one batch; 5,000 in the long run."""
WRONG = 17


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store that nobody writes: tests take a copy of it."""
    return stocked(demo_store(tmp_path_factory.mktemp("examples") / "gramhour.sqlite"))


@pytest.fixture(scope="module")
def shop(store: Path) -> Iterator[Service]:
    with serving(copied(store, store.parent / "served")) as service:
        yield service


def copied(store: Path, folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    target = folder / store.name
    target.touch(0o600)
    with closing(sqlite3.connect(store)) as stocked, closing(sqlite3.connect(target)) as copy:
        stocked.backup(copy)
    return target


def environment(service: Service, key: str) -> dict[str, str]:
    told = {"GRAMHOUR_URL": f"http://{HERE}:{service.port}", "GRAMHOUR_KEY": secret(key)}
    return {**os.environ, **told, "PYTHONWARNINGS": "error"}


def run(service: Service, key: str, *arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """Run a script to its end."""
    name, *more = map(str, arguments)
    return subprocess.run(
        [sys.executable, str(EXAMPLES / name), *more],
        env=environment(service, key), capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.mark.parametrize("script", ["quote_parts", "reprice_nightly", "price_list"])
def test_a_script_has_less_than_60_lines(script: str) -> None:
    assert len((EXAMPLES / f"{script}.py").read_text().splitlines()) < LONGEST


def parts(path: Path, rows: int) -> list[list[str]]:
    """Write a list of parts, the 17th wrong."""
    told = [
        [f"Part {n}, grey", "pla-chalk", str(Decimal(n) / 8 + 1), "small-2", str(n % 300 + 1),
         "own-shop", str(n % 50 + 1)]
        for n in range(1, rows + 1)
    ]  # fmt: skip
    told[WRONG - 1][2] = "2,5"
    with path.open("w", encoding="utf-8-sig", newline="") as to:
        csv.writer(to).writerows([HEADINGS, *told])
    return told


def read(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def test_a_long_list_is_quoted_and_an_interrupted_run_is_gone_on_with(
    shop: Service, tmp_path: Path, pytestconfig: pytest.Config
) -> None:
    number = ROWS_LONG if pytestconfig.getoption("long") else ROWS
    told = parts(tmp_path / "parts.csv", number)
    at_once, in_two = tmp_path / "once.csv", tmp_path / "twice.csv"
    done = run(shop, "cost", "quote_parts.py", tmp_path / "parts.csv", at_once)
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr == f"Rows: {number}; quoted before: 0\n"  # no progress but on a terminal
    head, *rows = read(at_once)
    assert head == [*HEADINGS, *RESULTS]
    assert [row[: len(HEADINGS)] for row in rows] == told
    assert [n for n, row in enumerate(rows, start=1) if row[-1]] == [WRONG]
    comma = "must have a decimal point, as in 12.50, no comma: not '2,5'"
    assert rows[WRONG - 1][-4:] == ["", "", "", f"mass_g: {comma}"]
    check_row(shop, rows[1_321])

    interrupt(shop, tmp_path / "parts.csv", in_two)
    assert 0 < len(in_two.read_bytes()) < len(at_once.read_bytes())
    again = run(shop, "cost", "quote_parts.py", tmp_path / "parts.csv", in_two)
    assert again.returncode == 0, again.stderr
    before = int(again.stderr.rpartition("quoted before: ")[2])
    assert 0 < before < number
    assert in_two.read_bytes() == at_once.read_bytes()


def check_row(service: Service, row: list[str]) -> None:
    _, material, mass, machine, minutes, channel, quantity, price, cost, margin, _ = row
    feed: Any = [{"material": material, "mass_g": mass}]
    piece = {"machine": machine, "print_min": minutes, "feed": feed}
    with Client(url=f"http://{HERE}:{service.port}", key=secret("cost")) as client:
        asked = client.quote(
            {"product": {"pieces": [piece]}, "channel": channel, "quantity": int(quantity)}
        ).at_quantity
    assert [price, cost, margin] == list(
        map(str, (asked.unit_price, asked.unit_cost, asked.margin_pct))
    )


def interrupt(service: Service, source: Path, target: Path) -> None:
    """Start the script, and kill it when some of its rows are there."""
    with subprocess.Popen(
        [sys.executable, str(EXAMPLES / "quote_parts.py"), str(source), str(target)],
        env=environment(service, "cost"),
        stderr=subprocess.PIPE,
    ) as started:
        deadline = time.monotonic() + 60
        while not target.exists() or len(target.read_bytes()) < 1_000:
            assert time.monotonic() < deadline
            assert started.poll() is None
        started.kill()


def test_a_file_with_quotes_of_other_parts_is_left_alone(shop: Service, tmp_path: Path) -> None:
    parts(tmp_path / "parts.csv", 20)
    other = tmp_path / "other.csv"
    other.write_text("Part,x\nsomething,1\n")
    done = run(shop, "cost", "quote_parts.py", tmp_path / "parts.csv", other)
    assert done.returncode == 1
    assert "has quotes of other parts: name another file, or remove it" in done.stderr
    assert other.read_text() == "Part,x\nsomething,1\n"


def test_without_a_service_the_script_says_so_and_how_to_go_on(
    shop: Service, tmp_path: Path
) -> None:
    parts(tmp_path / "parts.csv", 20)
    stopped = shop._replace(port=9)
    done = run(stopped, "cost", "quote_parts.py", tmp_path / "parts.csv", tmp_path / "q.csv")
    assert done.returncode == 1
    assert done.stderr.endswith("What was quoted is kept; start it again to go on.\n")
    assert "Traceback" not in done.stderr


def test_the_nightly_repricing_ends_with_1_and_names_what_fell_under_its_floor_else_with_0(
    store: Path, tmp_path: Path
) -> None:
    store = copied(store, tmp_path)
    take_in(store, replace(demo.sheet(), labour_rate_per_hour=Decimal(60)))
    with serving(store) as service:
        done = run(service, "listings", "reprice_nightly.py")
        assert done.returncode == 1
        with Client(url=f"http://{HERE}:{service.port}", key=secret("listings")) as client:
            found = client.wait_for(client.reprice(over="all").id)
            lines = client.all_repricing_lines(found.id)
            under = [line.sku for line in lines if line.under_floor_if_kept]
        floors = {"own-shop": 25, "market": 20, "trade": 15}  # of the demo
        title, *told = done.stdout.split("Under its floor:\n")[1:]
        assert not told
        assert [line.split(",")[0].strip() for line in title.splitlines()] == under
        for line in title.splitlines():
            channel = line.split(",")[1].partition(":")[0].strip()
            least = min(Decimal(m) for m in re.findall(r"least margin (-?[\d.]+) ->", line))
            assert least < floors[channel], line
        applied = run(service, "listings", "reprice_nightly.py", "--apply")
        assert "prices listed" in applied.stdout
        with Client(url=f"http://{HERE}:{service.port}", key=secret("listings")) as client:
            for sku in under:
                client.delete_listing(sku, if_match=client.listing(sku).tag)
        done = run(service, "listings", "reprice_nightly.py")
        assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_a_price_list_has_all_that_is_listed_on_a_channel(shop: Service) -> None:
    done = run(shop, "price", "price_list.py", "own-shop", "Desk & balcony")
    assert (done.returncode, done.stderr) == (0, "")
    assert "<h1>Desk &amp; balcony</h1>" in done.stdout
    assert "in EUR, with tax." in done.stdout
    with Client(url=f"http://{HERE}:{shop.port}", key=secret("cost")) as client:
        items = list(client.all_prices("own-shop"))
        assert len(items) == 17
        for item in items:
            prices = "<br>".join(str(each.unit_price) for each in item.breaks)
            quantities = "<br>".join(str(each.from_quantity) for each in item.breaks)
            assert f"<td>{item.sku}</td>" in done.stdout
            assert f'{quantities}</td><td class="price">{prices}</td>' in done.stdout


def test_a_channel_that_there_is_none_of_is_told(shop: Service) -> None:
    done = run(shop, "price", "price_list.py", "market-hall")
    assert (done.returncode, done.stdout) == (1, "")
    assert "Traceback" not in done.stderr
