"""A person at the desk, in a real browser; and the same shop asked by the contract beside it."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

import httpx
from playwright.sync_api import Browser, Page, expect

from gramhour_service.http.desk.sign_in import COOKIE
from tests.http.door import secret
from tests.pages.browsing import Looking, looking

PATIENCE = 60.0


class Served(NamedTuple):
    """A shop: its address and its store."""

    at: str
    store: Path

    def ask(self, method: str, path: str, **sent: Any) -> Any:
        """Ask by the contract, with the maker's key."""
        headers = {"Authorization": f"Bearer {secret('maker')}"}
        answer = httpx.request(method, f"{self.at}{path}", headers=headers, timeout=60, **sent)
        assert answer.is_success, answer.text
        return answer.json()

    def finished(self, name: str) -> Any:
        """Wait for a repricing, and read it."""
        until = time.monotonic() + PATIENCE
        while (told := self.ask("GET", f"/v1/repricings/{name}"))["state"] == "running":
            assert time.monotonic() < until
            time.sleep(0.1)
        return told


def sign_in(look: Looking, key: str = "maker") -> None:
    """Sign in with the key of a name."""
    look.go("/desk/sign-in")
    look.page.get_by_label("Your key").fill(secret(key))
    look.page.get_by_role("button", name="Sign in").click()
    expect(look.page.get_by_role("heading", level=1)).to_have_text("The desk")


@contextmanager
def at_desk(
    browser: Browser, desk: Served, key: str = "maker", **context: Any
) -> Iterator[Looking]:
    """Open a browser that somebody has signed in with."""
    ours = {"Origin": desk.at, "Sec-Fetch-Site": "same-origin"}
    answer = httpx.post(f"{desk.at}/desk/sign-in", data={"key": secret(key)}, headers=ours)
    with looking(browser, desk.at, **context) as look:
        place = {"domain": "127.0.0.1", "path": "/desk", "httpOnly": True, "sameSite": "Strict"}
        cookie = {"name": COOKIE, "value": answer.cookies[COOKIE], **place}
        look.page.context.add_cookies([cookie])  # type: ignore[list-item]
        yield look


def figures(page: Page, within: str) -> list[str]:
    """Read the figures of a part of a page, as the answer wrote them."""
    found: list[str] = page.locator(f"{within} data").evaluate_all("all => all.map(e => e.value)")
    return found
