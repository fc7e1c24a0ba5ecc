"""What is the service's own fault is told without a word of it; what is too much, with a time."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from gramhour_service.http.examples import HERB_PLANTER, ONE_PIECE
from gramhour_service.http.settings import Settings
from gramhour_service.store.trouble import StoreTrouble
from tests.http.door import NOW, opened, problem_of, shape_of

WORD = "quetzal"
EVERY_LOCKED: list[tuple[str, str, dict[str, Any]]] = [
    ("POST", "/v1/quotes", {"json": HERB_PLANTER}),
    ("POST", "/v1/quotes/batch", {"json": {"requests": [HERB_PLANTER]}}),
    ("GET", "/v1/unit-price", {"params": ONE_PIECE}),
    ("GET", "/v1/rates", {}),
    ("GET", "/v1/rates/shop", {}),
    ("GET", "/v1/rates/shop/currency", {}),
]
LISTED: dict[str, Any] = {"json": {"sku": "herb-planter", "quantity": 1}}


def stopping_after(readings: int) -> Callable[[], datetime]:
    """Make a clock that breaks down after some readings."""
    left = [NOW] * readings

    def now() -> datetime:
        if not left:
            raise OSError(f"{WORD} in /var/{WORD}")
        return left.pop()

    return now


@pytest.mark.parametrize(("method", "path", "sent"), [*EVERY_LOCKED, ("GET", "/health", {})])
@pytest.mark.parametrize("readings", [0, 1])
def test_a_crash_is_told_without_a_word_of_it_and_is_logged(
    shop_path: Path,
    caplog: pytest.LogCaptureFixture,
    method: str,
    path: str,
    sent: Any,
    readings: int,
) -> None:
    with opened(Settings(store=shop_path), stopping_after(readings)) as door:
        answer = door.ask(method, path, "cost", **sent)
        if (path, readings) == ("/v1/quotes/batch", 1):
            (told,) = answer.json()["answers"]
            assert shape_of(told["problem"])[0] == "internal-error"
        elif (path, readings) != ("/health", 1):
            assert (problem_of(answer)[0], answer.status_code) == ("internal-error", 500)
            assert WORD in caplog.text
        assert WORD not in answer.text + str(answer.headers)
        assert "Traceback" not in answer.text


@pytest.mark.parametrize(("method", "path", "sent"), [*EVERY_LOCKED, ("GET", "/health", {})])
def test_a_store_that_is_none_is_told_without_its_path(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, method: str, path: str, sent: Any
) -> None:
    store = tmp_path / f"{WORD}.sqlite"
    with opened(Settings(store=store)) as door:
        assert door.ask("GET", "/health").json()["rates"] == "none"
        store.write_bytes(b"no store at all " * 1000)
        answer = door.ask(method, path, "cost", **sent)
        assert (problem_of(answer)[0], answer.status_code) == ("store-unavailable", 503)
        assert 1 <= int(answer.headers["retry-after"]) <= 60
        assert WORD not in answer.text + str(answer.headers)
        assert WORD in caplog.text


def test_a_store_that_is_none_is_told_when_the_service_starts(tmp_path: Path) -> None:
    store = tmp_path / "gramhour.sqlite"
    store.write_bytes(b"no store at all " * 1000)
    with pytest.raises(StoreTrouble), opened(Settings(store=store)):
        pass


def test_without_a_store_no_key_is_good_and_openly_nothing_is_listed(tmp_path: Path) -> None:
    with opened(Settings(store=tmp_path / "none.sqlite", public_quotes=True)) as door:
        assert problem_of(door.ask("POST", "/v1/quotes", "cost", **LISTED))[0] == "key-needed"
        assert problem_of(door.ask("POST", "/v1/quotes", **LISTED))[0] == "not-listed"


def test_too_many_questions_without_a_key_are_refused_until_a_time(shop_path: Path) -> None:
    settings = Settings(store=shop_path, public_quotes=True, quotes_a_minute=3)
    with opened(settings) as door:
        for _ in range(3):
            assert door.ask("POST", "/v1/quotes", **LISTED).status_code == 404
        further: list[tuple[str, str, dict[str, Any]]] = [
            ("POST", "/v1/quotes", LISTED),
            ("POST", "/v1/quotes/batch", {"json": {"requests": [LISTED["json"]]}}),
            ("GET", "/v1/unit-price", {"params": LISTED["json"]}),
        ]
        for method, path, sent in further:
            answer = door.ask(method, path, **sent)
            assert (problem_of(answer)[0], answer.status_code) == ("too-many-requests", 429)
            assert 1 <= int(answer.headers["retry-after"]) <= 60
        assert door.ask("POST", "/v1/quotes", peer="10.0.0.5", **LISTED).status_code == 404
        assert door.ask("POST", "/v1/quotes", "price", **LISTED).status_code == 404


def test_each_request_of_a_batch_counts(shop_path: Path) -> None:
    settings = Settings(store=shop_path, public_quotes=True, quotes_a_minute=3)
    three: dict[str, Any] = {"json": {"requests": [LISTED["json"]] * 3}}
    with opened(settings) as door:
        assert door.ask("POST", "/v1/quotes/batch", **three).status_code == 200
        assert door.ask("POST", "/v1/quotes", **LISTED).status_code == 429


def test_a_batch_of_more_than_a_minutes_worth_takes_all_of_it(shop_path: Path) -> None:
    settings = Settings(store=shop_path, public_quotes=True, quotes_a_minute=3)
    many: dict[str, Any] = {"json": {"requests": [LISTED["json"]] * 10}}
    with opened(settings) as door:
        assert door.ask("POST", "/v1/quotes/batch", **many).status_code == 200
        assert door.ask("POST", "/v1/quotes", **LISTED).status_code == 429


def test_head_counts_for_nothing_but_is_refused_as_get_would_be(shop_path: Path) -> None:
    settings = Settings(store=shop_path, public_quotes=True, quotes_a_minute=1)
    cell: dict[str, Any] = {"params": LISTED["json"]}
    with opened(settings) as door:
        for _ in range(3):
            assert door.ask("HEAD", "/v1/unit-price", **cell).status_code == 404
        assert door.ask("GET", "/v1/unit-price", **cell).status_code == 404
        assert door.ask("HEAD", "/v1/unit-price", **cell).status_code == 429


def test_an_address_in_a_header_opens_no_further_quotes(shop_path: Path) -> None:
    settings = Settings(store=shop_path, public_quotes=True, quotes_a_minute=3)
    with opened(settings) as door:
        statuses = [
            door.ask(
                "POST", "/v1/quotes", headers={"X-Forwarded-For": f"203.0.113.{n}"}, **LISTED
            ).status_code
            for n in range(6)
        ]
    assert statuses == [404, 404, 404, 429, 429, 429]
