"""The day a filament gets dearer, from signing in to applied prices, as the maker spends it."""

from playwright.sync_api import Browser, expect

from tests.pages.at_desk import Served, at_desk, sign_in
from tests.pages.browsing import Looking, looking

FROM = "2099-01-05"
LEFT_OUT = ("BB-green-T", "S1-green-M")


def test_the_day_from_signing_in_to_applied_prices(browser: Browser, desk: Served) -> None:
    before = desk.ask("GET", "/v1/revisions")["items"][0]["rates_revision"]
    with looking(browser, desk.at) as look:
        sign_in(look)
        tries(look, desk, before)
        saves(look, desk, before)
        name = reprices(look, desk)
        reads(look, desk, name)
        leaves_out(look)
        applies(look, desk, name)


def tries(look: Looking, desk: Served, before: int) -> None:
    look.page.get_by_role("link", name="Rates", exact=True).first.click()
    look.page.get_by_role("link", name="asa-green").click()
    look.page.get_by_label("List price").fill("31.00")
    look.page.get_by_label("In force from").fill(FROM)
    look.page.get_by_label("Note: why").fill("the supplier's page")
    look.page.get_by_role("button", name="Try it").click()
    expect(look.page.locator("#tried")).to_contain_text("Tried; nothing is saved.")
    runs = desk.ask("GET", "/v1/repricings")["items"]
    run = desk.finished(next(each["id"] for each in runs if each["is_proposed"]))
    assert (run["is_proposed"], run["asked_by"], run["rates_on"]) == (True, "maker", FROM)
    counts = run["counts"]
    up_by = {name: pct.replace(".", ",") for name, pct in run["up_by"].items()}
    by = f"by {up_by['least_pct']} % to {up_by['most_pct']} %, the median {up_by['median_pct']} %"
    said = (
        f"{counts['up']} would go up ({by}) and {counts['down']} down, {counts['unchanged']} stay"
    )
    expect(look.page.locator("#tried")).to_contain_text(said)
    expect(look.page.locator("#tried")).not_to_contain_text("Not all of that")
    expect(look.page.get_by_label("List price")).to_have_value("31.00")
    assert desk.ask("GET", "/v1/revisions")["items"][0]["rates_revision"] == before


def saves(look: Looking, desk: Served, before: int) -> None:
    look.page.get_by_role("button", name="Save").click()
    expect(look.page.locator("#saved")).to_contain_text(f"Revision {before + 1}")
    made = desk.ask("GET", f"/v1/revisions/{before + 1}")
    assert (made["made_by"], made["effective_from"]) == ("maker", FROM)
    assert made["note"] == "the supplier's page"
    newest = look.page.locator("ol.past li").first
    expect(newest).to_contain_text("by maker")
    expect(newest).to_contain_text("offer, list price 27.40 → 31.00")


def reprices(look: Looking, desk: Served) -> str:
    look.page.get_by_role("link", name="Reprice what is listed").click()
    expect(look.page.get_by_label("Rates of the day")).to_have_value(FROM)
    look.page.get_by_role("button", name="Reprice").click()
    look.page.wait_for_url("**/desk/repricings/*")
    name = look.page.url.rsplit("/", 1)[1]
    desk.finished(name)
    expect(look.page.get_by_role("button", name="Apply these prices")).to_be_visible()
    return name


def reads(look: Looking, desk: Served, name: str) -> None:
    """What stands in the report is what the contract tells, in its order and to the letter."""
    lines = desk.ask("GET", f"/v1/repricings/{name}/lines", params={"limit": 1000})["items"]
    rows = look.page.locator("table.report > tbody > tr:not(.under)")
    assert rows.locator("> th").all_inner_texts() == [line["sku"] for line in lines]
    shown = rows.evaluate_all(
        "rows => rows.map(row =>"
        " [...row.querySelectorAll(':scope > td.number data')].map(e => e.value))"
    )
    for cells, line in zip(shown, lines, strict=True):
        told = {each["unit_price"]: each.get("old_unit_price") for each in line["breaks"]}
        change, old, new, least = cells
        assert change == line["change_pct"]
        assert told[new] == old
        assert least in {each["least_margin_pct"] for each in line["breaks"]}
    expect(look.page.get_by_text("Asked by maker")).to_be_visible()


def leaves_out(look: Looking) -> None:
    """What is ticked stays ticked, whatever is looked at."""
    for sku in LEFT_OUT:
        look.page.get_by_label(f"leave {sku} out").check()
    look.page.get_by_label("Channel").select_option("own-shop")
    look.page.get_by_role("button", name="Show these").click()
    expect(look.page.get_by_text("2 ticked listings are not among those shown")).to_be_visible()
    look.page.get_by_label("Channel").select_option("")
    look.page.get_by_label("only under their floor").check()
    look.page.get_by_role("button", name="Show these").click()
    for sku in LEFT_OUT:
        expect(look.page.get_by_label(f"leave {sku} out")).to_be_checked()


def applies(look: Looking, desk: Served, name: str) -> None:
    counts = desk.ask("GET", f"/v1/repricings/{name}")["counts"]
    look.page.get_by_role("button", name="Apply these prices").click()
    applied = counts["up"] + counts["down"] + counts["new"]
    expect(look.page.locator("#result")).to_contain_text("2 left out, 0 failed")
    run = desk.ask("GET", f"/v1/repricings/{name}")
    assert (run["state"], run["applied_by"]) == ("applied", "maker")
    expect(look.page.get_by_text("Applied by maker")).to_be_visible()
    expect(look.page.get_by_role("button", name="Apply these prices")).to_have_count(0)
    planned = {
        sku: [each["valid_from"] for each in desk.ask("GET", f"/v1/listings/{sku}")["planned"]]
        for sku in (*LEFT_OUT, "HP-W")
    }
    assert planned == {**{sku: [] for sku in LEFT_OUT}, "HP-W": [FROM]}
    assert applied > len(LEFT_OUT)


def test_a_price_that_moves_much_is_confirmed_in_its_line(browser: Browser, desk: Served) -> None:
    with at_desk(browser, desk) as look:
        look.go("/desk/repricings")
        look.page.get_by_label("Discount").fill("10")
        look.page.get_by_label("Which listings").select_option("all")
        look.page.get_by_role("button", name="Reprice").click()
        look.page.wait_for_url("**/desk/repricings/*")
        name = look.page.url.rsplit("/", 1)[1]
        desk.finished(name)
        look.page.get_by_label("Ask me beyond").fill("9")
        look.page.get_by_role("button", name="Apply these prices").click()
        expect(look.page.get_by_role("alert")).to_contain_text("A price would move by much.")
        assert desk.ask("GET", f"/v1/repricings/{name}")["state"] == "finished"
        asked = look.page.get_by_label("confirm this large move")
        assert asked.count() > 0
        asked.evaluate_all("all => all.forEach(e => e.click())")
        look.page.get_by_label("Note: why").fill("a sale")
        look.page.get_by_role("button", name="Apply these prices").click()
        expect(look.page.locator("#result")).to_contain_text("0 left out, 0 failed")
        expect(look.page.get_by_text("10 % off")).to_be_visible()


def test_two_tabs_on_the_same_rate_lose_nothing(browser: Browser, desk: Served) -> None:
    with at_desk(browser, desk) as look:
        look.go("/desk/rates/materials/pla-chalk")
        second = look.page.context.new_page()
        second.goto(look.page.url)
        look.page.get_by_label("Price per kg").fill("24.90")
        look.page.get_by_role("button", name="Save").click()
        expect(look.page.locator("#saved")).to_contain_text("It is saved.")
        second.get_by_label("Price per kg").fill("23.50")
        second.get_by_label("Note: why").fill("a better offer")
        second.get_by_role("button", name="Save", exact=True).click()
        told = second.get_by_role("alert")
        expect(told).to_contain_text("Somebody changed it since you opened it.")
        expect(told).to_contain_text("by maker")
        expect(told.locator("tbody tr")).to_have_text("price per kg24.9023.50")
        expect(second.get_by_label("Price per kg")).to_have_value("23.50")
        expect(second.get_by_label("Note: why")).to_have_value("a better offer")
        now = desk.ask("GET", "/v1/rates/materials/pla-chalk")["value"]["price_per_kg"]
        assert now == "24.90"
        second.get_by_role("button", name="Save mine over it").click()
        expect(second.locator("#saved")).to_contain_text("It is saved.")
        told_now = desk.ask("GET", "/v1/rates/materials/pla-chalk")
        assert told_now["value"]["price_per_kg"] == "23.50"


def test_a_faulty_rate_is_told_at_its_field(browser: Browser, desk: Served) -> None:
    with at_desk(browser, desk) as look:
        look.go("/desk/rates/machines/large")
        look.page.get_by_label("Power").fill("1.500")
        look.page.get_by_role("button", name="Save").click()
        asked = look.page.get_by_label("Power").evaluate("field => field.validationMessage")
        assert asked == "1.500 may be 1.5 or 1500: write the one that you mean"
        look.page.get_by_label("Power").fill("3O0")
        look.page.get_by_role("button", name="Save").click()
        field = look.page.get_by_label("Power")
        expect(field).to_have_attribute("aria-invalid", "true")
        expect(field).to_have_value("3O0")
        described = str(field.get_attribute("aria-describedby")).split()
        said = [look.page.locator(f"#{each}").text_content() for each in described]
        assert said[-1] == "must be a plain decimal number such as 12.50, not '3O0'"
        look.page.get_by_role("link", name="power").click()
        expect(field).to_be_focused()


def test_rows_are_added_and_taken_away_without_a_script(browser: Browser, desk: Served) -> None:
    with at_desk(browser, desk, java_script_enabled=False) as look:
        look.go("/desk/rates/materials/petg-clear")
        tiers = look.page.get_by_label("from packs", exact=True)
        expect(tiers).to_have_count(2)
        look.page.get_by_role("button", name="Add tier").click()
        expect(tiers).to_have_count(3)
        tiers.nth(2).fill("20")
        look.page.get_by_label("Discount").nth(2).fill("12")
        look.page.get_by_role("button", name="Remove tier 1").click()
        look.page.get_by_role("button", name="Save").click()
        expect(look.page.locator("#saved")).to_contain_text("It is saved.")
        offer = desk.ask("GET", "/v1/rates/materials/petg-clear")["value"]["offer"]
        assert offer["tiers"] == [
            {"from_packs": 10, "discount_pct": "10"}, {"from_packs": 20, "discount_pct": "12"}
        ]  # fmt: skip
