"""A customer asks for a price on the page, as people do."""

import re
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, expect

from tests.pages.browsing import (
    SCREENS,
    Looking,
    is_as_wide_as_the_screen,
    looking,
    serious_faults,
)

PLANTER = "HP-W"
FIRST_PAGE_BYTES = 100_000


@pytest.fixture
def look(browser: Browser, shop_at: str) -> Iterator[Looking]:
    with looking(browser, shop_at) as opened:
        yield opened


def quoted(shop_at: str, quantity: int, sku: str = PLANTER) -> dict[str, Any]:
    """Ask for the same by the contract."""
    asked = {"sku": sku, "quantity": quantity}
    told = httpx.post(f"{shop_at}/v1/quotes", json=asked).json()
    return {**told["at_quantity"], "ready_on": told["lead_time"]["ready_on"]}


def test_a_sentence_is_completed_and_the_price_is_there(look: Looking, shop_at: str) -> None:
    look.go("/")
    look.page.get_by_label("which product").select_option(PLANTER)
    look.page.get_by_label("how many").fill("12")
    total = look.page.locator("#price data")
    expect(total).to_have_attribute("value", quoted(shop_at, 12)["order_gross"])
    expect(look.page.get_by_role("status")).to_contain_text(
        "For 12 of Herb planter, herb green you pay"
    )
    ready = look.page.locator("section").first.locator("time")
    expect(ready).to_have_attribute("datetime", quoted(shop_at, 12)["ready_on"])
    look.page.get_by_label("how many").fill("3")
    expect(total).to_have_attribute("value", quoted(shop_at, 3)["order_gross"])
    assert look.page.url.endswith(f"/?quantity=3&sku={PLANTER}&by=")


def test_amounts_are_written_as_the_readers_country_does(browser: Browser, shop_at: str) -> None:
    amount = quoted(shop_at, 5)["order_gross"]
    whole, cents = amount.split(".")
    for locale, written in (("de-AT", f"€ {whole},{cents}"), ("en-IE", f"€{whole}.{cents}")):
        with looking(browser, shop_at, locale=locale) as look:
            look.go(f"/?sku={PLANTER}&quantity=5")
            shown = look.page.locator("#price").inner_text().replace("\xa0", " ")
            assert shown == written


def test_without_scripts_the_button_does_it(browser: Browser, shop_at: str) -> None:
    with looking(browser, shop_at, java_script_enabled=False) as look:
        look.go("/")
        look.page.get_by_label("how many").fill("7")
        look.page.get_by_label("which product").select_option("CR-W")
        look.page.get_by_role("button", name="Say the price").click()
        amount = quoted(shop_at, 7, "CR-W")["order_gross"]
        expect(look.page.locator("#price")).to_have_text(f"{amount}\xa0EUR")
        look.page.get_by_role("link", name="A quotation to print").click()
        expect(look.page.get_by_role("heading", level=1)).to_have_text(
            re.compile(r"Quotation [0-9A-F]{4}-[0-9A-F]{4}")
        )
        expect(look.page.locator("tr.total td")).to_have_text(f"{amount}\xa0EUR")


def test_a_keyboard_alone_gets_a_price(look: Looking, shop_at: str) -> None:
    look.go("/")
    look.page.keyboard.press("Tab")
    expect(look.page.get_by_role("link", name="Go to the content")).to_be_focused()
    look.page.keyboard.press("Tab")
    while look.page.evaluate("document.activeElement.id") != "quantity":
        look.page.keyboard.press("Tab")
    look.page.keyboard.type("25")
    look.page.keyboard.press("Tab")
    look.page.keyboard.type("Herb planter, herb")
    look.page.keyboard.press("Tab")
    look.page.keyboard.press("Enter")
    total = look.page.locator("#price data")
    expect(total).to_have_attribute("value", quoted(shop_at, 25)["order_gross"])


def test_a_fault_stands_at_its_field(look: Looking) -> None:
    look.go(f"/?sku={PLANTER}&quantity=100001&by=2026-13-01")
    for field, says in (
        ("#quantity", "Write a whole number from 1 to 100 000."),
        ("#by", "Write a day as year-month-day, such as 2026-12-24, or leave it open."),
    ):
        expect(look.page.locator(field)).to_have_attribute("aria-invalid", "true")
        told = look.page.locator(field).get_attribute("aria-describedby")
        assert look.page.locator(f"#{told}").inner_text() == says
    look.page.locator("#by").fill("")
    look.page.get_by_label("how many").fill("2")
    expect(look.page.locator("#price")).to_be_visible()
    expect(look.page.locator(".fault")).to_have_count(0)
    look.page.get_by_label("how many").fill("0")
    expect(look.page.locator("#quantity-fault")).to_be_visible()
    expect(look.page.get_by_role("status")).to_have_text("Write a whole number from 1 to 100 000.")


def test_a_day_too_early_is_told(look: Looking, shop_at: str) -> None:
    ready = date.fromisoformat(quoted(shop_at, 40)["ready_on"])
    look.go(f"/?sku={PLANTER}&quantity=40&by={ready - timedelta(days=1)}")
    expect(look.page.get_by_text("Not in time:")).to_be_visible()
    look.go(f"/?sku={PLANTER}&quantity=40&by={ready}")
    expect(look.page.get_by_text("in time.")).to_be_visible()


def test_a_larger_quantity_that_costs_less_is_offered(look: Looking, shop_at: str) -> None:
    assert quoted(shop_at, 9, "HP-chalk-W")["flags"] == ["next_total_is_lower"]
    look.go("/?sku=HP-chalk-W&quantity=9")
    look.page.get_by_role("link", name="Take 10").click()
    total = look.page.locator("#price data")
    expect(total).to_have_attribute("value", quoted(shop_at, 10, "HP-chalk-W")["order_gross"])
    expect(look.page.get_by_label("how many")).to_have_value("10")


def test_the_sealed_price_is_genuine(browser: Browser, shop_at: str) -> None:
    with looking(browser, shop_at, permissions=["clipboard-read", "clipboard-write"]) as look:
        look.go(f"/?sku={PLANTER}&quantity=12")
        look.page.get_by_text("Keep this price: copy its seal").click()
        look.page.get_by_role("button", name="Copy it").click()
        expect(look.page.get_by_role("button", name="Copied")).to_be_visible()
        copied = look.page.evaluate("navigator.clipboard.readText()")
    told = httpx.post(f"{shop_at}/v1/seals/verify", json={"seal": copied}).json()
    assert (told["status"], told["offer"]["sku"]) == ("valid", PLANTER)


def test_the_drawing_says_what_it_shows(look: Looking, shop_at: str) -> None:
    look.go(f"/?sku={PLANTER}&quantity=12")
    said = look.page.get_by_role("img").get_attribute("aria-label")
    steps = ", ".join(f"from {n}: {quoted(shop_at, n)['unit_price']}" for n in (1, 5, 10))
    asked = f"You asked for 12: {quoted(shop_at, 12)['unit_price']} EUR each."
    assert said == f"Price of one, by quantity. In EUR, {steps}. {asked}"


def test_all_that_the_first_page_loads_is_small(look: Looking) -> None:
    sizes: list[int] = []
    look.page.on("response", lambda answer: sizes.append(len(answer.body())))
    look.go(f"/?sku={PLANTER}&quantity=12")
    look.page.wait_for_load_state("networkidle")
    assert len(sizes) >= 4
    assert sum(sizes) < FIRST_PAGE_BYTES


@pytest.mark.parametrize(("width", "scheme"), SCREENS)
@pytest.mark.parametrize(
    "path",
    ["/", f"/?sku={PLANTER}&quantity=12&by=2020-01-01", "/?sku=no&quantity=x",
     f"/quotation?sku={PLANTER}&quantity=12", "/assets/x/none.css"],
)  # fmt: skip
def test_nobody_is_kept_out(
    browser: Browser, shop_at: str, path: str, width: int, scheme: str
) -> None:
    screen = {"viewport": {"width": width, "height": 800}, "color_scheme": scheme}
    with looking(browser, shop_at, **screen) as look:
        look.go(path)
        assert serious_faults(look.page) == []
        assert is_as_wide_as_the_screen(look.page)
