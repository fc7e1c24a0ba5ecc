"""An OpenDocument spreadsheet (ISO/IEC 26300-1, OpenFormula) written as text into a zip file.

A thin writer of our own: what is needed is a dozen elements. The well-kept library for it (odfdo),
which builds a tree of them first, took 0.8 s of a processor for 2,000 cells of formulas; a whole
workbook may take 0.2 s.
"""

import io
import zipfile
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from xml.sax.saxutils import escape, quoteattr

MEDIA_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
MOMENT = (1980, 1, 1, 0, 0, 0)
"""The same workbook is the same file to the byte."""

NAMESPACES = (
    " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{urn}:1.0"'
        for name, urn in (
            ("office", "office"),
            ("table", "table"),
            ("text", "text"),
            ("style", "style"),
            ("number", "datastyle"),
            ("fo", "xsl-fo-compatible"),
        )
    )
    + ' xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2"'
)

MANIFEST = f"""<?xml version="1.0" encoding="UTF-8"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" \
manifest:version="1.3"><manifest:file-entry manifest:full-path="/" manifest:version="1.3" \
manifest:media-type="{MEDIA_TYPE}"/><manifest:file-entry manifest:full-path="content.xml" \
manifest:media-type="text/xml"/></manifest:manifest>"""

PLAIN, HEAD, TITLE, INPUT, NOTE, STATE = "plain", "head", "title", "input", "note", "state"
DAY = "day"
MOST_DECIMALS = 4


def _number_style(places: int) -> str:
    return (
        f'<number:number-style style:name="N{places}"><number:number '
        f'number:decimal-places="{places}" number:min-decimal-places="{places}" '
        'number:min-integer-digits="1"/></number:number-style>'
        f'<style:style style:name="n{places}" style:family="table-cell" '
        f'style:data-style-name="N{places}">'
        '<style:table-cell-properties style:vertical-align="top"/></style:style>'
    )


def _style(name: str, cell: str = "", text: str = "") -> str:
    return (
        f'<style:style style:name="{name}" style:family="table-cell">'
        f'<style:table-cell-properties style:vertical-align="top" {cell}/>'
        f"<style:text-properties {text}/></style:style>"
    )


STYLES = (
    "".join(_number_style(places) for places in range(MOST_DECIMALS + 1))
    + _style(HEAD, 'fo:background-color="#e8ebee" fo:wrap-option="wrap"', 'fo:font-weight="bold"')
    + _style(TITLE, text='fo:font-weight="bold" fo:font-size="14pt"')
    + _style(INPUT, 'fo:background-color="#fff7d6" fo:border="0.5pt solid #c9b458"')
    + _style(NOTE, 'fo:wrap-option="wrap"')
    + _style(STATE, text='fo:font-weight="bold"')
    + _style(PLAIN)
    + '<number:date-style style:name="D"><number:year number:style="long"/><number:text>-'
    '</number:text><number:month number:style="long"/><number:text>-</number:text>'
    '<number:day number:style="long"/></number:date-style>'
    f'<style:style style:name="{DAY}" style:family="table-cell" style:data-style-name="D">'
    '<style:text-properties fo:font-weight="bold"/></style:style>'
)


def text(says: str, style: str = PLAIN) -> str:
    """Write a cell with a text."""
    return (
        f'<table:table-cell table:style-name="{style}" office:value-type="string">'
        f"<text:p>{escape(says)}</text:p></table:table-cell>"
    )


def number(value: Decimal) -> str:
    """Write a cell with a number to be edited."""
    return (
        f'<table:table-cell table:style-name="{INPUT}" office:value-type="float" '
        f'office:value="{value:f}"/>'
    )


def day(value: date) -> str:
    """Write a cell with a day."""
    return (
        f'<table:table-cell table:style-name="{DAY}" office:value-type="date" '
        f'office:date-value="{value}"/>'
    )


def formula(says: str, value: Decimal | str, style: str) -> str:
    """Write a cell with a formula and what it comes to now."""
    made = quoteattr(f"of:={says}")
    if isinstance(value, str) or value.is_nan():
        shown = "" if not isinstance(value, str) else value
        told = f'office:value-type="string" office:string-value={quoteattr(shown)}'
    else:
        told = f'office:value-type="float" office:value="{float(value)!r}"'
    return f'<table:table-cell table:style-name="{style}" table:formula={made} {told}/>'


def empty(cells: int = 1) -> str:
    """Write cells with nothing in them."""
    return f'<table:table-cell table:number-columns-repeated="{cells}"/>' if cells else ""


def row(*cells: str) -> str:
    """Write a row."""
    return f"<table:table-row>{''.join(cells)}</table:table-row>"


def sheet(name: str, widths_cm: Sequence[float], rows: Iterable[str]) -> tuple[str, str]:
    """Write a sheet: the styles of its columns, and itself."""
    styles = "".join(
        f'<style:style style:name="{name}{n}" style:family="table-column">'
        f'<style:table-column-properties style:column-width="{width}cm"/></style:style>'
        for n, width in enumerate(widths_cm)
    )
    columns = "".join(
        f'<table:table-column table:style-name="{name}{n}"/>' for n in range(len(widths_cm))
    )
    return styles, f'<table:table table:name="{name}">{columns}{"".join(rows)}</table:table>'


def written(sheets: Sequence[tuple[str, str]]) -> bytes:
    """Write the whole file."""
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {NAMESPACES} '
        f'office:version="1.3"><office:automatic-styles>{STYLES}'
        f"{''.join(styles for styles, _ in sheets)}</office:automatic-styles>"
        f"<office:body><office:spreadsheet>{''.join(tables for _, tables in sheets)}"
        "</office:spreadsheet></office:body></office:document-content>"
    )
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        _add(archive, "mimetype", MEDIA_TYPE, zipfile.ZIP_STORED)
        _add(archive, "content.xml", content, zipfile.ZIP_DEFLATED)
        _add(archive, "META-INF/manifest.xml", MANIFEST, zipfile.ZIP_DEFLATED)
    return file.getvalue()


def _add(archive: zipfile.ZipFile, name: str, content: str, compression: int) -> None:
    entry = zipfile.ZipInfo(name, MOMENT)
    archive.writestr(entry, content.encode(), compression)
