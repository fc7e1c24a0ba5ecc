"""The quote bench: what it shows is what the contract answers, to the letter."""

import json
import subprocess
from decimal import Decimal

import httpx
from playwright.sync_api import Browser, Dialog, expect

from tests.http.door import secret
from tests.pages.at_desk import Served, at_desk, figures

LINES = (
    *("feedstock", "components", "machine", "energy", "nozzle_wear", "labour", "scrap"),
    *("rejects", "packaging", "design"),
    *("material_overhead", "production_overhead", "admin_overhead"),
)
FEES = ("channel", "payment", "fixed", "postage", "design_share")


def asked_of(desk: Served, sku: str, quantity: int) -> dict[str, object]:
    """Ask the contract for what the bench shows of a listing: its product, described."""
    listing = desk.ask("GET", f"/v1/listings/{sku}")["listing"]
    entry = desk.ask("GET", f"/v1/products/{listing['product']}")["entry"]
    kept = {name: listing[name] for name in ("channel", "aim", "breaks") if name in listing}
    return {"product": entry["product"], "quantity": quantity, **kept}


def test_every_figure_is_the_answers_own_and_the_lines_add_up(
    browser: Browser, desk: Served
) -> None:
    quote = desk.ask("POST", "/v1/quotes", json=asked_of(desk, "HP-W", 12))
    columns = [quote["at_quantity"], *(b for b in quote["breaks"] if b["quantity"] != 12)]
    with at_desk(browser, desk) as look:
        look.go("/desk/bench?load=HP-W")
        look.page.get_by_label("Quantity").fill("12")
        expect(look.page.locator("#result .outcome data")).to_have_attribute(
            "value", quote["at_quantity"]["unit_price"]
        )
        assert figures(look.page, "#result .tiles") == [
            quote["at_quantity"][name]
            for name in ("unit_cost", "profit", "margin_pct", "contribution_per_machine_hour",
                         "contribution_per_labour_hour")
        ]  # fmt: skip
        for name, told in (
            *((f"cost.{line}", [c["cost"][line] for c in columns]) for line in (*LINES, "total")),
            *((f"fees.{fee}", [c["fees"][fee] for c in columns]) for fee in (*FEES, "total")),
            *((name, [c[name] for c in columns])
              for name in ("profit", "order_net", "order_tax", "order_gross")),
        ):  # fmt: skip
            assert figures(look.page, f'tr[data-figure="{name}"]') == told
        shown = {
            figure: figures(look.page, f'tr[data-figure="{figure}"]')[0]
            for figure in ("cost.total", "fees.total", "profit", "order_net", "order_tax",
                           "order_gross", *(f"cost.{line}" for line in LINES))
        }  # fmt: skip
        amount = {name: Decimal(value) for name, value in shown.items()}
        assert sum(amount[f"cost.{line}"] for line in LINES) == amount["cost.total"]
        costs = amount["cost.total"] + amount["fees.total"]
        assert costs + amount["profit"] == amount["order_net"]
        assert amount["order_net"] + amount["order_tax"] == amount["order_gross"]


def test_a_line_opens_to_its_rule_and_its_numbers_and_stays_open(
    browser: Browser, desk: Served
) -> None:
    quote = desk.ask(
        "POST", "/v1/quotes", params={"explain": "true"}, json=asked_of(desk, "HP-W", 3)
    )
    told = {each["figure"]: each for each in quote["at_quantity"]["explain"]}["cost.energy"]
    with at_desk(browser, desk) as look:
        look.go("/desk/bench?load=HP-W")
        reason = look.page.locator("#why-cost-energy")
        expect(reason).to_be_hidden()
        line = look.page.get_by_role("button", name="energy")
        line.click()
        expect(line).to_have_attribute("aria-expanded", "true")
        look.page.get_by_label("Quantity").fill("3")
        expect(reason.locator("data")).to_have_attribute("value", told["value"])
        expect(reason).to_be_visible()
        expect(reason).to_contain_text(told["rule"])
        expect(reason.locator(".working code")).to_have_text(told["reads"])
        reason.get_by_role("link", name="piece 1, printing time").click()
        expect(look.page.locator("#at-product-pieces-0-print-min")).to_be_focused()


def test_without_scripts_the_button_quotes_and_reasons_stand_open(
    browser: Browser, desk: Served
) -> None:
    quote = desk.ask("POST", "/v1/quotes", json=asked_of(desk, "CR-W", 7))
    with at_desk(browser, desk, java_script_enabled=False) as look:
        look.go("/desk/bench?load=CR-W")
        look.page.get_by_label("Quantity").fill("7")
        look.page.get_by_role("button", name="Quote", exact=True).click()
        price = quote["at_quantity"]["unit_price"]
        expect(look.page.locator("#result .loud")).to_have_text(f"{price}\xa0EUR")
        expect(look.page.locator("#why-cost-feedstock")).to_be_visible()


def test_a_fault_is_told_while_one_types_and_at_its_field(browser: Browser, desk: Served) -> None:
    with at_desk(browser, desk) as look:
        look.go("/desk/bench?load=herb-planter")
        field = look.page.locator("#at-product-pieces-0-print-min")
        field.fill("1,234")
        fault = look.page.get_by_role("alert")
        expect(fault).to_contain_text(
            "may be 1.234 or 1234: write the one that you mean, not '1,234'"
        )
        expect(field).to_have_attribute("aria-invalid", "true")
        expect(field).to_be_focused()
        field.fill("12,5")
        expect(fault).to_have_count(0)
        assert field.get_attribute("aria-invalid") is None
        asked: list[str] = []

        def stay(dialog: Dialog) -> None:
            asked.append(dialog.type)
            dialog.dismiss()

        look.page.once("dialog", stay)
        look.page.get_by_role("link", name="Rates").click()
        expect(field).to_have_value("12,5")
        assert asked == ["beforeunload"]


def test_what_is_taken_along_gives_the_same_and_never_the_key(
    browser: Browser, desk: Served
) -> None:
    with at_desk(browser, desk) as look:
        look.go("/desk/bench?load=HP-W")
        price = figures(look.page, "#result .outcome")[0]
        look.page.get_by_text("As JSON").click()
        sent = json.loads(look.page.get_by_label("The request", exact=True).input_value())
        assert desk.ask("POST", "/v1/quotes", json=sent)["at_quantity"]["unit_price"] == price
        line = look.page.locator("#as-curl").input_value()
        assert secret("maker") not in look.page.content()
        run = subprocess.run(
            ["bash", "-c", line], env={"GRAMHOUR_KEY": secret("maker"), "PATH": "/usr/bin:/bin"},
            capture_output=True, check=True, timeout=60,
        )  # fmt: skip
        assert json.loads(run.stdout)["at_quantity"]["unit_price"] == price
        look.page.context.grant_permissions(["clipboard-read", "clipboard-write"])
        look.page.get_by_role("button", name="Copy").first.click()
        copied = look.page.evaluate("navigator.clipboard.readText()")
        assert json.loads(copied) == sent


def test_a_product_is_saved_as_it_was_seen_or_not_at_all(browser: Browser, desk: Served) -> None:
    with at_desk(browser, desk) as look:
        look.go("/desk/bench?load=spinning-top")
        look.page.get_by_label("Product code").fill("spinning-top-large")
        look.page.locator("#at-product-name").fill("Spinning top, large")
        look.page.get_by_role("button", name="Save the product").click()
        expect(look.page.locator("#kept")).to_contain_text("Product spinning-top-large is saved.")
        saved = desk.ask("GET", "/v1/products/spinning-top-large")
        assert (saved["entry"]["product"]["name"], saved["version"]) == ("Spinning top, large", 1)
        headers = {"Authorization": f"Bearer {secret('maker')}", "If-Match": '"v1"'}
        changed = {**saved["entry"], "note": "by somebody else"}
        path = f"{desk.at}/v1/products/spinning-top-large"
        assert httpx.put(path, json=changed, headers=headers).status_code == 200
        look.page.locator("#at-product-name").fill("Spinning top, very large")
        look.page.get_by_role("button", name="Save the product").click()
        told = look.page.locator("#kept")
        expect(told).to_contain_text("It has changed meanwhile.")
        expect(look.page.locator("#at-product-name")).to_have_value("Spinning top, very large")
        now = desk.ask("GET", "/v1/products/spinning-top-large")["entry"]
        assert (now["note"], now["product"]["name"]) == ("by somebody else", "Spinning top, large")


def test_a_listing_is_saved_with_its_aim_and_all_else_that_it_had(
    browser: Browser, desk: Served
) -> None:
    before = desk.ask("GET", "/v1/listings/BB-green-T")["listing"]
    with at_desk(browser, desk) as look:
        look.go("/desk/bench?load=BB-green-T")
        expect(look.page.locator("#at-product-pieces-0-feed-0-material")).to_have_value("asa-green")
        expect(look.page.get_by_label("Variant")).to_have_value(before.get("variant", ""))
        look.page.get_by_label("margin", exact=True).fill("")
        look.page.get_by_label("Markup").fill("85")
        look.page.get_by_role("button", name="Save the listing").click()
        expect(look.page.locator("#kept")).to_contain_text("Listing BB-green-T is saved")
    after = desk.ask("GET", "/v1/listings/BB-green-T")["listing"]
    assert after == {**before, "aim": {"markup_pct": "85"}}


def test_a_key_that_only_sees_costs_is_not_offered_to_save(browser: Browser, desk: Served) -> None:
    with at_desk(browser, desk, "cost") as look:
        look.go("/desk/bench?load=HP-W")
        expect(look.page.get_by_text("Saving needs a key with scope listings.")).to_be_visible()
        expect(look.page.get_by_role("button", name="Save the product")).to_have_count(0)


def test_ways_are_compared_as_the_contract_compares_them(browser: Browser, desk: Served) -> None:
    with at_desk(browser, desk) as look:
        look.go("/desk/compare?load=balcony-hook")
        look.page.locator("#at-alternatives-1-label").fill("0.8 mm")
        look.page.locator("#at-alternatives-1-pieces-0-nozzle").select_option("n08")
        look.page.get_by_label("Up to").fill("30")
        look.page.get_by_label("Quantities").fill("1, 10, 30")
        look.page.get_by_role("button", name="Compare").click()
        rows = look.page.locator("#result table.sortable").first.locator("tbody tr")
        expect(rows).to_have_count(6)
        product = desk.ask("GET", "/v1/products/balcony-hook")["entry"]["product"]
        told = desk.ask(
            "POST", "/v1/comparisons",
            json={
                "product": product, "channel": look.page.get_by_label("Channel").input_value(),
                "quantities": [1, 10, 30], "up_to": 30,
                "alternatives": [{"label": "as described"},
                                 {"label": "0.8 mm", "pieces": [{"nozzle": "n08"}]}],
            },
        )  # fmt: skip
        by = {(a["label"], at["quantity"]): at for a in told["alternatives"] for at in a["at"]}
        for row, ranking, place in zip(
            rows.all(), [r for r in told["rankings"] for _ in r["alternatives"]], [0, 1] * 3,
            strict=True,
        ):  # fmt: skip
            at = by[ranking["alternatives"][place]["label"], ranking["quantity"]]
            shown = row.locator("data").evaluate_all("all => all.map(e => e.value)")
            assert shown[:3] == [at["unit_cost"], at["unit_price"], at["margin_pct"]]
        said = look.page.get_by_role("img").get_attribute("aria-label") or ""
        for each in told["intervals"]:
            assert f"{each['label']} from {each['from_quantity']} to {each['to_quantity']}" in said
