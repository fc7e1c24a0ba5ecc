"""Products and listings taken in from files and printed again, by the store and by a service."""

import csv
import io
import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.commandline.rows_in import RowsFile, parts_for_service
from tests.commandline.conftest import Run
from tests.commandline.offering import LISTING, price, row, serving, stock, told_of

Options = tuple[str, ...]


def refused(run: Run, *arguments: str) -> str:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (1, "")
    return result.stderr


def lines(*rows: dict[str, Any]) -> str:
    return "".join(json.dumps(each) + "\n" for each in rows)


def skus(run: Run, *options: str) -> list[str]:
    table = told_of(run, "listings", "export", *options)
    return [each["sku"] for each in csv.DictReader(io.StringIO(table, newline=""))]


def test_five_rows_change_five_and_remove_none(run: Run, shop: Path) -> None:
    stock(run, shop)
    (shop / "more.ndjson").write_text(
        lines(
            {"sku": "ST-1", **LISTING},
            {"sku": "ST-2", **LISTING, "hold": True},
            {"sku": "ST-3", **LISTING},
        )
    )
    assert told_of(run, "listings", "import", "more.ndjson").splitlines() == [
        "1 added, 1 changed, 1 unchanged.",
        "  ST-2: changed",
    ]
    assert skus(run) == ["ST-1", "ST-2", "ST-3"]
    (shop / "hold.csv").write_text("sku;hold\nST-3;true\n")
    told = json.loads(told_of(run, "listings", "import", "hold.csv", "--json"))
    assert (told["changed"], told["rows"]) == (
        1,
        [{"row": 1, "name": "ST-3", "done": "changed", "version": 2}],
    )


@pytest.mark.parametrize("by_service", [False, True], ids=["store", "service"])
def test_numbers_of_rows_that_are_hardly_meant_are_told_the_first_ten(
    run: Run, shop: Path, by_service: bool
) -> None:
    stock(run, shop)
    fractions = {**LISTING, "aim": {"margin_pct": 0.4}, "margin_floor_pct": 0.25}
    (shop / "many.ndjson").write_text(lines(*({"sku": f"M-{n}", **fractions} for n in range(6))))
    product = row()
    product["product"]["reject_pct"] = 0.03
    (shop / "stake.ndjson").write_text(lines(product))
    with serving(run, shop) as options:
        where = options if by_service else ()
        many = run("listings", "import", "many.ndjson", *where)
        again = run("listings", "import", "many.ndjson", *where)
        stake = run("products", "import", "stake.ndjson", *where)
    floor, *told, more = many.stderr.splitlines()
    of_common = "1 % or more is common. If"
    assert (many.exit_code, len(told), more) == (0, 9, "2 more unlikely sizes.")
    assert [floor, told[0]] == [
        f"Unlikely size: Listing M-0: margin_floor_pct is 0.25 %; {of_common} 25 % is meant, "
        "write 25.",
        f"Unlikely size: Listing M-0: margin_pct of aim is 0.4 %; {of_common} 40 % is meant, "
        "write 40.",
    ]
    assert again.stderr == ""  # nothing of it was changed
    assert stake.stderr == (
        "Unlikely size: Product stake: reject_pct is 0.03 %; 0.1 % or more is common. If 3 % is "
        "meant, write 3.\n"
    )


@pytest.mark.parametrize("by_service", [False, True], ids=["store", "service"])
def test_what_is_exported_in_any_form_comes_back_unchanged(
    run: Run, shop: Path, by_service: bool
) -> None:
    stock(run, shop)
    (shop / "variants.toml").write_text(
        'items = [{ code = "tag", note = "=1+1", product = { components = [{ component = "tag" }]'
        ", work = { unit_min = 1.5 } } }]"
    )
    told_of(run, "products", "import", "variants.toml")
    with serving(run, shop) as options:
        other = options if by_service else ()
        forms = {
            "out.csv": ("listings", "export"),
            "out.ndjson": ("listings", "export", "--format", "ndjson"),
            "out.json": ("listings", "export", "--json"),
            "products.ndjson": ("products", "export"),
            "products.json": ("products", "export", "--json"),
        }
        for file, arguments in forms.items():
            here = run(*arguments).stdout_bytes
            there = run(*arguments, *other).stdout_bytes
            assert here == there
            (shop / file).write_bytes(there)
            assert told_of(run, arguments[0], "import", file, *other) == (
                "0 added, 0 changed, 2 unchanged.\n"
            )
            read = run(arguments[0], "import", "-", *other, read=there)
            assert read.stdout == "0 added, 0 changed, 2 unchanged.\n"
        assert (shop / "products.ndjson").read_text().splitlines()[-1] == '{"done":2}'


def test_listings_are_chosen_by_channel_product_rate_and_floor(run: Run, shop: Path) -> None:
    stock(run, shop)
    low = {**LISTING, "aim": {"unit_price": "9"}, "margin_floor_pct": "30"}
    (shop / "low.ndjson").write_text(lines({"sku": "LOW", **low}))
    told_of(run, "listings", "import", "low.ndjson")
    price(run)
    with serving(run, shop) as options:
        for where in ((), options):
            assert skus(run, "--channel", "stall", *where) == ["LOW", "ST-1", "ST-2"]
            assert skus(run, "--channel", "elsewhere", *where) == []
            assert skus(run, "--product", "stake", *where) == ["LOW", "ST-1", "ST-2"]
            for used in ("materials/pla", "components/tag", "channels/stall"):
                assert skus(run, "--uses", used, *where) == ["LOW", "ST-1", "ST-2"]
            assert skus(run, "--uses", "materials/abs", *where) == []
            assert skus(run, "--below-floor", *where) == ["LOW"]


def test_faults_are_told_in_their_place_and_nothing_is_kept(run: Run, shop: Path) -> None:
    stock(run, shop)
    (shop / "bad.csv").write_text(
        'sku,product,channel,aim.margin_pct,hold\nST-3,stake,stall,40,\n"ST\n4",stake,stall,40,\n'
        "ST-5,stak,stal,40,yes\n"
    )
    bad = [{"sku": "ST-6", **LISTING, "channel": "stal"}, 7]
    (shop / "bad.json").write_text(json.dumps({"items": bad}))
    (shop / "bad.ndjson").write_text(f"{lines({'sku': 'ST-6', **LISTING})}\n{{oops\n")
    with serving(run, shop) as options:
        for where in ((), options):
            told = refused(run, "listings", "import", "bad.csv", *where).splitlines()
            assert told[0] == "The request has faults:"
            assert [line.split("  ")[:2] for line in told[1:]] == [
                ["bad.csv", "line 3"],
                *[["bad.csv", "line 5"]] * 3,
            ]
            assert "column channel: unknown code 'stal'" in told[2]
            told = refused(run, "listings", "import", "bad.ndjson", *where).splitlines()
            assert told[1].startswith("bad.ndjson  line 3  not JSON at column 2:")
            assert skus(run) == ["ST-1", "ST-2"]
        told = refused(run, "listings", "import", "bad.json").splitlines()
        assert told[1].startswith("bad.json  /items/0/channel  ")
        assert told[1].endswith("did you mean 'stall'?")
        assert told[2].startswith("bad.json  /items/1          ")
        (shop / "bad.json").write_text(json.dumps(bad[:1]))
        told = refused(run, "listings", "import", "bad.json", *options).splitlines()
        assert told[1].startswith("bad.json  /items/0/channel  ")
        as_json = json.loads(refused(run, "listings", "import", "bad.json", "--json"))
        assert (as_json["type"], as_json["errors"][0]["pointer"]) == (
            "/problems/invalid-request",
            "/items/0/channel",
        )
        assert skus(run) == ["ST-1", "ST-2"]


def test_what_cannot_be_taken_in_is_told(run: Run, shop: Path) -> None:
    stock(run, shop)
    (shop / "p.csv").write_text("code\nstake\n")
    (shop / "none.ndjson").write_text('{"done":0}\n')
    (shop / "cut.ndjson").write_text(lines({"sku": "ST-9", **LISTING}) + '{"done":2}\n')
    (shop / "no.json").write_text('{"rows": []}')
    assert "do not fit into CSV" in refused(run, "products", "import", "p.csv")
    assert "there are no rows in it" in refused(run, "listings", "import", "none.ndjson")
    assert "line 2  it says that 2 lines come before it, and there are 1" in refused(
        run, "listings", "import", "cut.ndjson"
    )
    assert '{"items": [...]} in JSON' in refused(run, "listings", "import", "no.json")
    assert "there is no such file" in refused(run, "listings", "import", "gone.csv")
    result = run("listings", "export", "--uses", "asa-green")
    assert (result.exit_code, "such as materials/asa-green" in result.stderr) == (2, True)
    result = run("listings", "export", "--key", "k")
    assert (result.exit_code, "name it with --url" in result.stderr) == (2, True)
    result = run("listings", "export", "--url", "http://x.test", "--store", "x")
    assert (result.exit_code, "exclude each other" in result.stderr) == (2, True)


def test_without_a_store_or_its_rates_it_is_said_what_to_do(run: Run, shop: Path) -> None:
    (shop / "l.csv").write_text("sku\nA\n")
    assert "there is no store" in refused(run, "listings", "import", "l.csv")
    told_of(run, "keys", "add", "x", "--scope", "cost")
    told = refused(run, "listings", "import", "l.csv")
    assert "no rates are in force; import a sheet first: gramhour rates import SHEET" in told
    assert "no rates are in force" in refused(run, "listings", "export")
    told = refused(run, "listings", "export", "--url", "http://127.0.0.1:9")
    assert told.startswith("The service gives no answer:")


def test_many_listings_go_into_a_service_in_parts_and_faults_have_the_lines_of_the_file(
    run: Run, shop: Path
) -> None:
    stock(run, shop)
    header = "sku,product,channel,aim.margin_pct,name\n"
    rows = [f'R{n:05},stake,stall,40,"a ""stake"",\nof two lines"\n' for n in range(12_000)]
    (shop / "many.csv").write_text(header + "\n".join(rows))
    with serving(run, shop) as options:
        result = run("listings", "import", "many.csv", *options)
        assert (result.exit_code, result.stdout) == (0, "12000 added, 0 changed, 0 unchanged.\n")
        assert result.stderr == (
            "12000 rows are sent in 2 parts of at most 10000, each kept whole or not at all.\n"
        )
        faulty = [*rows[:11_000], "R99999,stake,stal,40,x\n"]
        (shop / "many.csv").write_text(header.replace("name", "note") + "\n".join(faulty))
        told = refused(run, "listings", "import", "many.csv", *options)
        line = 2 + 11_000 * 3
        assert "Rows 1 to 10000 of many.csv were kept.\nThe request has faults:" in told
        assert f"many.csv  line {line}  column channel: unknown code 'stal'" in told
    exported = told_of(run, "listings", "export", "--format", "ndjson").splitlines()
    assert (len(exported), exported[-1]) == (12_003, '{"done":12002}')
    assert ["note" in json.loads(exported[n]) for n in (9_999, 10_000)] == [True, False]


def test_many_listings_go_into_the_store_whole_or_not_at_all(run: Run, shop: Path) -> None:
    stock(run, shop)
    rows = [f"R{n:05},stake,stall,40\n" for n in range(15_000)]
    (shop / "many.csv").write_text(
        "sku,product,channel,aim.margin_pct\n" + "".join(rows) + "X,gone,stall,40\n"
    )
    told = refused(run, "listings", "import", "many.csv")
    assert "line 15002" in told
    with closing(sqlite3.connect(shop / "shop" / "store.sqlite")) as store:
        assert store.execute("SELECT count(*) FROM listing").fetchone() == (2,)


@pytest.mark.parametrize(
    ("form", "body", "bodies"),
    [
        ("csv", b"sku\nA\n\n\nB\n", [b"sku\nA\n\n\nB\n"]),
        ("lines", b'{"sku":"A"}\n\n{"sku":"B"}', [b'{"sku":"A"}\n\n{"sku":"B"}\n']),
        ("document", b'[{"sku": "A"}]', [b'{"sku":"A"}\n']),
    ],
)
def test_a_part_has_the_lines_of_the_file(form: Any, body: bytes, bodies: list[bytes]) -> None:
    parts = parts_for_service(RowsFile("listing", "f", form, body))
    assert [each.body for each in parts] == bodies


def test_products_of_many_bytes_are_cut_by_what_a_service_takes(run: Run, shop: Path) -> None:
    stock(run, shop)
    rows = [row(f"p{n}", note="x" * 2000) for n in range(4200)]
    (shop / "large.ndjson").write_text(lines(*rows))
    with serving(run, shop) as options:
        result = run("products", "import", "large.ndjson", *options)
    assert result.stdout == "4200 added, 0 changed, 0 unchanged.\n"
    assert "in 2 parts" in result.stderr
