"""A whole sheet taken into the store, which makes one revision or none, and out of it."""

import json
import re
import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from gramhour.contract.documents import parse_json, parse_toml
from gramhour_service.resolve.sheet import sound_sheet
from tests import demo
from tests.commandline.conftest import RATES, Run

DEARER = RATES.replace("labour_rate_per_hour = 30.00", "labour_rate_per_hour = 33.00")
FAR = "2099-01-01"
pytestmark = pytest.mark.usefixtures("shop")


def take_in(run: Run, shop: Path, sheet: str, *options: str) -> str:
    """Take a sheet in, and say what was told."""
    (shop / "new.toml").write_text(sheet)
    result = run("rates", "import", "new.toml", *options)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def told_of(run: Run, *arguments: str) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def refused(run: Run, *arguments: str) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    return result.stderr


def labour(run: Run, *which: str) -> tuple[int, str]:
    """Say what an hour's work costs, and since which revision."""
    shown = told_of(run, "rates", "show", "shop", "labour_rate_per_hour", "--json", *which)
    (change,) = json.loads(shown)
    return change["changed_in"], change["value"]


def test_an_import_tells_what_it_did_and_the_same_sheet_does_nothing(run: Run, shop: Path) -> None:
    before = datetime.now(UTC).date()
    first, *_ = take_in(run, shop, RATES).splitlines()
    days = {before, datetime.now(UTC).date()}
    found = re.fullmatch(r"Revision 1, in force from (\S+): 7 added, 0 changed, 0 removed\.", first)
    assert found
    assert date.fromisoformat(found[1]) in days
    other = RATES.replace("30.00", "30")
    assert take_in(run, shop, other) == (
        "Nothing differs from the stored rates; no revision was made.\n"
    )
    assert json.loads(take_in(run, shop, RATES, "--json"))["rates_revision"] is None


def test_an_import_names_what_it_adds_changes_and_removes(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    sheet = DEARER.replace("[components.tag]", "[components.label]")
    first, *changes = take_in(run, shop, sheet).splitlines()
    assert first.startswith("Revision 2, in force from ")
    assert first.endswith(": 1 added, 1 changed, 1 removed.")
    assert sorted(changes) == [
        "  components/label: added",
        "  components/tag: removed",
        "  shop/labour_rate_per_hour: changed",
    ]
    told = json.loads(take_in(run, shop, RATES, "--json"))
    assert told["rates_revision"] == 3
    assert {(each["kind"], each["code"], each["done"]) for each in told["changes"]} == {
        ("components", "label", "removed"),
        ("components", "tag", "added"),
        ("shop", "labour_rate_per_hour", "changed"),
    }
    assert told["overruled_by"] == []


@pytest.mark.parametrize("form", [(), ("--json",)])
@pytest.mark.parametrize("sheet", [RATES, demo.SHEET.read_text()], ids=["small", "demo"])
def test_what_is_exported_is_the_sheet_and_taking_it_back_changes_nothing(
    run: Run, shop: Path, sheet: str, form: tuple[str, ...]
) -> None:
    take_in(run, shop, sheet)
    exported = told_of(run, "rates", "export", *form)
    parse = parse_json if form else parse_toml
    assert sound_sheet(parse(exported.encode())) == sound_sheet(parse_toml(sheet.encode()))
    again = run("rates", "import", "-", read=exported)
    assert (again.exit_code, again.stderr) == (0, "")
    assert again.stdout.startswith("Nothing differs")
    (shop / "exported.json").write_text(told_of(run, "rates", "export", "--json"))
    assert told_of(run, "rates", "import", "exported.json").startswith("Nothing differs")


def test_rates_are_shown_as_of_a_day_and_as_known_at_a_revision(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    planned = take_in(run, shop, DEARER, "--from", FAR)
    assert planned.startswith(f"Revision 2, in force from {FAR}: 0 added, 1 changed")
    assert labour(run) == (1, "30.00")
    assert labour(run, "--on", "2098-12-31") == (1, "30.00")
    assert labour(run, "--on", FAR) == (2, "33.00")
    assert labour(run, "--on", FAR, "--revision", "1") == (1, "30.00")
    exported = told_of(run, "rates", "export", "--on", FAR)
    assert parse_toml(exported.encode())["labour_rate_per_hour"] == 33


def test_a_planned_change_that_will_overrule_is_told(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    take_in(run, shop, DEARER, "--from", FAR)
    cheaper = RATES.replace("labour_rate_per_hour = 30.00", "labour_rate_per_hour = 27.00")
    told = take_in(run, shop, cheaper)
    assert (
        f"\n  shop/labour_rate_per_hour: from {FAR} on the change planned in revision 2 holds "
        "instead\n" in told
    )
    assert (labour(run), labour(run, "--on", FAR)) == ((3, "27.00"), (2, "33.00"))
    (overruling,) = json.loads(take_in(run, shop, RATES, "--json"))["overruled_by"]
    assert (overruling["changed_in"], overruling["in_force_from"]) == (2, FAR)


def test_a_past_day_needs_a_note_which_is_kept(run: Run, shop: Path, tmp_path: Path) -> None:
    take_in(run, shop, RATES)
    past = ("rates", "import", "new.toml", "--from", "2020-01-01")
    (shop / "new.toml").write_text(DEARER)
    told = refused(run, *past)
    assert re.fullmatch(
        r"The rate sheet has faults:\nnew\.toml  a change dated before today \(\S+\) needs a note "
        r"that says why\n",
        told,
    )
    assert json.loads(refused(run, *past, "--json"))["type"] == "/problems/invalid-rates"
    assert labour(run, "--revision", "1") == (1, "30.00")
    assert "no such revision" in refused(run, "rates", "show", "--revision", "2")
    told_of(run, *past, "--note", "wage agreement, agreed late")
    assert labour(run, "--on", "2020-01-01") == (2, "33.00")
    with closing(sqlite3.connect(tmp_path / "shop" / "store.sqlite")) as plain:
        kept = plain.execute("SELECT note, effective_from FROM revision WHERE number = 2")
        assert kept.fetchall() == [("wage agreement, agreed late", "2020-01-01")]


def test_a_faulty_sheet_is_refused_whole_with_file_key_and_remedy(
    run: Run, shop: Path, tmp_path: Path
) -> None:
    faulty = DEARER.replace("rate_per_hour = 1.50", "rate_per_hour = -1").replace(
        'charging = "order"', 'chargin = "order"'
    )
    (shop / "new.toml").write_text(faulty)
    told = refused(run, "rates", "import", "new.toml")
    assert told.startswith("The rate sheet has faults:\n")
    assert re.search(
        r"^new\.toml  /machines/printer/rate_per_hour +must be 0 or more", told, re.MULTILINE
    )
    assert re.search(r"^new\.toml  /components/tag/chargin +.*'charging'", told, re.MULTILINE)
    assert not (tmp_path / "shop" / "store.sqlite").exists()
    take_in(run, shop, RATES)
    before = told_of(run, "rates", "show")
    (shop / "new.toml").write_text(faulty)
    assert refused(run, "rates", "import", "new.toml") == told
    assert told_of(run, "rates", "show") == before


def test_a_sheet_that_a_planned_change_would_not_fit_is_refused_whole(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    packing = '\npacking = [{ component = "tag", count = 1, per = "order" }]\n'
    take_in(run, shop, RATES + packing, "--from", FAR)
    before = told_of(run, "rates", "show")
    tagless = re.sub(r"\[components\.tag\].*?\n\n", "", DEARER, flags=re.DOTALL)
    (shop / "new.toml").write_text(tagless)
    told = refused(run, "rates", "import", "new.toml")
    assert "new.toml  /channels/stall/packing/0/component" in told
    assert told.rstrip().endswith(f"(with the change planned for {FAR})")
    assert told_of(run, "rates", "show") == before


def test_the_stored_rates_are_shown_together_by_kind_and_one_by_one(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    rows = told_of(run, "rates", "show").splitlines()
    assert [row.split()[:2] for row in rows[1:-1]] == [
        ["channels", "stall"],
        ["components", "tag"],
        ["machines", "printer"],
        ["materials", "pla"],
        ["shop", "currency"],
        ["shop", "labour_rate_per_hour"],
        ["shop", "price_per_kwh"],
    ]
    assert rows[-1].startswith("Revision 1 of the rates, on ")
    of_a_kind = told_of(run, "rates", "show", "materials").splitlines()
    assert [row.split()[:2] for row in of_a_kind[1:-1]] == [["materials", "pla"]]
    note, *one = told_of(run, "rates", "show", "materials", "pla").splitlines()
    assert note.startswith("# revision 1, from ")
    assert parse_toml("\n".join(one).encode()) == {
        "materials": {"pla": {"name": "PLA, moss", "price_per_kg": "30.00"}}
    }
    assert "currency = " in told_of(run, "rates", "show", "shop", "currency")
    for code, meant in (("plaa", "did you mean 'pla'?"), ("asa", "there are: pla")):
        words = " ".join(run("rates", "show", "materials", code).stderr.split())
        assert words.endswith(f"nothing is kept under materials/{code}; {meant}")


def test_before_the_first_rates_there_is_nothing_to_change(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES, "--from", "2098-01-01")
    (shop / "dearer.toml").write_text(
        'changes = [{ kind = "shop", code = "labour_rate_per_hour", value = 31 }]'
    )
    result = run("rates", "change", "dearer.toml", "--from", "2097-12-31")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr == (
        "The request has faults:\n"
        "gramhour rates change  --from  no rates are in force on 2097-12-31, so there is nothing "
        "to change: the first ones hold from 2098-01-01 on; let the change hold from then on, or "
        "import a whole sheet from an earlier day\n"
    )


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("show", "materials", "plaa"), 1, "plaa"),
        (("show", "--revision", "9"), 1, "there is no such revision yet; the newest is 1"),
        (("show", "--on", "2019-01-01"), 1, "no rates are in force on that day"),
        (("export", "--revision", "9"), 1, "there is no such revision yet; the newest is 1"),
        (("import", "none.toml"), 1, "there is no such file; check its name"),
        (("show", "spools"), 2, "'spools' is not one of"),
        (("show", "--on", "5.1.2099"), 2, "'5.1.2099' is no day, year first, such as 2099-01-05"),
        (("show", "--revision", "0"), 2, "0 is not in the range"),
        (("import", "rates.toml", "--from", "2026-02-30"), 2, "--from"),
        (("import",), 2, "Missing argument 'FILE'"),
    ],
)
def test_what_cannot_be_is_told(
    run: Run, shop: Path, arguments: tuple[str, ...], code: int, says: str
) -> None:
    take_in(run, shop, RATES)
    result = run("rates", *arguments)
    assert (result.exit_code, result.stdout) == (code, "")
    assert says in result.stderr
