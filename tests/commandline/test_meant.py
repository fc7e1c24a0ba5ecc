"""A file that is meant for another command is refused by what it is and what takes it."""

import io
import zipfile
from pathlib import Path

import pytest

from tests.commandline.conftest import Run


def archive(**members: bytes) -> bytes:
    """Make an archive, its members not compressed, as an OpenDocument has its first."""
    body = io.BytesIO()
    with zipfile.ZipFile(body, "w") as packed:
        for name, content in members.items():
            packed.writestr(name, content)
    return body.getvalue()


FILES = {
    "rates-of-may": archive(mimetype=b"application/vnd.oasis.opendocument.spreadsheet"),
    "parts.zip": archive(part=b"solid"),
    "hook.step": b"ISO-10303-21;\nHEADER;\n",
    "hook": b"ISO-10303-21;\nHEADER;\n",
    "hook.stl": b"solid hook\n",
    "table.csv": b"sku;product\n",
    "offered.ndjson": b'{"sku": "ST-1", "product": "stake"}\n',
    "made.json": b'{"items": [{"code": "stake", "pieces": []}]}',
    "lines.ndjson": b'{"code": "a"}\n{"code": "b"}\n',
    "hook.obj": b"o hook\nv 0 0 0\n",
    "hook.bin": b"\x7fELF\x02\x01\x01\x00\x00",
    "noise": b"\x01\x02\x00\xff\xfe",
    "kept": b"SQLite format 3\x00",
    "compare.toml": b"quantities = [1]\nalternatives = []\n",
    "changes.json": b'{"changes": []}',
    "builds.toml": b"builds = []\n",
    "items.json": b'{"items": []}',
    "plan.yaml": b"quantity: 1\n",
}
SAVE = (
    "save what is in it as CSV: gramhour rates import FILE --kind KIND and gramhour listings "
    "import FILE take that"
)
REQUEST, SHEET = "where a quote request", "where a rate sheet"


@pytest.mark.parametrize(
    ("command", "says"),
    [
        (
            "quote rates.toml",
            f"this is a rate sheet, {REQUEST} is expected; name it with --rates, or take it into "
            "the store: gramhour rates import rates.toml",
        ),
        (
            "quote stake.toml --rates stake.toml",
            f"this is a quote request, {SHEET} is expected; gramhour quote stake.toml takes it",
        ),
        (
            "rates import stake.toml",
            f"this is a quote request, {SHEET} is expected; gramhour quote stake.toml takes it",
        ),
        (
            "quote rates-of-may",
            f"this is a spreadsheet, {REQUEST} (TOML or JSON) is expected; {SAVE}",
        ),
        (
            "quote hook.step",
            f"this is a solid model (STEP), {REQUEST} (TOML or JSON) is expected; export it as a "
            "mesh, STL or 3MF",
        ),
        (
            "quote hook.obj",
            f"this is a mesh in a form that is not read here, {REQUEST} (TOML or JSON) is "
            "expected; export it as STL or 3MF: gramhour quote FILE and gramhour measure FILE take "
            "that",
        ),
        (
            "measure hook.obj",
            "this is a mesh in a form that is not read here: export it as STL or 3MF: gramhour "
            "quote FILE and gramhour measure FILE take that",
        ),
        (
            "rates import hook.bin",
            f"this is a program, {SHEET} (TOML or JSON) is expected; it cannot be read as data",
        ),
        (
            "quote noise",
            f"this is no text, {REQUEST} (TOML or JSON) is expected; if it should be, save it as a "
            "text in UTF-8",
        ),
        (
            "quote parts.zip",
            f"this is a ZIP archive, {REQUEST} (TOML or JSON) is expected; unpack it and name the "
            "file in it",
        ),
        (
            "quote stake.toml --rates hook.stl",
            f"this is a mesh, {SHEET} (TOML or JSON) is expected; gramhour quote hook.stl or "
            "gramhour measure hook.stl takes it",
        ),
        (
            "quote stake.toml --rates table.csv",
            f"this is a table (CSV), {SHEET} (TOML or JSON) is expected; gramhour rates import "
            "table.csv --kind KIND or gramhour listings import table.csv takes it",
        ),
        (
            "quote lines.ndjson",
            f"this is a file of lines of JSON, {REQUEST} (TOML or JSON) is expected; gramhour "
            "products import lines.ndjson or gramhour listings import lines.ndjson takes it",
        ),
        (
            "quote kept",
            f"this is a store, {REQUEST} (TOML or JSON) is expected; name it with --store",
        ),
        (
            "quote compare.toml",
            f"this is a comparison, {REQUEST} is expected; gramhour compare compare.toml takes it",
        ),
        (
            "compare stake.toml",
            "this is a quote request, where a comparison is expected; gramhour quote stake.toml "
            "takes it",
        ),
        (
            "reprice --propose rates.toml",
            "this is a rate sheet, where a list of changes of rates is expected; name it with "
            "--rates, or take it into the store: gramhour rates import rates.toml",
        ),
        (
            "rates change builds.toml",
            "this is a list of timed builds, where a list of changes of rates is expected; "
            "gramhour calibrate builds.toml takes it",
        ),
        (
            "calibrate changes.json",
            "this is a list of changes of rates, where a list of timed builds is expected; "
            "gramhour rates change changes.json takes it, or gramhour reprice --propose "
            "changes.json",
        ),
        (
            "listings import hook",
            "this is a solid model (STEP), where a list of listings (CSV, NDJSON, JSON or TOML) is "
            "expected; export it as a mesh, STL or 3MF",
        ),
        (
            "quote plan.yaml",
            f"this is YAML, {REQUEST} (TOML or JSON) is expected; write what is in it as that",
        ),
        (
            "products import plan.yaml",
            "this is YAML, where a list of products (NDJSON, JSON or TOML) is expected; write "
            "what is in it as that",
        ),
        (
            "products import table.csv",
            "this is a list of listings (CSV), where a list of products is expected; gramhour "
            "listings import table.csv takes it",
        ),
        (
            "rates import table.csv",
            "this is a list of listings (CSV), where a table of rates (CSV) is expected; gramhour "
            "listings import table.csv takes it",
        ),
        (
            "rates import table.csv --kind materials",
            "this is a list of listings (CSV), where a table of materials (CSV) is expected; "
            "gramhour listings import table.csv takes it",
        ),
        (
            "measure rates-of-may",
            "this is a spreadsheet, where a mesh or a toolpath is expected: its name must end in "
            ".stl or .3mf or .gcode",
        ),
    ],
)
def test_a_file_of_another_kind_is_told_with_what_takes_it(
    run: Run, shop: Path, command: str, says: str
) -> None:
    for name, content in FILES.items():
        (shop / name).write_bytes(content)
    told = run(*command.split())
    assert (told.exit_code, told.stdout) == (1, "")
    assert told.stderr.endswith(f"  {says}\n")


def test_products_are_no_listings_nor_the_other_way(run: Run, shop: Path) -> None:
    run("rates", "import", "rates.toml")
    for file, kind, other in (
        ("lines.ndjson", "listings", "products"),
        ("made.json", "listings", "products"),
        ("offered.ndjson", "products", "listings"),
    ):
        (shop / file).write_bytes(FILES[file])
        told = run(kind, "import", file)
        assert told.exit_code == 1
        assert told.stderr.splitlines()[-1].endswith(
            f"  this is a list of {other}, where a list of {kind} is expected; "
            f"gramhour {other} import {file} takes it"
        )


def test_what_is_no_list_yet_is_told_how_to_be_one(run: Run, shop: Path) -> None:
    run("rates", "import", "rates.toml")
    (shop / "listed.toml").write_text('[[products]]\ncode = "stake"\n')
    assert run("products", "import", "listed.toml").stderr.endswith(
        '/products  write products as items: [[items]] in TOML, {"items": [...]} in JSON\n'
    )
    one = run("products", "import", "stake.toml").stderr.splitlines()[-1]
    assert "a list of products is expected; gramhour quote stake.toml takes it. To keep its" in one
    assert '[[items]] and code = "…", then [items.product] for [product]' in one


def test_on_standard_input_too(run: Run) -> None:
    told = run("quote", "-", read=b"%PDF-1.7\n")
    assert told.stderr.endswith(
        f"this is a PDF, {REQUEST} (TOML or JSON) is expected; it cannot be read as data\n"
    )


def test_a_row_by_itself_is_no_request(run: Run, shop: Path) -> None:
    run("rates", "import", "rates.toml")
    (shop / "one.json").write_text('{"sku": "ST-1", "listing": {}}')
    told = run("listings", "import", "one.json").stderr
    detail = (
        'there is no list of rows in it: write [[items]] in TOML, {"items": [...]} in JSON, or an '
        "object a line (NDJSON), or CSV with the columns' names first\n"
    )
    assert told.endswith(f"one.json  {detail}")
    (shop / "empty.toml").write_text("")
    assert run("listings", "import", "empty.toml").stderr.endswith(f"empty.toml  {detail}")


def test_what_has_a_bit_of_both_is_read_as_what_is_expected(run: Run, shop: Path) -> None:
    (shop / "both.toml").write_text('quantity = 1\ncurrency = "EUR"\n')
    told = run("quote", "both.toml", "--rates", "rates.toml").stderr
    assert "/currency  unknown member 'currency'" in told
