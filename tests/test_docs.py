"""The documents tell the truth: the members' table is the code's, README's commands run."""

import os
import re
import shlex
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from decimal import Decimal
from pathlib import Path

import msgspec
from msgspec import UNSET

from gramhour.contract.answer import PriceQuote, Quote
from gramhour.contract.documents import parse_toml
from gramhour.contract.table import table
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.calculation.rules import RULES
from gramhour_service.http.__main__ import written
from gramhour_service.resolve.sheet import sound_sheet

ROOT = Path(__file__).parent.parent
STOREFRONT = "storefront.py"
FOREIGN = ("VIRTUAL_ENV", "PYTHONPATH", "GRAMHOUR_")


def test_the_table_of_members_is_the_contracts() -> None:
    kept = (ROOT / "openapi" / "members.md").read_text()
    assert kept == table(), "run: python -m gramhour.contract.table > openapi/members.md"


def test_the_table_of_problems_is_the_codes() -> None:
    assert (ROOT / "openapi" / "problems.md").read_bytes() == written("problems")


def test_the_committed_contract_is_the_services() -> None:
    kept = (ROOT / "openapi" / "openapi.json").read_bytes()
    assert kept == written("contract"), "see the docstring of service/gramhour_service/http"


def test_the_way_to_each_rule_that_developers_md_shows_exists() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text()
    calculation = ROOT / "service" / "gramhour_service" / "calculation"
    shown = re.findall(r"`calculation/(\w+\.py)`: `(\w+)`", guide)
    assert len(shown) >= 10
    for file, rule in shown:
        assert rule in RULES, rule
        assert f"def {rule}(" in (calculation / file).read_text()


def checkout_in(folder: Path) -> None:
    """Copy what is or would be committed."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    for name in listed.stdout.splitlines():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        if (ROOT / name).exists():
            shutil.copy(ROOT / name, target)


def commands_of_the_readme() -> list[str]:
    blocks = re.findall(r"```sh\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    commands: list[str] = []
    begun = ""
    for line in "".join(blocks).splitlines():
        begun += line
        if is_whole(begun):
            commands.append(begun)
            begun = ""
        elif begun:
            begun += "\n"
    assert not begun, f"this command has no end that can be seen: {begun}"
    return commands


def is_whole(command: str) -> bool:
    """Say whether a command ends where its last line does."""
    try:
        return bool(shlex.split(command)) and not command.endswith("\\")
    except ValueError:  # a quotation is open
        return False


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port: int = listening.getsockname()[1]
    return port


def wait_until_served(port: int, server: subprocess.Popen[str]) -> None:
    deadline = time.monotonic() + 300
    while time.monotonic() < deadline:
        assert server.poll() is None
        with suppress(OSError), socket.create_connection(("127.0.0.1", port)):
            return
        time.sleep(0.1)
    raise AssertionError("the service did not begin")


def test_the_commands_of_the_readme_run_as_they_stand(tmp_path: Path) -> None:
    checkout_in(tmp_path)
    ports = {port: free_port() for port in ("8750", "8751", "8752", "8753")}
    environment = {k: v for k, v in os.environ.items() if not k.startswith(FOREIGN)}
    environment["GRAMHOUR_PORT"] = str(ports["8750"])
    outputs: dict[str, str] = {}
    with ExitStack() as servers:
        for command in commands_of_the_readme():
            there = re.sub("875[0-3]", lambda found: str(ports[found[0]]), command)
            if command.startswith("export "):
                name, value = there.removeprefix("export ").split("=")
                environment[name] = value
            elif command == "deploy/start" or " serve " in command or STOREFRONT in command:
                port = ports[next((named for named in reversed(ports) if named in command), "8750")]
                outputs[command] = servers.enter_context(served(there, port, tmp_path, environment))
            elif command != "tests/run":  # that is what runs this
                outputs[command] = run(there, tmp_path, environment)
        start = outputs["deploy/start"]
        printed = " ".join(Path(start).with_suffix(".err").read_text().split())
        again = run("! deploy/start 2>&1", tmp_path, environment)
        assert "perhaps this service" in again, "its own words"
        assert again.endswith("\nHere another port is: GRAMHOUR_PORT=9000 deploy/start\n")
        assert "Serving on" not in again, "nor those of the first, nor its log"
    check_outputs(outputs, tmp_path)
    assert "26.90 a unit" in Path(start).read_text()
    curl = next(command for command in outputs if command.startswith("curl"))
    assert " ".join(curl.split()).replace("8750", str(ports["8750"])) in printed


def check_outputs(outputs: dict[str, str], folder: Path) -> None:
    (refused,) = (told for command, told in outputs.items() if "errors=text" in command)
    comma = "must have a decimal point, as in 12.50, no comma: not '42,5'"
    assert refused == f"error: mass_g: {comma}"
    curls = [
        told
        for command, told in outputs.items()
        if command.startswith("curl")
        and "errors=text" not in command
        and not any(named in command for named in (" -o ", "8753", "seal=true", "jwks"))
    ]
    check_storefront(outputs)
    whole, cell, price, what_if, workload, trial, revisions, *story = curls
    answer = msgspec.json.decode(whole, type=Quote)
    assert (answer.at_quantity.unit_price, answer.rates_revision) == (Decimal("26.90"), 1)
    assert Decimal(cell) > 0
    assert workload == '{"version":0,"machines":{}}'
    assert answer.lead_time
    assert '"trial":true' in trial
    assert '"note":"the demo\'s rates"' in revisions
    assert '"valid_until":"2099-01-15T23:59:59+01:00"' in what_if
    assert '"unit_price":"26.90"' in price
    assert "unit_cost" not in price
    check_story(outputs, story)
    quoted = (folder / "my-quotes.csv").read_text().splitlines()[1]
    assert quoted.startswith("Hook,pla-chalk,12.5,small-2,40,own-shop,10,")
    assert "<td>HP-W</td>" in (folder / "my-prices.html").read_text()
    assert "feedstock_consumed" in next(o for c, o in outputs.items() if "--explain" in c)
    told = (folder / "my-quote.json").read_text()
    assert '"unit_price"' in told
    assert '"expression"' in told
    for workbook in ("my-quote.ods", "my-asked-quote.ods"):
        assert (folder / workbook).read_bytes()[30:38] == b"mimetype"
    stored = sound_sheet(parse_toml((folder / "my-stored-rates.toml").read_bytes()))
    assert stored == sound_sheet(parse_toml((folder / "my-rates.toml").read_bytes()))


def check_storefront(outputs: dict[str, str]) -> None:
    """A shop that shows prices, and what it shows them with."""
    page, prices, keys = (
        next(told for command, told in outputs.items() if named in command)
        for named in ("curl http://127.0.0.1:8753/", "seal=true", "jwks")
    )
    assert page.count('name="seal" value="ey') > 10
    assert '"seal":"ey' in prices
    assert '"crv":"Ed25519"' in keys
    recalled = next(told for command, told in outputs.items() if "seals recall" in command)
    assert "Revision 2 recalled" in recalled


def check_story(outputs: dict[str, str], curls: list[str]) -> None:
    """The day a filament price changes, by commands and by HTTP."""
    cell, prices, quote, repricing, repricings, measured, part, own = curls
    assert '"volume_cm3":0.96,' in measured  # 40 · 12 · 2 mm
    assert part == ""  # it is kept in a file, for the quote of it
    priced = msgspec.json.decode(own, type=PriceQuote)
    assert priced.at_quantity.quantity == 12
    assert "estimated" in {each.basis for each in priced.basis}
    estimate = next(told for command, told in outputs.items() if "--profile" in command)
    assert "estimated by the profile fine-04" in " ".join(estimate.split())
    calibration = next(told for command, told in outputs.items() if "calibrate" in command)
    assert "pace = 0.8109" in calibration
    assert cell == "28.90"
    assert '"sku":"HP-W"' in prices
    assert "unit_cost" not in prices
    listed = msgspec.json.decode(quote, type=Quote).listed
    assert listed is not UNSET
    assert [str(each.unit_price) for each in listed.breaks] == ["46.90", "30.90", "28.90"]
    assert '"is_proposed":true' in repricing
    assert '"is_proposed":true' in repricings
    applied = [told for command, told in outputs.items() if "--apply" in command]
    assert "Applied: 51 prices" in applied[0]
    assert "Applied: 16 prices from 2099-01-05 on, 2 left out; change 67." in applied[1]
    tried = next(told for command, told in outputs.items() if "--propose" in command)
    assert "17.30" in tried  # what the worst one cost


def run(command: str, folder: Path, environment: dict[str, str]) -> str:
    ended = subprocess.run(
        ["bash", "-c", command],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == 0, (command, ended.stderr)
    return ended.stdout


@contextmanager
def served(command: str, port: int, folder: Path, environment: dict[str, str]) -> Iterator[str]:
    """Run a command that serves; tell the file of what it prints."""
    out = folder / f"served-{port}.out"
    with out.open("w") as to, out.with_suffix(".err").open("w") as errors:
        server = subprocess.Popen(
            ["bash", "-c", f"exec {command}"],
            cwd=folder,
            env=environment,
            stdout=to,
            stderr=errors,
            text=True,
            start_new_session=True,
        )
        try:
            wait_until_served(port, server)
            if command == "deploy/start":
                wait_for("Ctrl-C ends the service", out.with_suffix(".err"))
            yield str(out)
        finally:
            os.killpg(server.pid, signal.SIGTERM)
            server.wait(timeout=30)


def wait_for(words: str, file: Path) -> None:
    deadline = time.monotonic() + 30
    while words not in file.read_text():
        assert time.monotonic() < deadline, file.read_text()
        time.sleep(0.1)


def test_the_smallest_product_and_sheet_of_the_readme_are_quoted() -> None:
    blocks = re.findall(r"```toml\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    product, sheet = (parse_toml(block.encode()) for block in blocks)
    answer = answer_quote(product, sound_sheet(sheet))
    # 10 · 42.5 g · 21.50/kg, 10 · 95 min · 0.35/h, 10 · 120 W · 95 min · 0.30/kWh
    assert answer.at_quantity.cost.total == Decimal("9.1375") + Decimal("5.5417") + Decimal("0.57")
    assert [each.quantity for each in answer.breaks] == [1, 10, 100]
