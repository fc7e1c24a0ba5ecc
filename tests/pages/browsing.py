"""A real browser on pages: what it must not do is noted, whatever a test looks at.

The policy's reports, errors of scripts, and requests that would leave this machine's service.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from hypothesis import settings
from playwright.sync_api import Browser, ConsoleMessage, Page

PATIENCE_MS = 30_000
FLAGS = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"),
    *("--disable-background-networking", "--disable-component-update"),
    *("--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",),
)
EXECUTABLE = "/usr/bin/chromium"
PHONE, DESK = 360, 1280
LONG = settings.get_current_profile_name() == "long"
SCREENS = [(PHONE, "dark"), (DESK, "light"), *([(PHONE, "light"), (DESK, "dark")] if LONG else [])]
"""Widths and colour schemes: each of both is looked at, and with ``--long`` all of them."""
REPORTED = """
    window.reported = [];
    document.addEventListener("securitypolicyviolation", (event) =>
        window.reported.push(`${event.violatedDirective} ${event.blockedURI}`));
"""
NO_MISDEEDS = re.compile(
    "Failed to load resource: the server responded with a status of 4"  # the page says why
    r"|\[\.WebGL-.*GL Driver Message \(OpenGL, Performance"  # drawn without a graphics card
)


class Looking(NamedTuple):
    """A page of a browser on a service, and what it did that it must not."""

    page: Page
    at: str
    misdeeds: list[str]

    def go(self, path: str) -> None:
        """Open a path of the service; its scripts have run by then."""
        self.page.goto(f"{self.at}{path}")


@contextmanager
def looking(browser: Browser, at: str, **context: Any) -> Iterator[Looking]:
    """Open a page; at the end nothing must have been noted, and the policy reported nothing."""
    context = {"viewport": {"width": DESK, "height": 800}, "locale": "de-AT", **context}
    opened = browser.new_context(**context)
    opened.set_default_timeout(PATIENCE_MS)
    page, misdeeds = opened.new_page(), list[str]()

    def heard(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and not NO_MISDEEDS.match(message.text):
            misdeeds.append(f"{message.type}: {message.text}")

    def asked(url: str) -> None:
        address = urlsplit(url)
        if address.scheme not in ("blob", "data") and f"http://{address.netloc}" != at:
            misdeeds.append(f"asked elsewhere: {url}")

    page.on("console", heard)
    page.on("pageerror", lambda error: misdeeds.append(f"script: {error}"))
    page.on("request", lambda request: asked(request.url))
    if context.get("java_script_enabled", True):
        page.add_init_script(REPORTED)
    try:
        yield Looking(page, at, misdeeds)
        if context.get("java_script_enabled", True):
            misdeeds += page.evaluate("window.reported")
        assert misdeeds == [], misdeeds
    finally:
        opened.close()


def serious_faults(page: Page) -> list[str]:
    """Say what axe finds on a page that is serious or worse, and where."""
    told = Axe().run(page, options={"resultTypes": ["violations"]}).response
    return [
        f"{fault['id']}: {node['target']} {node.get('failureSummary', '')}"
        for fault in told["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]


def keep_few_rows(page: Page) -> None:
    """Leave the first rows of each table; the others are made alike, and each costs a look."""
    page.evaluate(
        "document.querySelectorAll('main tbody').forEach("
        "body => [...body.rows].slice(6).forEach(row => row.remove()))"
    )


def is_as_wide_as_the_screen(page: Page) -> bool:
    """Say whether nothing of a page is beside the screen."""
    return bool(
        page.evaluate(
            "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
        )
    )
