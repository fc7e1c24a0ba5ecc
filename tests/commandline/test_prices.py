"""What is for sale on a channel, shown by command, and followed by its changes."""

import json
import re
from pathlib import Path
from typing import Any

from tests.commandline.conftest import Run
from tests.commandline.offering import LISTING, price, serving, stock, told_of, told_of_prices


def test_prices_of_a_channel_are_shown_and_followed_by_their_changes(run: Run, shop: Path) -> None:
    stock(run, shop)
    empty = run("prices", "stall")
    assert (empty.stdout, empty.stderr.splitlines()[0]) == ("", "Nothing is for sale there.")
    price(run)
    with serving(run, shop) as options:
        for where in ((), options):
            result = run("prices", "stall", *where)
            assert result.stderr == "Change 2; --since 2 tells what comes after.\n"
            header, first, second, *_ = result.stdout.splitlines()
            assert header.split()[:5] == ["Sku", "Name", "From", "Units", "EUR"]
            assert re.split(r"\s{2,}", first)[:2] == ["ST-1", "Plant stake"]
            assert first.split()[-3:] == ["1", "13.44", "13.4400"]
            assert second.split() == ["10", "10.10", "10.1000"]
            since = run("prices", "stall", "--since", "2", *where)
            assert since.stdout == ""
            assert since.stderr.startswith("Nothing changed.\n")
        unknown = run("prices", "stal")
        assert (unknown.exit_code, unknown.stdout) == (1, "")
        assert "there is no channel 'stal'; there are stall" in unknown.stderr
        assert run("prices", "stal", *options).exit_code == 1
    other: dict[str, Any] = {**LISTING, "channel": "stall", "breaks": [5]}
    (shop / "other.json").write_text(json.dumps([{"sku": "ST-3", **other}]))
    told_of(run, "listings", "import", "other.json")
    price(run)
    newer = json.loads(told_of_prices(run, "--since", "2"))
    assert [(each["sku"], each["change"]) for each in newer["items"]] == [("ST-3", 3)]
