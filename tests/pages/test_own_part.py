"""A customer has a part of their own priced from its file."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, expect

from tests.cube import CUBE
from tests.pages.browsing import (
    SCREENS,
    Looking,
    is_as_wide_as_the_screen,
    looking,
    serious_faults,
)

LABEL = Path(__file__).parents[2] / "service/gramhour_service/demo/shop/seed-tray-label.stl"
TORUS = Path(__file__).parents[1] / "measuring/samples/torus.3mf"
SERVICE, CHALK, CLEAR = "own-parts", "pla-chalk", "petg-clear"


@pytest.fixture
def look(browser: Browser, shop_at: str) -> Iterator[Looking]:
    with looking(browser, shop_at) as opened:
        yield opened


def quoted(shop_at: str, content: bytes, quantity: int, material: str = CHALK) -> dict[str, Any]:
    """Measure and ask for the same by the contract."""
    measured = httpx.post(
        f"{shop_at}/v1/measurements",
        params={"service": SERVICE},
        content=content,
        headers={"Content-Type": "model/stl"},
    ).json()
    asked = {"measurement": measured["measurement"], "service": SERVICE, "material": material}
    told = httpx.post(f"{shop_at}/v1/quotes", json={**asked, "quantity": quantity}).json()
    return {**told["at_quantity"], "ready_on": told["lead_time"]["ready_on"]}


def test_a_file_gets_a_price_and_the_next_quantity_needs_no_file(
    look: Looking, shop_at: str
) -> None:
    look.go("/")
    look.page.get_by_role("link", name="A part of your own").click()
    look.page.get_by_label("how many").fill("7")
    look.page.get_by_label("my part").set_input_files(LABEL)
    total = look.page.locator("#price data")
    content = LABEL.read_bytes()
    expect(total).to_have_attribute("value", quoted(shop_at, content, 7)["order_gross"])
    part = look.page.locator("#part")
    expect(part).to_contain_text("It measures 40 × 12 × 2 mm; solid volume 0,96 cm³.")
    expect(look.page.get_by_role("status")).to_contain_text("For 7 of seed-tray-label.stl in PLA")
    with look.page.expect_request(lambda request: request.method == "POST") as asked:
        look.page.get_by_label("which material").select_option(label="PETG, water clear")
    expected = quoted(shop_at, content, 7, CLEAR)
    expect(total).to_have_attribute("value", expected["order_gross"])
    assert 0 < len(asked.value.post_data_buffer or b"") < len(content) + 2_000
    ready = look.page.locator("#answer section").first.locator("time")
    expect(ready).to_have_attribute("datetime", expected["ready_on"])


def test_a_broken_file_is_told_so_at_its_field(look: Looking, tmp_path: Path) -> None:
    for name, content, says in (
        ("part.step", b"ISO-10303-21;", "This file is neither STL nor 3MF"),
        ("part.stl", CUBE[:-1], "cut"),
        ("part.3mf", b"no package", "3MF"),
    ):
        (tmp_path / name).write_bytes(content)
        look.go("/own-part")
        look.page.get_by_label("how many").fill("1")
        look.page.get_by_label("my part").set_input_files(tmp_path / name)
        expect(look.page.locator("#file-fault")).to_contain_text(says)
        expect(look.page.locator("#file")).to_have_attribute("aria-describedby", "file-fault")
        expect(look.page.locator("#price")).to_have_count(0)


def test_without_scripts_the_next_quantity_needs_no_file_either(
    browser: Browser, shop_at: str
) -> None:
    with looking(browser, shop_at, java_script_enabled=False) as look:
        look.go("/own-part")
        look.page.get_by_role("button", name="Say the price").click()
        expect(look.page.locator("#quantity-fault")).to_have_text("Say how many you need.")
        look.page.get_by_label("my part").set_input_files(LABEL)
        content = LABEL.read_bytes()
        for quantity in (2, 9):
            look.page.get_by_label("how many").fill(str(quantity))
            look.page.get_by_role("button", name="Say the price").click()
            amount = quoted(shop_at, content, quantity)["order_gross"]
            expect(look.page.locator("#price")).to_have_text(f"{amount}\xa0EUR")
        amount = quoted(shop_at, content, 9)["order_gross"]
        look.page.get_by_role("button", name="A quotation to print").click()
        expect(look.page.locator("tr.total td")).to_have_text(f"{amount}\xa0EUR")


@pytest.mark.parametrize("file", [LABEL, TORUS], ids=lambda path: path.suffix)
def test_a_part_is_drawn_when_somebody_asks_to_see_it_and_not_before(
    look: Looking, file: Path
) -> None:
    loaded: list[str] = []
    look.page.on("request", lambda request: loaded.append(request.url.rpartition("/")[2]))
    look.go("/own-part")
    look.page.get_by_label("how many").fill("1")
    look.page.get_by_label("my part").set_input_files(file)
    expect(look.page.locator("#price")).to_be_visible()
    assert "three.js" not in loaded
    look.page.get_by_role("button", name="Show it").click()
    drawing = look.page.get_by_role("img", name="Your part. Turn it")
    expect(drawing).to_be_focused()
    assert "three.js" in loaded
    before = drawing.screenshot()
    look.page.keyboard.press("ArrowLeft")
    assert drawing.screenshot() != before
    assert serious_faults(look.page) == []


@pytest.mark.parametrize(("width", "scheme"), SCREENS)
def test_nobody_is_kept_out_of_it(browser: Browser, shop_at: str, width: int, scheme: str) -> None:
    screen = {"viewport": {"width": width, "height": 800}, "color_scheme": scheme}
    with looking(browser, shop_at, **screen) as look:
        look.go("/own-part")
        assert serious_faults(look.page) == []
        look.page.get_by_label("my part").set_input_files(LABEL)
        look.page.get_by_label("how many").fill("25")
        expect(look.page.locator("#price")).to_be_visible()
        assert serious_faults(look.page) == []
        assert is_as_wide_as_the_screen(look.page)
