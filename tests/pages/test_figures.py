"""A figure on a page is the answer's own text: no template and no script computes one.

Templates are read as syntax trees. Scripts are read without their comments and texts: no operator
of arithmetic and nothing that makes a number of a text may stand in what is left, but for what
compares (``sort.js``) and what draws a mesh (``preview.js``, which sees no price).
"""

import re
from pathlib import Path

import pytest
from jinja2 import Environment, nodes

PAGES = Path(__file__).parents[2] / "service" / "gramhour_service" / "pages"
TEMPLATES = sorted((PAGES / "templates").rglob("*.html"))
SCRIPTS = sorted(path for path in (PAGES / "static").glob("*.js") if "three" not in path.name)
COMPUTES = (nodes.Add, nodes.Sub, nodes.Mul, nodes.Div, nodes.FloorDiv, nodes.Mod, nodes.Pow,
            nodes.Neg)  # fmt: skip
MAKE_NUMBERS = {"abs", "float", "format", "int", "max", "min", "round", "sum"}
SEES_NO_PRICE = {"preview.js"}
COMPARES = {"sort.js": {"Number"}}
TEXTS = re.compile(
    r"""//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'|(?<=[(,=:!&|?{}])\s*/(?:\\.|[^/\\\n])+/[a-z]*""",
    re.DOTALL,
)
ARITHMETIC = re.compile(
    r"(?<![*/+\-=])[*/%+](?![+])|\*\*|(?<=[\w)\]])\s*-\s*(?=[\w(])|[-+*/%]="
    r"|\b(?:Math|Number|BigInt|parseFloat|parseInt)\b"
)


def arithmetic_of(script: str) -> list[str]:
    """Find what computes in a script, its template literals read as code."""
    return [found.strip() for found in ARITHMETIC.findall(TEXTS.sub('""', script))]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_computes_nothing(path: Path) -> None:
    tree = Environment(autoescape=True).parse(path.read_text())
    assert [node.lineno for node in tree.find_all(COMPUTES)] == []
    filters = {node.name for node in tree.find_all(nodes.Filter)}
    assert filters & MAKE_NUMBERS == set()


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_a_script_computes_nothing(path: Path) -> None:
    script = path.read_text()
    if path.name in SEES_NO_PRICE:
        assert not re.search(r"money|currency|price|figures", script.split("*/")[-1])
        return
    assert set(arithmetic_of(script)) - COMPARES.get(path.name, set()) == set()


@pytest.mark.parametrize(
    "script",
    ["a = b * c", "a=b+c", "total += price", "a - b", "Number(x)", "Math.round(x)", "a / b",
     "x ** 2", "parseFloat(y)", "`${a * b}`", "a % 2"],
)  # fmt: skip
def test_the_search_finds_arithmetic(script: str) -> None:
    assert arithmetic_of(script) != []


@pytest.mark.parametrize(
    "script",
    ["// a * b", '"a * b"', "i++", "x => x.y", "a === b", "/* 1 + 1 */", '"px/2"', "const a = -1"],
)
def test_the_search_passes_what_is_none(script: str) -> None:
    assert arithmetic_of(script) == []


def test_no_page_styles_itself() -> None:
    for path in TEMPLATES:
        assert not re.search(r"\bstyle=|\bon[a-z]+=|<style|javascript:", path.read_text()), path
