"""What is a key and what is none: never from a URL, never once it is over."""

import pytest

from gramhour_service.http.asking import NO_GOOD_KEY
from gramhour_service.store.keys import revoke_key
from gramhour_service.store.opening import open_store
from tests.http.door import NOW, Door, problem_type, secret
from tests.http.routes import NEEDS, ask, filled

LOCKED = [route for route in NEEDS if NEEDS[route]]


@pytest.mark.parametrize("key", ["unknown", "expired", "revoked"])
@pytest.mark.parametrize("route", LOCKED, ids=" ".join)
def test_a_key_that_is_no_longer_or_never_was_good_opens_nothing(
    shop: Door, route: tuple[str, str], key: str
) -> None:
    answer = ask(shop, route, key)
    assert (answer.status_code, problem_type(answer)) == (401, "key-needed")


def test_what_is_wrong_with_a_key_is_not_told(shop: Door) -> None:
    answers = {ask(shop, LOCKED[0], key).content for key in ("unknown", "expired", "revoked")}
    assert len(answers) == 1
    assert NO_GOOD_KEY.encode() in answers.pop()


@pytest.mark.parametrize("key", ["price", "cost"])
def test_a_revoked_key_opens_nothing_from_the_next_request_on(own_shop: Door, key: str) -> None:
    route = ("POST", "/v1/quotes")
    assert ask(own_shop, route, key).status_code == 404
    path = own_shop.app.state.shop.settings.store
    store = open_store(path)
    revoke_key(store, key, now=NOW)
    store.close()
    assert ask(own_shop, route, key).status_code == 401


GOOD = secret("rates")


@pytest.mark.parametrize(
    "authorization",
    [GOOD, f"Basic {GOOD}", f"Bearer{GOOD}", "Bearer", "Bearer ", "", f"Token {GOOD}",
     f"Bearer {GOOD} {GOOD}", f"Bearer {GOOD}x", f"Bearer {GOOD[:-1]}", f"Bearer {GOOD.upper()}",
     "Bearer " + "x" * 100_000, "Bearer \xff\xfe"],
    ids=["bare", "basic", "no space", "no key", "blank", "empty", "other scheme", "twice", "longer",
         "shorter", "other case", "very long", "not ASCII"],
)  # fmt: skip
def test_only_a_bearer_key_is_a_key(shop: Door, authorization: str) -> None:
    headers = {"Authorization": authorization.encode("latin-1")}
    answer = shop.ask("GET", "/v1/rates", headers=headers)
    assert (answer.status_code, problem_type(answer)) == (401, "key-needed")
    assert answer.headers["www-authenticate"].startswith("Bearer")


def test_the_schemes_name_may_be_written_in_any_case(shop: Door) -> None:
    answer = shop.ask("GET", "/v1/rates", headers={"Authorization": f"bEARER {GOOD}"})
    assert answer.status_code == 200


@pytest.mark.parametrize("route", LOCKED, ids=" ".join)
@pytest.mark.parametrize("name", ["key", "api_key", "access_token", "token", "Authorization"])
def test_a_key_in_a_url_is_never_taken(shop: Door, route: tuple[str, str], name: str) -> None:
    method, path = route
    path = filled(path)
    for value in (GOOD, f"Bearer {GOOD}"):
        answer = shop.ask(method, path, params={name: value})
        assert answer.status_code == 401
    assert shop.ask(method, f"http://:{GOOD}@127.0.0.1:8750{path}").status_code == 401
