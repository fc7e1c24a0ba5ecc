"""The revisions and what they changed; rates of one kind out to a spreadsheet and back."""

import csv
import io
import json
import re
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from gramhour.contract.documents import parse_toml
from tests.commandline.conftest import RATES, Run
from tests.commandline.test_rates import DEARER, FAR, labour, refused, take_in, told_of

pytestmark = pytest.mark.usefixtures("shop")
NOTE = "collective agreement"


def rows_of(table: str) -> list[list[str]]:
    """Split a table into its cells, which stand two blanks apart."""
    return [re.split(r"\s{2,}", line) for line in table.splitlines()]


def of_materials(run: Run) -> str:
    return run("rates", "export", "materials").stdout_bytes.decode()


def test_the_history_says_who_when_from_when_and_why_newest_first(run: Run, shop: Path) -> None:
    before = datetime.now(UTC).replace(second=0, microsecond=0)
    take_in(run, shop, RATES)
    take_in(run, shop, DEARER, "--from", FAR, "--note", NOTE)
    header, newest, oldest = rows_of(told_of(run, "rates", "history"))
    assert header == ["Revision", "Known since", "In force from", "By", "Note", "Changes"]
    assert (newest[0], newest[2:]) == ("2", [FAR, "command line", NOTE, "1"])
    assert (oldest[0], oldest[3:]) == ("1", ["command line", "7"])
    for each in (newest, oldest):
        known = datetime.strptime(each[1], "%Y-%m-%d %H:%M %Z").replace(tzinfo=UTC)
        assert before <= known <= datetime.now(UTC)


def test_the_history_can_be_had_as_json_and_cut_short(run: Run, shop: Path) -> None:
    assert told_of(run, "keys", "add", "tests", "--scope", "cost")
    assert told_of(run, "rates", "history") == "No rates are stored yet; there is no revision.\n"
    take_in(run, shop, RATES)
    take_in(run, shop, DEARER, "--note", NOTE)
    take_in(run, shop, RATES)
    told = json.loads(told_of(run, "rates", "history", "--json"))
    assert [(each["rates_revision"], each["note"]) for each in told] == [
        (3, ""),
        (2, NOTE),
        (1, ""),
    ]
    cut = told_of(run, "rates", "history", "--limit", "2").splitlines()
    assert len(cut) == 4
    assert cut[-1] == "1 older revision not shown; see --limit."


def test_a_revisions_changes_are_shown_member_by_member(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    sheet = DEARER.replace("price_per_kg = 30.00", "price_per_kg = 31.5\ndensity_g_cm3 = 1.24")
    take_in(run, shop, sheet.replace("pack_quantity = 5, ", ""), "--from", FAR)
    header, *rows = rows_of(told_of(run, "rates", "changes", "2"))
    assert header == ["Rate", "In force from", "Member", "Before → after"]
    assert rows == [
        ["components/tag", FAR, "offers", '[{"pack_quantity":5,"price":"2.50"}] →'],
        ["", '[{"price":"2.50"}]'],
        ["materials/pla", FAR, "density_g_cm3", "absent → 1.24"],
        ["", "price_per_kg", "30.00 → 31.5"],
        ["shop/labour_rate_per_hour", FAR, "value", "30.00 → 33.00"],
    ]


def test_what_came_or_went_is_spread_over_its_members(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    tagless = re.sub(r"\[components\.tag\].*?\n\n", "", RATES, flags=re.DOTALL)
    take_in(run, shop, tagless)
    rows = rows_of(told_of(run, "rates", "changes", "2"))
    assert {(row[-2], row[-1]) for row in rows[1:]} == {
        ("name", "Name tag → absent"),
        ("offers", '[{"pack_quantity":5,"price":"2.50"}] → absent'),
        ("charging", "order → absent"),
    }
    take_in(run, shop, RATES)
    came = told_of(run, "rates", "changes", "3")
    assert "absent → Name tag" in came
    told = json.loads(told_of(run, "rates", "changes", "3", "--json"))
    (change,) = told["changes"]
    assert (told["since"], change["kind"], change["code"], change["done"]) == (
        2,
        "components",
        "tag",
        "added",
    )


def test_changes_are_told_since_any_earlier_revision(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    take_in(run, shop, DEARER)
    take_in(run, shop, RATES)
    assert told_of(run, "rates", "changes", "3", "--since", "1") == (
        "Revision 3 and 1 have the same rates.\n"
    )
    back = rows_of(told_of(run, "rates", "changes", "3"))[1]
    assert (back[0], back[2:]) == ("shop/labour_rate_per_hour", ["value", "33.00 → 30.00"])
    whole = json.loads(told_of(run, "rates", "changes", "2", "--since", "0", "--json"))
    assert {each["done"] for each in whole["changes"]} == {"added"}


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("changes", "3"), 1, "there is no such revision; the newest is 1"),
        (("changes", "0"), 2, "0 is not in the range"),
        (("changes", "1", "--since", "1"), 2, "it must be a revision before 1, or 0"),
        (("changes",), 2, "Missing argument 'N'"),
        (("history", "--limit", "0"), 2, "0 is not in the range"),
        (("import", "rates.csv"), 2, "say which with --kind"),
        (("import", "rates.toml", "--kind", "shop"), 2, "--kind is for CSV"),
        (("import", "none.csv", "--kind", "shop"), 1, "there is no such file"),
        (("export", "spools"), 2, "'spools' is not one of"),
    ],
)
def test_what_cannot_be_is_told(
    run: Run, shop: Path, arguments: tuple[str, ...], code: int, says: str
) -> None:
    take_in(run, shop, RATES)
    (shop / "rates.csv").write_text("code,price_per_kg\n")
    result = run("rates", *arguments)
    assert (result.exit_code, result.stdout) == (code, "")
    assert says in result.stderr


def test_planned_changes_are_told_when_rates_are_shown_and_taken_in(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    assert "planned" not in told_of(run, "rates", "show").lower()
    take_in(run, shop, DEARER, "--from", FAR)
    take_in(run, shop, DEARER.replace("0.30", "0.35"), "--from", "2099-02-01")
    last = told_of(run, "rates", "show").splitlines()[-1]
    assert last == f"The next planned change is in force from {FAR}."
    planned = f"Planned: shop/labour_rate_per_hour from {FAR} on; 1 more later."
    assert take_in(run, shop, RATES).splitlines()[-1] == planned
    other = RATES.replace("price_per_kg = 30.00", "price_per_kg = 29")
    assert take_in(run, shop, other).splitlines()[-1] == planned
    assert json.loads(take_in(run, shop, other, "--json"))["next_planned"] == FAR
    after = told_of(run, "rates", "show", "--on", "2099-02-01")
    assert "planned" not in after.lower()


def test_a_kind_goes_out_as_csv_and_comes_back_without_a_revision(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    text = of_materials(run)
    header, pla = csv.reader(io.StringIO(text, newline=""))
    assert header[:3] == ["code", "name", "note"]
    assert pla[:4] == ["pla", "PLA, moss", "", "30.00"]
    assert text.count("\r\n") == 2
    (shop / "pla.csv").write_bytes(text.encode())
    told = told_of(run, "rates", "import", "pla.csv", "--kind", "materials")
    assert told == "Nothing differs from the stored rates; no revision was made.\n"
    as_json = json.loads(told_of(run, "rates", "export", "materials", "--json"))
    assert as_json == {"pla": {"name": "PLA, moss", "price_per_kg": "30.00"}}


def test_rows_change_and_add_what_they_say_and_remove_nothing(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    (shop / "new.csv").write_text("code;name;price_per_kg\npla;PLA, moss;31.5\nasa;=ASA;40\n")
    told = told_of(
        run, *("rates", "import", "new.csv", "--kind", "materials", "--from", FAR, "--note", NOTE)
    )
    assert told.splitlines() == [
        f"Revision 2, in force from {FAR}: 1 added, 1 changed, 0 removed.",
        "  materials/pla: changed",
        "  materials/asa: added",
    ]
    (shop / "wage.csv").write_text("code,value\nlabour_rate_per_hour,36\nadmin_overhead_pct,0.06\n")
    result = run("rates", "import", "wage.csv", "--kind", "shop")
    says = "Shop: admin_overhead_pct is 0.06 %; 0.5 % or more is common. If 6 % is meant, write 6."
    assert (result.exit_code, result.stderr) == (0, f"Unlikely size: {says}\n")
    assert labour(run) == (3, "36")
    sheet = parse_toml(told_of(run, "rates", "export", "--on", FAR).encode())
    assert sheet["materials"] == {
        "asa": {"name": "=ASA", "price_per_kg": 40},
        "pla": {"name": "PLA, moss", "price_per_kg": Decimal("31.5")},
    }
    out = run("rates", "export", "materials", "--on", FAR).stdout_bytes.decode()
    assert out.splitlines()[1].startswith("asa,'=ASA,,40,")


def test_a_new_row_that_is_nearly_an_old_rate_is_pointed_at(run: Run, shop: Path) -> None:
    take_in(run, shop, RATES)
    (shop / "glow.csv").write_text("code,price_per_kg\npla-glow,31\n")
    assert run("rates", "import", "glow.csv", "--kind", "materials").stderr == ""
    (shop / "slip.csv").write_text("code,price_per_kg\npla-glwo,32\n")
    assert run("rates", "import", "slip.csv", "--kind", "materials").stderr == (
        "materials/pla-glwo is new, and there is materials/pla-glow: if that was meant, take the "
        "new one away again (remove = true) and change pla-glow.\n"
    )


def test_faults_of_a_row_are_told_with_line_and_column_and_nothing_is_kept(
    run: Run, shop: Path
) -> None:
    take_in(run, shop, RATES)
    before = told_of(run, "rates", "show")
    (shop / "new.csv").write_text('code,price_per_kg\npla,31.5\nasa,"27,40"\n')
    told = refused(run, "rates", "import", "new.csv", "--kind", "materials")
    assert told.splitlines() == [
        "The rate sheet has faults:",
        "new.csv  line 3  column price_per_kg: if 27,40 has a decimal comma, write 27.40",
    ]
    as_json = refused(run, "rates", "import", "new.csv", "--kind", "materials", "--json")
    (fault,) = json.loads(as_json)["errors"]
    assert (fault["file"], fault["line"]) == ("new.csv", 3)
    assert told_of(run, "rates", "show") == before


def test_rows_need_a_sheet_to_stand_in(run: Run, shop: Path) -> None:
    (shop / "new.csv").write_text("code,price_per_kg\npla,31.5\n")
    told = refused(run, "rates", "import", "new.csv", "--kind", "materials")
    assert "import a rate sheet to make one" in told
