"""Who may sit at the desk, for how long, and that nobody else can use their cookie."""

import re
from contextlib import closing
from pathlib import Path

import pytest

from gramhour_service.http.settings import Settings
from gramhour_service.store.keys import add_key, revoke_key
from gramhour_service.store.opening import open_store
from tests.desk.at_desk import OURS, AtDesk, Seen, main_of, routes, sign_in, signed_in, word_of
from tests.desk.conftest import Clock
from tests.http.door import BOUND, NOW, Door, opened, problem_type, secret


def test_a_key_that_sees_costs_opens_the_desk(door: Door) -> None:
    for name in ("cost", "rates", "listings"):
        answer = sign_in(door, secret(name), then="/desk/bench?load=HP-W")
        assert (answer.status_code, answer.headers["location"]) == (303, "/desk/bench?load=HP-W")
        assert AtDesk(door, word_of(answer)).get("/desk").status_code == 200


def test_the_cookie_goes_to_the_desk_only_and_no_script_and_no_other_site_has_it(
    door: Door,
) -> None:
    told = sign_in(door, secret("cost")).headers["set-cookie"]
    _, *attributes = told.split("; ")
    assert sorted(attributes) == ["HttpOnly", "Path=/desk", "SameSite=strict"]


def test_over_https_the_cookie_is_sent_over_https_only(door: Door) -> None:
    answer = door.ask(
        "POST",
        f"https://{BOUND}/desk/sign-in",
        content=f"key={secret('cost')}",
        headers={
            "Content-Type": "application/x-www-form-urlencoded",
            "Origin": f"https://{BOUND}",
        },
    )
    assert "Secure" in answer.headers["set-cookie"].split("; ")


def test_the_store_keeps_neither_the_cookie_nor_the_key(door: Door, store: Path) -> None:
    word = word_of(sign_in(door, secret("cost")))
    kept = b"".join(path.read_bytes() for path in store.parent.glob(f"{store.name}*"))
    assert word.encode() not in kept
    assert secret("cost").encode() not in kept


@pytest.mark.parametrize(
    ("key", "says"),
    [
        ("no-such-key", "This key is unknown, expired or revoked."),
        ("", "This key is unknown, expired or revoked."),
        ("x" * 1000, "This key is unknown, expired or revoked."),
        (secret("expired"), "This key is unknown, expired or revoked."),
        (secret("revoked"), "This key is unknown, expired or revoked."),
        (secret("price"), "This key sees no costs, so it does not open the desk."),
        (secret("bound"), "This key sees no costs, so it does not open the desk."),
        (secret("operate"), "This key sees no costs, so it does not open the desk."),
    ],
    ids=["unknown", "none", "endless", "expired", "revoked", "price", "bound", "operate"],
)
def test_any_other_key_is_refused_at_its_field(door: Door, key: str, says: str) -> None:
    answer = sign_in(door, key, then="/desk/rates")
    assert answer.status_code == 401
    assert "set-cookie" not in answer.headers
    assert says in main_of(answer)
    assert 'aria-invalid="true"' in answer.text
    assert Seen(answer.text).fields["then"] == ["/desk/rates"]
    assert Seen(answer.text).fields["key"] == [""]


@pytest.mark.parametrize("path", routes("GET"))
def test_who_is_not_signed_in_is_led_to_signing_in_and_back(door: Door, path: str) -> None:
    answer = door.ask("GET", path)
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/desk/sign-in?next={path.replace('/', '%2F')}"
    assert answer.content == b""


@pytest.mark.parametrize("path", routes("POST"))
def test_what_was_typed_without_a_sign_in_does_nothing_and_is_kept(door: Door, path: str) -> None:
    answer = AtDesk(door, "nobody").post(path, {"note": "<typed>", "form-token": "x"})
    assert answer.status_code == 401
    assert answer.text.count("&lt;typed&gt;") == 1
    assert Seen(answer.text).fields["kept:note"] == ["<typed>"]
    assert "kept:form-token" not in Seen(answer.text).fields


def test_after_signing_in_again_what_was_typed_can_be_sent(door: Door, clock: Clock) -> None:
    before = signed_in(door, "rates")
    place = "/desk/rates/materials/pla-chalk"
    typed = {
        **Seen(before.get(place).text).fields,
        "/value/price_per_kg": ["20.50"],
        "do": ["save"],
    }
    clock.turn(hours=12)
    asked = before.post(place, typed)
    assert asked.status_code == 401
    handed = Seen(asked.text).fields
    kept = {name: value for name, value in handed.items() if name.startswith("kept:")}
    answer = AtDesk(door, "").post("/desk/sign-in", {**kept, "key": secret("rates"), "then": place})
    now = AtDesk(door, word_of(answer))
    again = Seen(answer.text).fields
    assert again["form-token"] == [now.token()]
    assert "Revision 2" in main_of(now.post(place, again))
    told = door.ask("GET", "/v1/rates/materials/pla-chalk", "cost").json()
    assert told["value"]["price_per_kg"] == "20.50"


def test_a_sign_in_ends_after_half_a_day(door: Door, clock: Clock) -> None:
    desk = signed_in(door, "cost")
    clock.turn(hours=11, minutes=59, seconds=59)
    assert desk.get("/desk").status_code == 200
    clock.turn(seconds=1)
    answer = desk.get("/desk/rates")
    assert answer.headers["location"] == "/desk/sign-in?next=%2Fdesk%2Frates&ended=true"
    assert "Your sign-in has ended. Sign in again." in main_of(
        door.ask("GET", answer.headers["location"])
    )


def test_it_ends_with_its_key_if_that_is_sooner(door: Door, clock: Clock, store: Path) -> None:
    with closing(open_store(store)) as writing:
        clock.turn(hours=1)
        over = clock.now.replace(hour=13)
        add_key(writing, "short", secret("short"), ["cost"], now=NOW, expires_at=over)
    desk = signed_in(door, "short")
    assert desk.get("/desk").status_code == 200
    clock.turn(hours=3)
    assert desk.get("/desk").status_code == 303


def test_revoking_the_key_ends_its_sign_ins_at_once(door: Door, store: Path) -> None:
    desk, other = signed_in(door, "rates"), signed_in(door, "cost")
    with closing(open_store(store)) as writing:
        revoke_key(writing, "rates", now=NOW)
    assert desk.get("/desk").status_code == 303
    assert desk.post("/desk/bench", {}).status_code == 401
    assert other.get("/desk").status_code == 200


def test_signing_out_ends_it_in_the_store_not_only_in_the_browser(door: Door) -> None:
    desk, other = signed_in(door, "cost"), signed_in(door, "cost")
    answer = desk.post("/desk/sign-out", {"form-token": desk.token()})
    assert (answer.status_code, answer.headers["location"]) == (303, "/desk/sign-in")
    assert re.match(r'gramhour-desk=(""|);', answer.headers["set-cookie"])
    assert "Max-Age=0" in answer.headers["set-cookie"]
    assert desk.get("/desk").status_code == 303
    assert other.get("/desk").status_code == 200


def test_signing_in_anew_ends_what_the_browser_had(door: Door) -> None:
    before = signed_in(door, "cost")
    answer = before.post("/desk/sign-in", {"key": secret("rates")})
    assert AtDesk(door, word_of(answer)).get("/desk").status_code == 200
    assert before.get("/desk").status_code == 303


def test_who_tries_many_keys_at_the_desk_is_told_to_wait_and_a_good_key_opens_it(
    store: Path,
) -> None:
    with opened(Settings(store=store, wrong_keys_a_minute=2)) as door:
        answers = [sign_in(door, f"no-such-key-{n}").status_code for n in range(3)]
        assert answers == [401, 401, 429]
        assert door.ask("GET", "/v1/rates", "nobody").status_code == 429
        assert sign_in(door, secret("cost")).status_code == 303


@pytest.mark.parametrize(
    "place",
    ["https://example.org/desk", "//example.org", "/docs", "/desk/../docs", "/desk\\@example.org",
     "/desk/sign-in#x", "/deskx", "/desk?a=b c"],
)  # fmt: skip
def test_signing_in_leads_to_the_desk_and_nowhere_else(door: Door, place: str) -> None:
    assert sign_in(door, secret("cost"), then=place).headers["location"] == "/desk"
    shown = door.ask("GET", "/desk/sign-in", params={"next": place})
    assert Seen(shown.text).fields["then"] == ["/desk"]


def test_the_cookie_opens_no_route_of_the_contract(door: Door) -> None:
    desk = signed_in(door, "rates")
    for path in ("/v1/rates", "/v1/revisions", "/v1/products"):
        answer = door.ask("GET", path, headers=desk.cookie())
        assert (answer.status_code, problem_type(answer)) == (401, "key-needed")
    asked = {"sku": "HP-W", "quantity": 1}
    answer = door.ask("POST", "/v1/quotes", json=asked, headers={**desk.cookie(), **OURS})
    assert answer.status_code == 401


def test_a_key_in_a_header_opens_no_page_of_the_desk(door: Door) -> None:
    assert door.ask("GET", "/desk", "rates").status_code == 303
    assert door.ask("POST", "/desk/bench", "rates", headers=OURS, json={}).status_code == 415


@pytest.mark.parametrize("path", ["/desk", "/desk/sign-in", "/desk/bench", "/desk/rates"])
def test_nothing_of_the_desk_is_kept_framed_or_told_to_others(door: Door, path: str) -> None:
    told = signed_in(door, "rates").get(path).headers
    assert told["cache-control"] == "no-store"
    assert "frame-ancestors 'none'" in told["content-security-policy"]
    assert "unsafe" not in told["content-security-policy"]
    assert told["cross-origin-resource-policy"] == "same-origin"
    assert told["x-content-type-options"] == "nosniff"


def test_the_desk_lets_a_key_do_what_it_may_and_no_more(door: Door) -> None:
    desk = signed_in(door, "cost")
    place = "/desk/rates/materials/pla-chalk"
    assert "Save" not in main_of(desk.get(place))
    answer = desk.send(place, {"/value/price_per_kg": "1", "do": "save"})
    assert "this needs a key with scope rates" in main_of(answer)
    assert "Repricing needs a key with scope listings." in main_of(desk.get("/desk/repricings"))
    answer = desk.post("/desk/repricings", {"form-token": desk.token()})
    assert "Repricing needs a key with scope listings." in main_of(answer)
    assert door.ask("GET", "/v1/revisions", "cost").json()["items"][0]["rates_revision"] == 1


def test_without_a_store_nobody_can_sign_in(tmp_path: Path) -> None:
    with opened(Settings(store=tmp_path / "none.sqlite")) as door:
        assert sign_in(door, secret("cost")).status_code == 401
        assert door.ask("GET", "/desk").status_code == 303
