"""Colours are far enough apart to be read, in light and dark.

Contrast as WCAG 2.2 defines it (W3C Recommendation, "relative luminance" and "contrast ratio"):
4.5 : 1 for text (success criterion 1.4.3), and
3 : 1 for the bounds of fields and for drawings (1.4.11).
"""

import re
from itertools import product
from pathlib import Path

import pytest

STYLE = Path(__file__).parents[2] / "service/gramhour_service/pages/static/style.css"
GROUNDS = ("ground", "panel")
TEXT = [
    *product(("ink", "quiet", "asked", "care"), GROUNDS),
    ("on-asked", "asked"), ("care", "care-ground"), ("ink", "care-ground"), ("ink", "asked-ground"),
    ("asked", "asked-ground"),
]  # fmt: skip
LINES = [*product(("line", "asked", "care"), GROUNDS)]


def colours() -> dict[str, dict[str, str]]:
    """Read the colours of light and dark; dark changes those that it names."""
    light, dark = re.findall(r":root \{(.*?)\}", STYLE.read_text(), re.DOTALL)[:2]
    found = [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", each)) for each in (light, dark)]
    return {"light": found[0], "dark": {**found[0], **found[1]}}


def luminance(colour: str) -> float:
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_computed_as_published() -> None:
    assert contrast("#000000", "#ffffff") == 21
    assert round(contrast("#777777", "#ffffff"), 2) == 4.48  # known as the grey that just fails


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("pair", TEXT, ids=" on ".join)
def test_text_can_be_read(scheme: str, pair: tuple[str, str]) -> None:
    one, other = (colours()[scheme][name] for name in pair)
    assert contrast(one, other) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("pair", LINES, ids=" on ".join)
def test_lines_can_be_seen(scheme: str, pair: tuple[str, str]) -> None:
    one, other = (colours()[scheme][name] for name in pair)
    assert contrast(one, other) >= 3
