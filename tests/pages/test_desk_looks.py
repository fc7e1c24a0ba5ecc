"""The desk for everybody: by keyboard, on a phone, in the dark; a sign-in that is wrong or over."""

import sqlite3
from contextlib import closing

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from tests.http.door import secret
from tests.pages.at_desk import Served, at_desk, figures, sign_in
from tests.pages.browsing import (
    SCREENS,
    is_as_wide_as_the_screen,
    keep_few_rows,
    looking,
    serious_faults,
)

OVER = "2000-01-01T00:00:00+00:00"
ELSEWHERE = "http://127.0.0.1:9"
PAGES = [
    "/desk", "/desk/bench?load=HP-W", "/desk/compare?load=cable-reel", "/desk/rates",
    "/desk/rates/materials/asa-green", "/desk/rates/machines/new", "/desk/rates/shop/staffed_hours",
    "/desk/revisions/1", "/desk/repricings",
]  # fmt: skip


def end_all(desk: Served) -> None:
    """Let every sign-in be over, as the clock would."""
    with closing(sqlite3.connect(desk.store)) as store, store:
        store.execute("UPDATE desk_sign_in SET ends_at = ?", [OVER])


@pytest.mark.parametrize(("width", "scheme"), SCREENS)
def test_nobody_is_kept_out(browser: Browser, desk: Served, width: int, scheme: str) -> None:
    screen = {"viewport": {"width": width, "height": 800}, "color_scheme": scheme}
    with looking(browser, desk.at, **screen) as look:
        look.go("/desk/sign-in?ended=true")
        assert serious_faults(look.page) == []
        sign_in(look)
        run = desk.ask("GET", "/v1/repricings")["items"][0]["id"]
        for path in (*PAGES, f"/desk/repricings/{run}"):
            look.go(path)
            look.page.locator("main details").evaluate_all("all => all.forEach(e => e.open = true)")
            assert (path, is_as_wide_as_the_screen(look.page)) == (path, True)
            keep_few_rows(look.page)
            assert (path, serious_faults(look.page)) == (path, [])


def test_a_wrong_key_is_told_and_the_right_one_opens(browser: Browser, desk: Served) -> None:
    with looking(browser, desk.at) as look:
        look.go("/desk/rates/materials/asa-green")
        expect(look.page.get_by_role("heading", level=1)).to_have_text("Sign in to the desk")
        for key, says in (
            ("not-the-key", "This key is unknown, expired or revoked."),
            (secret("price"), "This key sees no costs, so it does not open the desk."),
        ):
            look.page.get_by_label("Your key").fill(key)
            look.page.get_by_role("button", name="Sign in").click()
            expect(look.page.get_by_role("alert")).to_contain_text(says)
            expect(look.page.get_by_label("Your key")).to_have_value("")
        look.page.get_by_label("Your key").fill(secret("maker"))
        look.page.get_by_role("button", name="Sign in").click()
        expect(look.page.get_by_role("heading", level=1)).to_have_text("asa-green")
        look.page.get_by_role("button", name="Sign out").click()
        expect(look.page.get_by_role("heading", level=1)).to_have_text("Sign in to the desk")
        look.page.go_back()
        expect(look.page.get_by_label("List price")).to_have_count(0)


def test_no_script_can_read_the_sign_in(browser: Browser, desk: Served) -> None:
    with looking(browser, desk.at) as look:
        sign_in(look)
        assert look.page.evaluate("document.cookie") == ""
        (cookie,) = look.page.context.cookies()
        assert (cookie["httpOnly"], cookie["sameSite"], cookie["path"]) == (True, "Strict", "/desk")


def test_a_sign_in_that_ends_while_one_types_loses_nothing(browser: Browser, desk: Served) -> None:
    with at_desk(browser, desk) as look:
        look.go("/desk/rates/materials/tpu-slate")
        look.page.get_by_label("Abrasion").evaluate("e => { e.closest('details').open = true; }")
        look.page.get_by_label("Abrasion").fill("1.5")
        look.page.get_by_label("Note: why").fill("it wears")
        end_all(desk)
        look.page.get_by_role("button", name="Save").click()
        expect(look.page.get_by_text("what you typed is kept")).to_be_visible()
        look.page.get_by_label("Your key").fill(secret("maker"))
        look.page.get_by_role("button", name="Sign in").click()
        look.page.get_by_role("button", name="Go on with what I typed").click()
        expect(look.page.locator("#saved")).to_contain_text("It is saved.")
        now = desk.ask("GET", "/v1/rates/materials/tpu-slate")["value"]
        assert now["abrasion"] == "1.5"


def test_the_bench_says_so_when_the_sign_in_has_ended_and_goes_on_after(
    browser: Browser, desk: Served
) -> None:
    with at_desk(browser, desk) as look:
        look.go("/desk/bench?load=HP-W")
        end_all(desk)
        look.page.get_by_label("Quantity").fill("9")
        expect(look.page.get_by_role("alert")).to_contain_text("Your sign-in has ended.")
        expect(look.page.get_by_label("Quantity")).to_have_value("9")
        look.page.get_by_role("button", name="Quote", exact=True).click()
        look.page.get_by_label("Your key").fill(secret("maker"))
        look.page.get_by_role("button", name="Sign in").click()
        look.page.get_by_role("button", name="Go on with what I typed").click()
        expect(look.page.get_by_label("Quantity")).to_have_value("9")
        expect(look.page.locator("#result .outcome")).to_contain_text("at 9")


def forged(page: Page, desk: Served, fields: str) -> int:
    """Have a page of another origin send a form to the desk; say the status of the answer."""
    form = (
        f'<form method="post" action="{desk.at}/desk/rates/materials/asa-green">{fields}</form>'
        "<script>document.forms[0].submit()</script>"
    )

    def answer(route: Route) -> None:
        route.fulfill(content_type="text/html", body=form)

    page.route(f"{ELSEWHERE}/**", answer)
    with page.expect_response(f"{desk.at}/desk/**") as told:
        page.goto(f"{ELSEWHERE}/trap", wait_until="commit")
    return told.value.status


def test_a_page_of_another_origin_cannot_use_the_sign_in(browser: Browser, desk: Served) -> None:
    before = desk.ask("GET", "/v1/revisions")["items"][0]["rates_revision"]
    context = browser.new_context()
    with closing(context):
        page = context.new_page()
        page.goto(f"{desk.at}/desk/sign-in")
        page.get_by_label("Your key").fill(secret("maker"))
        page.get_by_role("button", name="Sign in").click()
        page.goto(f"{desk.at}/desk/rates/materials/asa-green")
        fields = page.locator("form#rate [name]").evaluate_all(
            "all => all.filter(e => e.name !== 'do').map("
            "e => `<input name='${e.name}' value='${e.value}'>`).join('')"
        )
        save = f"{fields}<input name='do' value='save'><input name='note' value='forged'>"
        assert forged(context.new_page(), desk, save) == 403
    assert desk.ask("GET", "/v1/revisions")["items"][0]["rates_revision"] == before


def until_focused(page: Page, name: str) -> None:
    """Press Tab until something of that name has the keyboard."""
    for _ in range(200):
        page.keyboard.press("Tab")
        told = page.evaluate(
            "(e => e.labels?.[0]?.textContent || e.getAttribute('aria-label') || e.textContent)"
            "(document.activeElement)"
        )
        if str(told).strip().casefold().startswith(name.casefold()):
            return
    raise AssertionError(f"the keyboard does not reach {name}")


def test_a_keyboard_alone_signs_in_quotes_and_opens_a_reason(
    browser: Browser, desk: Served
) -> None:
    with looking(browser, desk.at) as look:
        look.go("/desk/sign-in")
        expect(look.page.get_by_label("Your key")).to_be_focused()
        look.page.keyboard.type(secret("maker"))
        look.page.keyboard.press("Enter")
        expect(look.page.get_by_role("heading", level=1)).to_have_text("The desk")
        until_focused(look.page, "Quote bench")
        look.page.keyboard.press("Enter")
        expect(look.page.get_by_role("heading", level=1)).to_have_text("Quote bench")
        until_focused(look.page, "Load a product")
        look.page.keyboard.type("HP-W")
        look.page.keyboard.press("Enter")
        expect(look.page.get_by_role("heading", level=1)).to_have_text("Quote bench: HP-W")
        before = figures(look.page, "#result .tiles")
        until_focused(look.page, "quantity")
        look.page.keyboard.type("25")
        expect(look.page.locator("#result .outcome")).to_contain_text("at 25")
        assert figures(look.page, "#result .tiles") != before
        until_focused(look.page, "labour")
        look.page.keyboard.press("Enter")
        expect(look.page.locator("#why-cost-labour")).to_be_visible()


def test_a_keyboard_alone_sorts_and_ticks_the_report(browser: Browser, desk: Served) -> None:
    run = desk.ask("POST", "/v1/repricings", json={"over": "all"})["id"]
    desk.finished(run)
    with at_desk(browser, desk) as look:
        look.go(f"/desk/repricings/{run}?under_floor=true")
        skus = look.page.locator("table.report > tbody > tr > th")
        until_focused(look.page, "sku")
        look.page.keyboard.press("Enter")
        assert skus.all_inner_texts() == sorted(skus.all_inner_texts(), key=str.casefold)
        expect(look.page.locator("th[aria-sort]")).to_have_text("sku")
        first = skus.first.inner_text()
        told = look.page.locator("table.report > tbody > tr.under")
        of = told.evaluate_all("all => all.map(row => row.dataset.of)")
        assert of == skus.all_inner_texts()
        expect(told.first).to_be_hidden()
        until_focused(look.page, f"leave {first} out")
        look.page.keyboard.press("Space")
        expect(look.page.get_by_label(f"leave {first} out")).to_be_checked()
        until_focused(look.page, f"{told.first.locator('tbody > tr').count()} quantities")
        look.page.keyboard.press("Enter")
        expect(told.first).to_be_visible()
        until_focused(look.page, "Apply these prices")
