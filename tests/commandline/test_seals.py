"""Sealed prices on the command line: keys shown and turned over, seals recalled and verified."""

import json
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from gramhour_service.seals.standing import standing
from gramhour_service.store.opening import open_store
from tests.commandline.conftest import Run
from tests.commandline.offering import serving, stock

pytestmark = pytest.mark.usefixtures("shop")
LISTED = '{"sku": "ST-1", "product": "stake", "channel": "stall", "aim": {"unit_price": "10"}}\n'


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "shop" / "store.sqlite"


@pytest.fixture
def priced(run: Run, shop: Path) -> None:
    """A plant stake, listed and priced."""
    (shop / "listings.ndjson").write_text(LISTED)
    product = {"code": "stake", "product": {"name": "Plant stake", "work": {"unit_min": 2}}}
    (shop / "products.ndjson").write_text(json.dumps(product) + "\n")
    for arguments in (
        ("rates", "import", "rates.toml"),
        ("products", "import", "products.ndjson"),
        ("listings", "import", "listings.ndjson"),
        ("reprice", "--apply"),
    ):
        result = run(*arguments)
        assert result.exit_code == 0, result.output


def told(run: Run, *arguments: str) -> Any:
    result = run("seals", *arguments, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def kept(path: Path) -> str:
    """Read the seal that is kept with the price."""
    opened: Database = open_store(path)
    (seal,) = opened.execute("SELECT seal FROM price_seal").fetchone()
    opened.close()
    return str(seal)


@pytest.mark.usefixtures("priced")
def test_price_that_is_applied_is_sealed_and_the_seal_is_verified_here_and_by_a_service(
    run: Run, shop: Path, store: Path
) -> None:
    result = run("seals", "verify", "-", read=kept(store) + "\n")
    assert (result.exit_code, result.stdout) == (0, "valid\n")
    result = run("seals", "verify", "-", read=kept(store)[:-9] + "forgedBAQ")
    assert (result.exit_code, result.stdout) == (1, "not_genuine\n")
    (key,) = told(run, "show")["keys"]
    assert key["state"] == "signs"
    with serving(run, shop) as (*there, _, _):
        asked = run("seals", "verify", "-", *there, read=kept(store))
        assert asked.output == run("seals", "verify", "-", read=kept(store)).output
        forged = run("seals", "verify", "-", *there, read="a.b.c")
    assert (forged.exit_code, forged.stdout) == (1, "not_genuine\n")


@pytest.mark.usefixtures("priced")
def test_seal_is_typed_or_in_a_file_and_it_is_told_what_it_promises(run: Run, store: Path) -> None:
    seal = kept(store)
    Path("my-seal.txt").write_text(seal + "\n")
    promise = "ST-1 on stall, EUR without tax, from 1: 10.00; until "
    for arguments in ((seal,), ("my-seal.txt",)):
        result = run("seals", "verify", *arguments)
        assert (result.exit_code, result.stdout) == (0, "valid\n")
        assert result.stderr.startswith(promise)
        assert result.stderr.endswith(" UTC.\n")
    result = run("seals", "verify", seal[:-9] + "forgedBAQ")
    assert (result.exit_code, result.stdout, result.stderr) == (1, "not_genuine\n", "")
    for file, body, instead in (
        ("read.me", b"# A shop\n", "a text of several words"),
        ("leaflet", b"%PDF-1.7\n\xe2\xe3", "a PDF"),
        ("prices.json", b'{"items": []}', "JSON, in which a seal is a member"),
        ("prices.csv", b"sku,price\n", "a table (CSV)"),
        ("nothing", b"\n", "empty"),
        ("cut.txt", seal[:-9].encode(), "a word of another form"),
    ):
        Path(file).write_bytes(body)
        result = run("seals", "verify", file)
        assert (result.exit_code, result.stdout) == (1, "not_genuine\n")
        assert result.stderr.startswith(f"What was read is {instead}, where a seal is expected: ")
    for neither in ("no-file.txt", seal[:-9]):
        result = run("seals", "verify", neither)
        assert (result.exit_code, result.stdout) == (2, "")
        assert f"'{neither[:60]}' is no seal (three parts with points" in result.stderr


@pytest.mark.usefixtures("priced")
def test_rotated_key_is_retired_and_published_still(run: Run, store: Path) -> None:
    (before,) = told(run, "show")["keys"]
    new, old = told(run, "rotate")["keys"]
    assert (new["state"], old["kid"]) == ("signs", before["kid"])
    assert old["state"].endswith(", published")
    assert run("seals", "verify", "-", read=kept(store)).stdout == "valid\n"
    shown = run("seals", "show").stdout
    assert shown.startswith("Prices are promised as urn:uuid:")
    assert all(each["kid"] in shown for each in (new, old))


@pytest.mark.usefixtures("priced")
def test_recalled_seal_does_not_count_and_it_is_told_who_said_so(run: Run, store: Path) -> None:
    seal = kept(store)
    result = run("seals", "recall", "--revision", "1", "--note", "labour mistyped")
    assert result.exit_code == 0
    assert result.stderr == (
        "0 prices signed anew. What is listed by a recalled revision has no seal until right rates "
        "are saved and confirmed: gramhour reprice --all --apply\n"
    )
    assert "Revision 1 recalled" in result.stdout
    assert "labour mistyped" in result.stdout
    result = run("seals", "verify", "-", read=seal)
    assert (result.exit_code, result.stdout) == (1, "recalled\n")
    (recalled,) = told(run, "show")["recalled"]
    assert (recalled["revision"], recalled["recalled_by"]) == (1, "command line")


def test_planned_prices_by_recalled_rates_are_told_until_right_ones_are_in_their_place(
    run: Run, shop: Path
) -> None:
    stock(run, shop)
    assert run("reprice", "--apply").exit_code == 0
    sheet = (shop / "rates.toml").read_text()
    for wage in ("63.00", "36.00"):
        (shop / f"{wage}.toml").write_text(sheet.replace("per_hour = 30.00", f"per_hour = {wage}"))
    assert run("rates", "import", "63.00.toml", "--from", "2099-01-05").exit_code == 0
    assert run("reprice", "--on", "2099-01-05", "--apply").exit_code == 0
    mend = "gramhour reprice --all --on 2099-01-05 --apply"
    wrong = (
        "2 planned prices by recalled rates will take over on 2099-01-05, until right ones are in "
        f"their place: {mend}\n"
    )
    first = wrong.replace(": ", (
        ". Save right rates first, in force by 2099-01-05 (those stored are of revision 2, which "
        "is recalled), then: "
    ))  # fmt: skip
    assert run("seals", "recall", "--revision", "2").stderr.endswith(f"--all --apply\n{first}")
    assert run(*mend.split()[1:]).stderr.endswith(first)
    with serving(run, shop) as options:  # a service tells it as the store does
        assert run("reprice", "--all", "--apply", *options).stderr.endswith(first)
        assert run("rates", "import", "36.00.toml", "--from", "2099-01-05").exit_code == 0
        todays = run("reprice", "--all", "--apply", *options)
    assert todays.stderr.endswith(wrong)
    assert "Unchanged: no new price differs, or only by less" in todays.stdout
    mended = run(*mend.split()[1:])
    assert "Applied: 2 prices from 2099-01-05" in mended.stdout
    assert "recalled" not in mended.stderr


@pytest.mark.usefixtures("priced")
def test_distrusted_key_is_followed_by_another_which_signs_all_prices_anew(
    run: Run, store: Path
) -> None:
    stolen, (key,) = kept(store), told(run, "show")["keys"]
    result = run("seals", "distrust", key["kid"], "--note", "a laptop is gone")
    assert (result.exit_code, result.stderr) == (0, "1 price signed anew.\n")
    assert run("seals", "verify", "-", read=stolen).stdout == "not_genuine\n"
    assert run("seals", "verify", "-", read=kept(store)).stdout == "valid\n"


@pytest.mark.usefixtures("priced")
def test_prices_are_promised_under_the_shops_own_name(run: Run) -> None:
    assert told(run, "issuer", "https://shop.example")["issuer"] == "https://shop.example"


@pytest.mark.usefixtures("priced")
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("recall", "--revision", "9"), "there is no such revision; the newest is 1"),
        (("distrust", "nobody's"), "there is no such key; gramhour seals show has them"),
        (("issuer", "two words"), "the name must be 1 to 200 letters"),
    ],
    ids=lambda each: each[0],
)
def test_what_there_is_not_is_refused_in_words(
    run: Run, arguments: tuple[str, ...], says: str
) -> None:
    result = run("seals", *arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    assert says in result.stderr.replace("\n", " ")


def test_before_anything_is_sealed_there_is_nothing_to_show(run: Run) -> None:
    assert run("rates", "import", "rates.toml").exit_code == 0
    result = run("seals", "show")
    assert (result.exit_code, result.stdout) == (0, "")
    assert "Nothing is sealed yet" in result.stderr


@pytest.mark.usefixtures("priced")
def test_no_command_shows_a_secret(run: Run, store: Path) -> None:
    opened = open_store(store)
    secrets = [json.loads(row.secret)["d"] for row in standing(opened).ring.rows]
    opened.close()
    commands = (
        ("seals", "show"), ("seals", "show", "--json"), ("seals", "rotate", "--json"),
        ("rates", "export"), ("listings", "export"), ("store", "check"),
        ("store", "check", "--json"),
    )  # fmt: skip
    for arguments in commands:
        result = run(*arguments)
        assert result.exit_code == 0, result.output
        assert not any(secret in result.output for secret in secrets)
