"""Who wrote what and when: rates, products, listings, prices and keys, from the store's history."""

import json
from pathlib import Path

import pytest

from tests.commandline.conftest import Run

PRODUCT = {
    "code": "stake",
    "product": {
        "pieces": [
            {"machine": "printer", "feed": [{"material": "pla", "mass_g": 50}], "print_min": 120}
        ]
    },
}
LISTINGS = "sku,product,channel,aim.margin_pct\nST-1,stake,stall,40\n"


def told(run: Run) -> list[tuple[str, str]]:
    result = run("store", "trail", "--json")
    assert result.exit_code == 0, result.stderr
    return [(each["what"], each["name"]) for each in json.loads(result.stdout)]


@pytest.mark.usefixtures("shop")
def test_all_that_is_written_is_told_with_who_and_when(run: Run, shop: Path) -> None:
    (shop / "products.ndjson").write_text(json.dumps(PRODUCT) + "\n")
    (shop / "listings.csv").write_text(LISTINGS)
    for arguments in (
        ("rates", "import", "rates.toml", "--note", "how we begin"),
        ("products", "import", "products.ndjson"),
        ("listings", "import", "listings.csv"),
        ("reprice", "--apply", "--note", "first prices"),
        ("keys", "add", "till", "--scope", "price"),
        ("keys", "revoke", "till"),
    ):
        result = run(*arguments)
        assert result.exit_code == 0, (arguments, result.stderr)
    found = told(run)
    assert sorted(what for what, _ in found) == [
        "key added",
        "key revoked",
        "listing added",
        "prices listed",
        "product added",
        "rates changed",
        "repricing asked for",
    ]
    assert {
        ("key revoked", "till"),
        ("listing added", "ST-1"),
        ("prices listed", "1 prices"),
        ("rates changed", "revision 1"),
    } <= set(found)
    shown = run("store", "trail", "--limit", "3").stdout.splitlines()
    assert len(shown) == 4
    assert shown[0].split()[0] == "When"
