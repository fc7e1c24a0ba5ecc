"""The demo's shop with listed prices, served; and a Chromium."""

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from gramhour_service.http.settings import Settings
from gramhour_service.store.keys import add_key
from gramhour_service.store.opening import open_store
from tests.http.door import opened, secret
from tests.http.repriced import list_prices, stock
from tests.pages.at_desk import Served
from tests.pages.browsing import EXECUTABLE, FLAGS
from tests.server.running import demo_store, wait_until


def world_clock() -> datetime:
    return datetime.now(UTC)


@pytest.fixture(scope="session")
def shop_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store of the demo's shop, every listing priced, with a key of each kind."""
    path = demo_store(tmp_path_factory.mktemp("pages") / "gramhour.sqlite")
    with opened(Settings(store=path), world_clock) as door:
        stock(door)
        list_prices(door)
    return path


@contextmanager
def served(store: Path) -> Iterator[str]:
    """Serve a store; give its address."""
    command = (sys.executable, "-m", "tests.pages.served", str(store))
    printed = store.with_suffix(".printed")
    with (
        printed.open("wb") as out,
        subprocess.Popen(command, stdout=out, start_new_session=True) as process,
    ):
        try:
            wait_until(lambda: printed.read_text().endswith("\n"))
            yield f"http://127.0.0.1:{int(printed.read_text())}"
        finally:
            os.killpg(process.pid, signal.SIGKILL)


@pytest.fixture(scope="session")
def shop_at(shop_store: Path) -> Iterator[str]:
    """The shop's address."""
    with served(shop_store) as address:
        yield address


@pytest.fixture(scope="module")
def desk(shop_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A shop of a module's own, whose prices and rates its tests may change."""
    store = tmp_path_factory.mktemp("desk") / "gramhour.sqlite"
    with closing(sqlite3.connect(shop_store)) as made, closing(sqlite3.connect(store)) as copy:
        made.backup(copy)
    with closing(open_store(store)) as opened_store:
        scopes = ("rates", "listings")
        add_key(opened_store, "maker", secret("maker"), scopes, now=world_clock())
    with served(store) as address:
        yield Served(address, store)


@pytest.fixture(scope="module")
def browser(shop_at: str) -> Iterator[Browser]:  # noqa: ARG001 (served before it is started)
    """One Chromium for the tests of a module; each test has a context of its own.

    While it runs no other loop can run in this thread, so it ends with the module, and what asks
    an application in-process goes before it.
    """
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=EXECUTABLE, args=list(FLAGS))
        yield started
        started.close()
