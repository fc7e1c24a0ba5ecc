"""Where nothing is, or cannot be done, is told in the one shape too."""

import pytest

from tests.http.door import Door, problem_of

QUOTES, BATCH, CELL, RATES = "/v1/quotes", "/v1/quotes/batch", "/v1/unit-price", "/v1/rates"
ALLOWED = {
    QUOTES: {"POST", "OPTIONS"},
    BATCH: {"POST", "OPTIONS"},
    **{path: {"GET", "HEAD", "OPTIONS"} for path in (
        CELL, RATES, f"{RATES}/shop", "/v1/revisions", "/v1/revisions/1",
        "/v1/revisions/1/changes", "/health", "/docs", "/docs/start.js", "/openapi.json")},
    f"{RATES}/shop/currency": {"GET", "HEAD", "PUT", "DELETE", "OPTIONS"},
    "/v1/rate-changes": {"POST", "OPTIONS"},
}  # fmt: skip


@pytest.mark.parametrize("key", [None, "cost"])
@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "PATCH", "DELETE", "TRACE", "NEW"])
@pytest.mark.parametrize("path", ALLOWED)
def test_what_cannot_be_done_is_told_with_what_can(
    shop: Door, path: str, method: str, key: str | None
) -> None:
    answer = shop.ask(method, path, key)
    if method in ALLOWED[path]:
        assert answer.status_code != 405
        if method in ("PUT", "DELETE"):
            assert answer.status_code == (401 if key is None else 403)
    else:
        assert problem_of(answer)[0] == "method-not-allowed"
        assert set(answer.headers["allow"].split(", ")) == ALLOWED[path]


@pytest.mark.parametrize(
    "path",
    ["/v1", "/v2/quotes", "/V1/rates", "/v1/quote", "/v1/rates/shop/currency/more",
     "/docs/../app.py", "/docs/..%2fapp.py", "/schema", "/schema/openapi.json",
     "/v1/rates/materials/a%2Fb", "/%00", "/%ff", "/.env"],
)  # fmt: skip
@pytest.mark.parametrize("method", ["GET", "POST", "OPTIONS"])
@pytest.mark.parametrize("key", [None, "cost"])
def test_where_nothing_is_says_so(shop: Door, method: str, path: str, key: str | None) -> None:
    assert problem_of(shop.ask(method, path, key))[0] == "no-such-path"


@pytest.mark.parametrize("path", [RATES, f"{RATES}/shop", "/health", "/docs/start.js"])
def test_a_trailing_slash_names_the_same(shop: Door, path: str) -> None:
    assert shop.ask("GET", f"{path}/", "cost").content == shop.ask("GET", path, "cost").content
    assert shop.ask("GET", f"{path}/").status_code == shop.ask("GET", path).status_code


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/docs/index.html", "no-such-path"),
        (f"{RATES}/no-such-kind", "unknown-rate"),
        (f"{RATES}/%ff", "unknown-rate"),
        (f"{RATES}/materials/no-such", "unknown-rate"),
        (f"{RATES}/materials/%00", "unknown-rate"),
        (f"{RATES}?rates_revision=99", "unknown-rate"),
        (f"{RATES}?rates_on=2020-01-01", "unknown-rate"),
        (f"{CELL}?sku=a&quantity=1", "not-listed"),
        ("/v1/revisions/2", "unknown-revision"),
        ("/v1/revisions/0", "unknown-revision"),
        ("/v1/revisions/-1", "unknown-revision"),
        ("/v1/revisions/1.0", "unknown-revision"),
        ("/v1/revisions/newest", "unknown-revision"),
        ("/v1/revisions/2/changes", "unknown-revision"),
        (f"/v1/revisions/{'9' * 5000}", "unknown-revision"),
    ],
)
def test_what_the_shop_does_not_have_is_not_found(shop: Door, path: str, kind: str) -> None:
    answer = shop.ask("GET", path, "cost")
    assert (problem_of(answer)[0], answer.status_code) == (kind, 404)
