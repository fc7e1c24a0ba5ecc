"""gramhour rates change: a rate put in, changed or taken away; a slip of the pen is pointed at."""

import json
from pathlib import Path

import pytest

from tests.commandline.conftest import Run

MOSS = 'kind = "materials"\ncode = "{}"\nvalue = {{ price_per_kg = {} }}\n'


@pytest.fixture(autouse=True)
def stored(shop: Path, run: Run) -> None:
    assert (shop / "rates.toml").exists()
    assert run("rates", "import", "rates.toml").exit_code == 0


def change(run: Run, shop: Path, says: str, *options: str) -> tuple[int, str, str]:
    (shop / "changes.toml").write_text(f"[[changes]]\n{says}")
    done = run("rates", "change", "changes.toml", *options)
    return done.exit_code, done.stdout, done.stderr


def test_what_a_changed_rate_had_before_and_lacks_is_told(run: Run, shop: Path) -> None:
    code, told, hints = change(run, shop, MOSS.format("pla", 33))
    assert (code, hints) == (0, "Left out: materials/pla: name is gone; it was 'PLA, moss'\n")
    assert "  materials/pla: changed" in told


@pytest.mark.parametrize("trial", [(), ("--trial",)], ids=["saved", "tried"])
def test_a_new_rate_that_is_nearly_an_old_one_is_pointed_at(
    run: Run, shop: Path, trial: tuple[str, ...]
) -> None:
    tag = 'kind = "components"\ncode = "{}"\nvalue = {{ offers = [{}] }}\n'
    offer = "{ pack_quantity = 5, price = 3 }"
    code, told, hints = change(run, shop, tag.format("tags", offer), *trial)
    assert code == 0
    assert "  components/tags: added" in told
    assert hints == (
        "components/tags is new, and there is components/tag: if that was meant, take the new one "
        "away again (remove = true) and change tag.\n"
    )


def test_a_new_rate_that_is_like_none_is_not(run: Run, shop: Path) -> None:
    assert change(run, shop, MOSS.format("petg-clear", 33))[::2] == (0, "")


def test_codes_that_differ_by_their_number_are_different_things(run: Run, shop: Path) -> None:
    machine = 'kind = "machines"\ncode = "printer-{}"\nvalue = {{ {} }}\n'
    rates = "rate_per_hour = 1, power_w = 100"
    assert change(run, shop, machine.format(1, rates))[0] == 0
    code, _, hints = change(run, shop, machine.format(2, rates))
    assert (code, hints) == (0, "machines/printer-2 is new, and there is machines/printer: if that "
                             "was meant, take the new one away again (remove = true) and change "
                             "printer.\n")  # fmt: skip


def test_remove_takes_a_rate_away_as_null_does_in_json(run: Run, shop: Path) -> None:
    assert change(run, shop, MOSS.format("spare", 33))[0] == 0
    code, told, _ = change(run, shop, 'kind = "materials"\ncode = "spare"\nremove = true\n')
    assert (code, "  materials/spare: removed" in told) == (0, True)
    assert change(run, shop, MOSS.format("spare", 33))[0] == 0
    gone = {"changes": [{"kind": "materials", "code": "spare", "value": None}]}
    (shop / "changes.json").write_text(json.dumps(gone))
    assert "  materials/spare: removed" in run("rates", "change", "changes.json").stdout


def test_what_is_not_there_to_take_away_is_told_with_what_is_near(run: Run, shop: Path) -> None:
    says = 'kind = "machines"\ncode = "priner"\nremove = true\n'
    code, told, why = change(run, shop, says)
    assert (code, told) == (1, "")
    assert "there is no machines/priner to take away on " in why
    assert why.endswith("; did you mean 'printer'?\n")


@pytest.mark.parametrize(
    ("says", "place", "words"),
    [
        ("remove = false", "/changes/0/remove", "must be true; else give the rate as value"),
        ("", "/changes/0", "give exactly one of: value; remove"),
        ("remove = true\nvalue = 3", "/changes/0",
         "value, remove exclude each other; give exactly one of: value; remove"),
    ],
    ids=["false", "neither", "both"],
)  # fmt: skip
def test_an_unclear_change_is_refused(
    run: Run, shop: Path, says: str, place: str, words: str
) -> None:
    code, told, why = change(run, shop, f'kind = "materials"\ncode = "pla"\n{says}\n')
    assert (code, told) == (1, "")
    assert why.splitlines()[1].split("  ")[1:] == [place, words]


@pytest.mark.parametrize(
    ("options", "place", "words"),
    [
        (("--from", "1950-01-01"), "--from", "must be from 1970-01-01 to 2999-12-31, not "
                                             "1950-01-01"),
        (("--from", "2021-01-01"), "--note", "a change dated before today "),
    ],
    ids=["too early", "no note"],
)  # fmt: skip
def test_a_fault_of_an_option_is_told_by_the_options_name(
    run: Run, shop: Path, options: tuple[str, ...], place: str, words: str
) -> None:
    early = ("rates", "import", "rates.toml", "--from", "2020-01-01", "--note", "as it was")
    assert run(*early).exit_code == 0
    code, told, why = change(run, shop, MOSS.format("pla", 33), *options)
    assert (code, told) == (1, "")
    file, *found = why.splitlines()[-1].split("  ")
    assert (file, found[0]) == ("gramhour rates change", place)
    assert found[1].startswith(words)


def test_a_number_that_is_hardly_meant_is_told_when_it_is_tried(run: Run, shop: Path) -> None:
    tax = 'kind = "channels"\ncode = "stall"\nvalue = {{ prices_include_tax = true, {} }}\n'
    code, _, told = change(run, shop, tax.format("tax_rate_pct = 0.19"), "--trial")
    says = (
        "Channel stall: tax_rate_pct is 0.19 %; 1 % or more is common. If 19 % is meant, write 19."
    )
    assert (code, told.splitlines()[0]) == (0, f"Unlikely size: {says}")
    surcharge = 'kind = "shop"\ncode = "admin_overhead_pct"\nvalue = {}\n'
    assert "If 6 % is meant" in change(run, shop, surcharge.format("0.06"), "--trial")[2]
    assert change(run, shop, surcharge.format("6"), "--trial")[2] == ""
