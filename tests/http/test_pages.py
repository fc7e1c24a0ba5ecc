"""What pages tell the browser beside what they show, and what they are when the door is closed."""

import json
import re
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest

from gramhour_service.http.problem_types import PROBLEMS
from gramhour_service.http.settings import Settings
from gramhour_service.pages.assets import address, assets
from gramhour_service.seals.turning import rename
from gramhour_service.store.opening import open_store
from tests.cube import CUBE
from tests.http.asking import RATES, change, newest, value_of
from tests.http.door import BOUND, Door, opened, problem_of, problem_type
from tests.http.offering import LISTINGS, put_entry, take_away
from tests.http.repriced import all_priced, rows_listed

HTML = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
WISH = {"sku": "HP-W", "quantity": "12"}


@pytest.fixture
def public(tmp_path: Path) -> Iterator[Door]:
    path = all_priced(tmp_path / "gramhour.sqlite")
    with opened(Settings(store=path, public_quotes=True)) as door:
        yield door


@pytest.mark.parametrize("path", ["/", "/quotation", "/own-part"])
def test_a_closed_shop_says_so_and_where_to_go(shop: Door, path: str) -> None:
    for key in (None, "cost"):
        answer = shop.ask("GET", path, key, params=WISH, headers=HTML)
        assert answer.status_code == 200
        assert "Prices need a key here" in answer.text
        assert 'href="/desk"' in answer.text
        assert "money" not in answer.text


def test_a_page_runs_and_loads_nothing_but_its_own_files(public: Door) -> None:
    for path in ("/", "/quotation", "/own-part", "/assets/x/none.css", address("style.css")):
        answer = public.ask("GET", path, params=WISH, headers=HTML)
        assert answer.headers["content-security-policy"] == POLICY
        assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_key_opens_nothing_on_a_page_for_customers(public: Door) -> None:
    told = [public.ask("GET", "/", key, params=WISH).text for key in (None, "cost", "expired")]
    assert '<data class="money"' in told[0]
    assert told[1:] == [told[0]] * 2


@pytest.mark.parametrize("path", ["/", "/quotation"])
def test_every_figure_is_the_contracts_own(public: Door, path: str) -> None:
    asked = {"sku": "HP-W", "quantity": 12}
    quote = public.ask("POST", "/v1/quotes", json=asked).json()
    at, page = quote["at_quantity"], public.ask("GET", path, params=WISH).text
    bill = [at[f"order_{name}"] for name in ("goods", "postage", "gross", "tax")]
    table = page[page.index("What you pay for" if path == "/" else ">Amount<") :]
    shown = re.findall(r'<td class="number"><data class="money" value="([^"]*)"', table)
    assert shown == bill
    known = {*re.findall(r'"(\d+\.\d+)"', json.dumps(quote))}
    assert {*re.findall(r'(?:data-)?value="(\d+\.\d+)"', page)} <= known
    assert f'<time datetime="{quote["valid_until"][:16]}' in page
    assert f'<time datetime="{quote["lead_time"]["ready_on"]}' in page
    assert page.count('<tr class="asked"><th scope="row" class="number">') == (path == "/")
    for caution in quote["cautions"]:
        assert caution["says"] in page.replace("&#39;", "'")


def test_a_page_that_is_the_same_is_not_sent_again(public: Door) -> None:
    answer = public.ask("GET", "/", params=WISH)
    assert answer.headers["cache-control"] == "private, no-cache"
    known = {"If-None-Match": answer.headers["etag"]}
    assert public.ask("GET", "/", params=WISH, headers=known).status_code == 304
    other = {**WISH, "quantity": "13"}
    assert public.ask("GET", "/", params=other, headers=known).status_code == 200


@pytest.mark.parametrize("name", assets())
def test_a_file_is_kept_for_ever_under_the_address_of_its_content(shop: Door, name: str) -> None:
    answer = shop.ask("GET", address(name))
    assert answer.content == assets()[name].content
    assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
    known = {"If-None-Match": answer.headers["etag"]}
    assert shop.ask("GET", address(name), headers=known).status_code == 304
    of_old = shop.ask("GET", f"/assets/0123456789abcdef/{name}")
    assert (of_old.content, of_old.headers["cache-control"]) == (answer.content, "no-cache")


def test_a_refusal_is_a_page_to_who_reads_pages_and_a_problem_to_others(public: Door) -> None:
    for accept in ("text/html", "text/html;q=0.9, application/json;q=0.8"):
        answer = public.ask("GET", "/assets/x/none.css", headers={"Accept": accept})
        assert answer.status_code == 404
        assert answer.headers["content-type"] == "text/html; charset=utf-8"
    for headers in ({"Accept": "application/json"}, {"Accept": "*/*"}):
        answer = public.ask("GET", "/assets/x/none.css", headers=headers)
        assert (answer.status_code, problem_type(answer)) == (404, "no-such-path")


def test_a_page_counts_as_a_caller_without_a_key(own_path: Path) -> None:
    with opened(Settings(store=own_path, public_quotes=True, quotes_a_minute=2)) as door:
        answers = [door.ask("GET", "/", params=WISH) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [404, 404, 429]
    assert int(answers[2].headers["retry-after"]) > 0


@pytest.mark.parametrize(
    ("wish", "field"),
    [
        ({"quantity": "12"}, "sku"),
        ({"sku": "HP-W"}, "quantity"),
        ({"sku": "HP-W", "quantity": "1e3"}, "quantity"),
        ({"sku": "HP-W", "quantity": "-1"}, "quantity"),
        ({"sku": "nothing", "quantity": "1"}, "sku"),
        ({"sku": "HP-W", "quantity": "1", "by": "tomorrow"}, "by"),
    ],
)
def test_a_wish_with_a_fault_is_told_at_its_field(
    public: Door, wish: dict[str, str], field: str
) -> None:
    answer = public.ask("GET", "/quotation", params=wish, headers=HTML)
    assert answer.status_code in (404, 422)
    assert answer.text.count('class="fault"') == 1
    assert f'id="{field}-fault"' in answer.text
    assert 'id="price"' not in answer.text


def test_a_day_that_has_passed_is_not_taken_as_meant(public: Door) -> None:
    told = public.ask("GET", "/", params={**WISH, "by": "2020-01-01"}).text
    assert "<strong>That day has passed:</strong> you need it by" in told
    assert "Not in time" not in told


def test_a_quotation_names_its_seller_the_product_and_where_it_was_given(
    public: Door, tmp_path: Path
) -> None:
    told = public.ask("GET", "/quotation", params=WISH).text
    assert "<dt>Given at</dt><dd>http://127.0.0.1:8750</dd>" in told
    assert "<dt>Seller</dt>" not in told  # a name made at random tells people nothing
    assert '<p class="mark">Gramhour</p>' in told
    assert '<span class="aside">HP-W</span>' in told
    with closing(open_store(tmp_path / "gramhour.sqlite")) as store:
        rename(store, "https://workshop.example")
    told = public.ask("GET", "/quotation", params=WISH).text
    assert "<dt>Seller</dt><dd>https://workshop.example</dd>" in told
    for path in ("/", "/quotation"):  # and its pages are headed by it
        assert '<p class="mark">workshop.example</p>' in public.ask("GET", path, params=WISH).text


def test_a_host_that_cannot_be_is_no_fault_of_the_service(public: Door) -> None:
    for host in ("shop.example:port", "shop.example:99999", "[::1"):
        headers = {"Host": host, "Idempotency-Key": "once"}
        for method, path, status in (
            ("GET", "/quotation", 200),
            ("GET", "/desk?\xff", 303),
            ("POST", "/v1/rate-changes", 415),
        ):
            answer = public.ask(method, path, "rates", headers=headers)
            assert (host, path, answer.status_code) == (host, path, status)


@pytest.mark.parametrize("host", ["a b", "shop.example/prices", "<b>", "kr\xe4mer.example"])
def test_a_host_of_other_signs_is_named_as_the_fault(public: Door, host: str) -> None:
    for method, path in (("GET", "/quotation"), ("POST", "/v1/quotes")):
        answer = public.ask(method, path, headers={"Host": host.encode("latin-1")})
        kind, faults = problem_of(answer)
        assert (answer.status_code, kind) == (400, "malformed-host")
        assert faults == [{"detail": PROBLEMS["malformed-host"].says}]


def test_a_quotation_for_who_names_no_host_names_where_the_service_listens(public: Door) -> None:
    request = httpx.Request("GET", f"http://{BOUND}/quotation", params=WISH)
    del request.headers["Host"]
    assert f"<dt>Given at</dt><dd>http://{BOUND}</dd>" in public.send(request).text


def test_a_shop_without_listed_prices_says_so(own_path: Path) -> None:
    with opened(Settings(store=own_path, public_quotes=True)) as door:
        told = door.ask("GET", "/").text
    assert "Nothing is for sale here yet; a part of your own can be priced." in told
    assert "<form" not in told


def test_what_changes_is_on_the_next_page(public: Door) -> None:
    assert public.ask("GET", "/").text.count("Herb planter, herb green") == 2  # chosen, and listed
    listing = {**rows_listed(public)["HP-W"], "name": "Planter for sage"}
    seen = {"If-Match": '"v1"'}
    assert put_entry(public, f"{LISTINGS}/HP-W", listing, seen).status_code == 200
    told = public.ask("GET", "/").text
    assert (told.count("Planter for sage"), told.count("Herb planter, herb green")) == (2, 0)
    assert take_away(public, f"{LISTINGS}/HP-W", {"If-Match": '"v2"'}).status_code == 204
    told = public.ask("GET", "/", params=WISH).text
    assert "Planter for sage" not in told
    assert "Nothing is for sale under this. Choose another product." in told


def test_a_minimum_order_and_a_multiple_stand_beside_the_first_price(public: Door) -> None:
    orders = {"minimum_order": "60", "multiple_of": 6}
    channel = {**value_of(public, f"{RATES}/channels/own-shop"), **orders}
    sent = {"kind": "channels", "code": "own-shop", "value": channel}
    assert change(public, sent, based_on=newest(public)).status_code == 201
    told = public.ask("GET", "/").text
    assert re.search(r'<br><span class="aside">in orders of <data [^>]*value="60\.00"', told)
    assert re.search(r'<br><span class="aside">in multiples of <data [^>]*>6</data></span>', told)


def test_what_somebody_writes_stays_text(public: Door) -> None:
    evil = '"><script>alert(1)</script>'
    answer = public.ask("GET", "/", params={"sku": evil, "quantity": evil, "by": evil})
    assert "<script>alert" not in answer.text


def test_files_at_the_page_are_counted_whatever_is_in_them(own_path: Path) -> None:
    settings = Settings(store=own_path, public_quotes=True, quotes_a_minute=1)
    sent: dict[str, Any] = {
        "data": {"quantity": "2"},
        "files": {"file": ("part.txt", bytes(200_000))},
    }
    with opened(settings) as door:
        told = [door.ask("POST", "/own-part", **sent) for _ in range(2)]
        assert [answer.status_code for answer in told] == [422, 429]
        assert "You asked very often. Wait a minute, then ask again." in told[1].text
        assert (
            door.ask("POST", "/v1/quotes", json={"sku": "HP-W", "quantity": 1}).status_code == 429
        )


def test_what_is_wrong_with_a_part_is_told_in_plain_words(public: Door) -> None:
    open_cube = CUBE[:80] + (10).to_bytes(4, "little") + CUBE[84 : 84 + 10 * 50]
    wish = {"quantity": "2", "made": "own-parts:pla-chalk"}
    file = {"file": ("box.stl", open_cube)}
    told = public.ask("POST", "/own-part", data=wish, files=file).text
    assert re.search(r"It measures <data[^>]*>20</data>", told)
    says = "The surface is open along 4 edges, so it holds no volume; repair the mesh and export"
    assert f'<p class="care">{says} it again.</p>' in told
    assert told.count('id="file-fault"') == 1
