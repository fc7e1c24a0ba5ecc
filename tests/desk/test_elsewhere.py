"""A form of the desk is taken from a page of its own sign-in, and from nowhere else."""

import pytest

from tests.desk.at_desk import main_of, routes, signed_in
from tests.http.door import BOUND, Door, secret

FOREIGN = {
    "another site": {"Origin": "https://example.org", "Sec-Fetch-Site": "cross-site"},
    "a sister of this site": {"Origin": f"http://{BOUND}", "Sec-Fetch-Site": "same-site"},
    "typed or bookmarked": {"Sec-Fetch-Site": "none"},
    "an old browser on another site": {"Origin": "https://example.org"},
    "another port": {"Origin": "http://127.0.0.1:9999"},
    "a sandboxed frame": {"Origin": "null", "Sec-Fetch-Site": "cross-site"},
    "headers that disagree": {"Origin": "https://example.org", "Sec-Fetch-Site": "same-origin"},
    "no browser at all": {},
}


@pytest.mark.parametrize("headers", FOREIGN.values(), ids=FOREIGN)
def test_a_form_from_elsewhere_is_refused_with_cookie_and_token(
    door: Door, headers: dict[str, str]
) -> None:
    desk = signed_in(door, "rates")
    fields = {"form-token": desk.token(), "do": "save", "key": secret("rates")}
    for path in (*routes("POST"), "/desk/sign-in"):
        answer = desk.post(path, fields, headers)
        assert (path, answer.status_code) == (path, 403)
        assert "set-cookie" not in answer.headers
    assert desk.get("/desk").status_code == 200
    assert door.ask("GET", "/v1/revisions", "cost").json()["items"][0]["rates_revision"] == 1


@pytest.mark.parametrize("path", routes("POST"))
def test_a_form_needs_the_token_of_its_own_sign_in(door: Door, path: str) -> None:
    desk, other = signed_in(door, "rates"), signed_in(door, "rates")
    for token in ({}, {"form-token": ""}, {"form-token": other.token()}, {"form-token": "é"}):
        answer = desk.post(path, {**token, "do": "save"})
        assert answer.status_code == 403
        assert "this form belongs to another sign-in" in main_of(answer)
    assert desk.get("/desk").status_code == 200


def test_an_older_browser_that_tells_its_origin_only_is_let_in(door: Door) -> None:
    desk = signed_in(door, "cost")
    answer = desk.post("/desk/bench", {"form-token": desk.token()}, {"Origin": f"http://{BOUND}"})
    assert answer.status_code == 200
