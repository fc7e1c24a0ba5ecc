"""Makes a sample workbook: python client/spreadsheet/sample.py parts.ods http://127.0.0.1:8750

A list of parts in, prices out, and a chart of them. Its cells ask the service by themselves, so
nothing has to be installed. The standard library writes it; no office is needed for that.
"""

import sys
import zipfile
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import quoteattr

ADDRESS = "http://127.0.0.1:8750"
HEADINGS = ("Part", "material", "mass_g", "machine", "print_min", "channel", "quantity")
PARTS: Sequence[tuple[str | float, ...]] = (
    ("Balcony hook", "asa-green", 42.5, "large", 95, "own-shop", 10),
    ("Planter foot", "asa-green", 18.2, "large", 48, "own-shop", 40),
    ("Wick guide", "petg-clear", 3.75, "small-1", 14, "own-shop", 100),
    ("Reel handle", "petg-clear", 26.4, "small-1", 71, "own-shop", 25),
    ("Seed-tray label", "pla-chalk", 1.2, "small-2", 6.5, "own-shop", 500),
    ("Lamp bracket", "pla-chalk", 31.9, "small-2", 88, "trade", 60),
)
FIRST, LAST = 2, len(PARTS) + 1
SERVICE = (
    ("Address of the service", "B1"),
    ("Change this number to ask again", "B2"),
)
NAMESPACES = {
    "office": "office",
    "table": "table",
    "text": "text",
    "draw": "drawing",
    "style": "style",
    "chart": "chart",
    "xlink": "http://www.w3.org/1999/xlink",
    "svg": "svg-compatible",
    "number": "datastyle",
    "fo": "xsl-fo-compatible",
    "manifest": "manifest",
}
ODS = "application/vnd.oasis.opendocument.spreadsheet"
CHART = "application/vnd.oasis.opendocument.chart"
WHEN = (1980, 1, 1, 0, 0, 0)


def write_sample(target: Path, address: str = ADDRESS) -> None:
    """Write the workbook."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as package:
        kind = zipfile.ZipInfo("mimetype", WHEN)  # first, and not compressed (ODF 1.2, part 3)
        package.writestr(kind, ODS, zipfile.ZIP_STORED)
        for name, text in (
            ("content.xml", _content(address)),
            ("Object 1/content.xml", _chart()),
            ("META-INF/manifest.xml", _manifest()),
        ):
            member = zipfile.ZipInfo(name, WHEN)
            package.writestr(member, f'<?xml version="1.0"?>\n{text}', zipfile.ZIP_DEFLATED)


def _document(root: str, body: str) -> str:
    names = "".join(
        f' xmlns:{short}="{long}"'
        if long.startswith("http")
        else f' xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{long}:1.0"'
        for short, long in NAMESPACES.items()
    )
    formula = ' xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2"'
    return f'<{root}{names}{formula} office:version="1.2">{body}</{root}>'


def _content(address: str) -> str:
    rows = "".join(map(_row, range(FIRST, LAST + 1), PARTS))
    head = "".join(_cell(text, "head") for text in (*HEADINGS, "answer", "price", "order"))
    frame = (
        '<table:shapes><draw:frame svg:x="1cm" svg:y="6cm" svg:width="18cm" svg:height="8cm">'
        '<draw:object xlink:href="./Object 1" xlink:type="simple"/></draw:frame></table:shapes>'
    )
    parts = f'<table:table table:name="Parts">{frame}{COLUMNS}{_line(head)}{rows}</table:table>'
    told = _line(_cell(SERVICE[0][0], "head") + _cell(address))
    again = _line(_cell(SERVICE[1][0], "head") + _cell(1))
    service = f'<table:table table:name="Service">{WIDE}{told}{again}</table:table>'
    body = f"<office:body><office:spreadsheet>{parts}{service}</office:spreadsheet></office:body>"
    return _document("office:document-content", STYLES + body)


def _row(number: int, part: tuple[str | float, ...]) -> str:
    """Write a row: the part as it is typed, then the three cells that ask and compute."""
    typed = "".join(map(_cell, part))
    told = "".join(
        f'&"&{name}="&COM.MICROSOFT.ENCODEURL(SUBSTITUTE([.{column}{number}]&"";",";"."))'
        for column, name in zip("BCDEFG", HEADINGS[1:], strict=True)
    )
    asked = (
        f'of:=COM.MICROSOFT.WEBSERVICE([$Service.$B$1]&"/v1/unit-price?errors=text"{told}'
        '&"&again="&[$Service.$B$2])'
    )
    price = f'of:=NUMBERVALUE([.H{number}];".")'
    order = f"of:=[.I{number}]*[.G{number}]"
    return _line(typed + _formula(asked) + _formula(price, "money") + _formula(order, "money"))


def _line(cells: str) -> str:
    return f"<table:table-row>{cells}</table:table-row>"


def _cell(value: str | float, style: str = "plain") -> str:
    styled = f'<table:table-cell table:style-name="{style}"'
    if isinstance(value, str):
        text = quoteattr(value)[1:-1]
        return f'{styled} office:value-type="string"><text:p>{text}</text:p></table:table-cell>'
    return f'{styled} office:value-type="float" office:value="{value}"/>'


def _formula(formula: str, style: str = "plain") -> str:
    return f'<table:table-cell table:style-name="{style}" table:formula={quoteattr(formula)}/>'


def _chart() -> str:
    """Draw a bar for each part's price."""
    parts, prices = (f"Parts.${c}${FIRST}:Parts.${c}${LAST}" for c in "AI")
    axes = (
        '<chart:axis chart:dimension="x" chart:name="primary-x" chart:style-name="axis">'
        f'<chart:categories table:cell-range-address="{parts}"/></chart:axis>'
        '<chart:axis chart:dimension="y" chart:name="primary-y" chart:style-name="axis">'
        "<chart:title><text:p>Price of a unit</text:p></chart:title></chart:axis>"
    )
    series = (
        f'<chart:series chart:values-cell-range-address="{prices}"'
        ' chart:label-cell-address="Parts.$I$1" chart:class="chart:bar">'
        f'<chart:data-point chart:repeated="{len(PARTS)}"/></chart:series>'
    )
    chart = (
        f'<chart:chart svg:width="18cm" svg:height="8cm" chart:class="chart:bar">'
        "<chart:title><text:p>What the parts sell for</text:p></chart:title>"
        f"<chart:plot-area>{axes}{series}</chart:plot-area></chart:chart>"
    )
    labels = (
        '<office:automatic-styles><style:style style:name="axis" style:family="chart">'
        '<style:chart-properties chart:display-label="true"/></style:style>'
        "</office:automatic-styles>"
    )
    body = f"<office:body><office:chart>{chart}</office:chart></office:body>"
    return _document("office:document-content", labels + body)


def _manifest() -> str:
    entries = {"/": ODS, "content.xml": "text/xml", "Object 1/": CHART}
    entries["Object 1/content.xml"] = "text/xml"
    listed = "".join(
        f'<manifest:file-entry manifest:full-path="{path}" manifest:media-type="{kind}"/>'
        for path, kind in entries.items()
    )
    name = "urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"
    return (
        f'<manifest:manifest xmlns:manifest="{name}" manifest:version="1.2">{listed}'
        "</manifest:manifest>"
    )


def _column(name: str, width: str) -> str:
    return (
        f'<style:style style:name="{name}" style:family="table-column">'
        f'<style:table-column-properties style:column-width="{width}"/></style:style>'
    )


STYLES = (
    f"<office:automatic-styles>{_column('usual', '2.4cm')}{_column('wide', '6cm')}"
    '<number:number-style style:name="cents"><number:number number:decimal-places="2"'
    ' number:min-integer-digits="1"/></number:number-style>'
    '<style:style style:name="plain" style:family="table-cell"/>'
    '<style:style style:name="money" style:family="table-cell" style:data-style-name="cents"/>'
    '<style:style style:name="head" style:family="table-cell"><style:text-properties'
    ' fo:font-weight="bold"/></style:style></office:automatic-styles>'
)
COLUMNS = (
    '<table:table-column table:style-name="wide"/>'
    '<table:table-column table:style-name="usual" table:number-columns-repeated="9"/>'
)
WIDE = '<table:table-column table:style-name="wide" table:number-columns-repeated="2"/>'


if __name__ == "__main__":
    target, *address = sys.argv[1:] or ["gramhour-parts.ods"]
    write_sample(Path(target), *address)
    sys.stdout.write(f"{target} is written: open it in Calc, and press Allow updating.\n")
