"""The small shop's stake, listed: its rows, its prices by hand, and a service of the same store.

At an aim of 40 % of the net: one stake costs 5.56 and a pack of tags 2.50, 8.06 / 0.6 = 13.44,
rounded up to a cent; ten cost 55.60 and two packs 5.00, 60.60 / 10 / 0.6 = 10.10.

With work at 36.00 an hour (two minutes a stake: 0.20 more): 8.26 / 0.6 = 13.77 and 62.60: 10.44.
With filament at 40.00 a kilogram (50 g: 0.50 more): 8.56 / 0.6 = 14.27 and 65.60: 10.94.
With both: 8.76 / 0.6 = 14.60 and 67.60: 11.27.

From ten on, eleven have the least margin, of a third pack: 111.10 - 61.16 - 7.50 = 42.44, 38.20 %;
with both 123.97 - 68.86 - 7.50 = 47.61, 38.40 %, and at the old price 34.74 of 111.10, 31.27 %.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from gramhour.contract.documents import parse_toml
from tests.client.running import running
from tests.commandline.conftest import REQUEST, Run

PRODUCT: Any = parse_toml(REQUEST.encode())["product"]
LISTING: dict[str, Any] = {
    "product": "stake",
    "channel": "stall",
    "aim": {"margin_pct": "40"},
    "breaks": [1, 10],
}
CSV = """\
sku,product,channel,aim.margin_pct,breaks
ST-1,stake,stall,40,"[1,10]"
ST-2,stake,stall,40,"[1,10]"
"""
DEARER = """\
note = "price lists of January"

[[changes]]
kind = "shop"
code = "labour_rate_per_hour"
value = 36.00

[[changes]]
kind = "materials"
code = "pla"
value = { name = "PLA, moss", price_per_kg = 40.00 }
"""


def told_of(run: Run, *arguments: str) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def stock(run: Run, shop: Path) -> None:
    """Take in the rates, the stake, and two listings of it."""
    told_of(run, "rates", "import", "rates.toml")
    (shop / "products.json").write_text(json.dumps({"items": [row()]}))
    assert told_of(run, "products", "import", "products.json") == (
        "1 added, 0 changed, 0 unchanged.\n"
    )
    (shop / "listings.csv").write_text(CSV)
    assert told_of(run, "listings", "import", "listings.csv") == (
        "2 added, 0 changed, 0 unchanged.\n"
    )


def price(run: Run, *options: str) -> None:
    """Give all listings their first prices."""
    result = run("reprice", "--apply", *options)
    assert result.exit_code == 0, result.stderr


def row(code: str = "stake", **more: Any) -> dict[str, Any]:
    product: dict[str, Any] = json.loads(json.dumps(PRODUCT, default=str))
    return {"code": code, "product": product, **more}


@contextmanager
def serving(run: Run, shop: Path) -> Iterator[tuple[str, ...]]:
    """Run a service of the shop's store, and give the options to ask it with."""
    key = told_of(run, "keys", "add", "a script", "--scope", "listings", "--scope", "rates").strip()
    with running(shop / "shop" / "store.sqlite", shop / "asked") as service:
        yield ("--url", service.url, "--key", key)


def listed(run: Run, sku: str, *options: str) -> list[tuple[str, str]]:
    """Say from which day on a sku has which price of one unit."""
    told = json.loads(told_of_prices(run, *options))
    return [
        (each["valid_from"], each["breaks"][0]["unit_price"])
        for each in told["items"]
        if each["sku"] == sku
    ]


def told_of_prices(run: Run, *options: str) -> str:
    result = run("prices", "stall", "--json", *options)
    assert result.exit_code == 0, result.stderr
    return result.stdout
