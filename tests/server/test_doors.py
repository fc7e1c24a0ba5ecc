"""Who is let in, over real sockets: cells of this machine, callers without a key, proxies."""

import socket
import subprocess
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from urllib.parse import urlencode

import msgspec
import pytest

from gramhour_service.http.examples import ONE_PIECE
from tests.http.door import HERE
from tests.server.running import COMMAND, PATIENCE, Service, demo_store, serving, wait_until

CELL = f"/v1/unit-price?{urlencode(ONE_PIECE)}"
LISTED = b'{"sku":"planter","quantity":1}'
A_MINUTE = 60


@pytest.fixture(scope="module")
def cells(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    store = demo_store(tmp_path_factory.mktemp("cells") / "gramhour.sqlite")
    with serving(store, "--local-cells") as service:
        yield service


@pytest.mark.parametrize("name", [HERE, "localhost", "LocalHost"])
def test_a_cell_gets_one_number(cells: Service, name: str) -> None:
    answer = cells.ask("GET", CELL, headers={"Host": f"{name}:{cells.port}"})
    assert (answer.status, answer.body) == (200, b"7.90")  # the channel's prices end in .90
    assert answer.headers["content-type"].startswith("text/plain")


@pytest.mark.parametrize(
    "headers",
    [
        {"X-Forwarded-For": HERE},
        {"Forwarded": f"for={HERE}"},
        {"Via": "1.1 front"},
        {"Origin": "http://shop.example"},
        {"Host": "shop.example"},
        {"Host": HERE},
    ],
    ids=lambda headers: " ".join(*headers.items()),
)
def test_who_may_have_come_another_way_gets_no_cell(
    cells: Service, headers: dict[str, str]
) -> None:
    answer = cells.ask("GET", CELL, headers=headers)
    assert answer.status == 401
    assert msgspec.json.decode(answer.body)["type"] == "/problems/key-needed"
    assert b"7.90" not in answer.body


def ask_often(service: Service, sent: list[str]) -> list[int]:
    """Ask for a price without a key, each time for somebody else, as a proxy would."""
    return [
        service.ask("POST", "/v1/quotes", body=LISTED, headers={"X-Forwarded-For": each}).status
        for each in sent
    ]


def test_a_caller_cannot_pass_for_many_by_forwarding_headers(store: Path) -> None:
    with serving(store, "--public-quotes") as service:
        statuses = ask_often(service, [f"203.0.113.{n}" for n in range(A_MINUTE)])
        assert 429 not in statuses
        answer = service.ask(
            "POST", "/v1/quotes", body=LISTED, headers={"X-Forwarded-For": "198.51.100.7"}
        )
        assert answer.status == 429
        assert 1 <= int(answer.headers["retry-after"]) <= A_MINUTE
        assert service.ask("GET", "/v1/rates", "cost").status == 200


def test_a_proxy_that_is_named_is_believed_about_its_own_callers_only(store: Path) -> None:
    with serving(store, "--public-quotes", "--proxy", HERE) as service:
        many = ask_often(service, [f"203.0.113.{n}" for n in range(A_MINUTE + 1)])
        assert 429 not in many
        # What stands left of what the proxy put in comes from the caller, who may lie.
        one = ask_often(service, [f"203.0.113.{n}, 198.51.100.7" for n in range(A_MINUTE + 1)])
        assert Counter(status == 429 for status in one) == {False: A_MINUTE, True: 1}
        assert one[-1] == 429


def failed_start(*options: str) -> str:
    """Start a service that must not start, and say what it told."""
    nowhere = () if "--store" in options else ("--store", "none.sqlite")
    started = subprocess.run(
        [*COMMAND, "serve", *nowhere, *options],
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE,
    )
    assert (started.returncode, started.stdout) == (1, "")
    return started.stderr


@pytest.mark.parametrize("workers", ["1", "2"])
def test_a_second_service_on_the_same_port_says_so_and_ends(cells: Service, workers: str) -> None:
    port = str(cells.port)
    assert failed_start("--port", port, "--workers", workers) == (
        f"Error: something listens on {HERE}:{port} already, perhaps this service; "
        "stop it, or choose another --port\n"
    )


def test_an_address_that_is_not_of_this_machine_is_told(store: Path) -> None:
    address = "192.0.2.1"  # of no machine: RFC 5737
    told = failed_start("--host", address, "--port", "0", "--store", str(store))
    assert told.splitlines()[-1].startswith("Error: 192.0.2.1:0 cannot be listened on (")
    assert told.endswith("; choose another --host\n")


@pytest.mark.parametrize("workers", ["1", "2"])
def test_of_two_that_start_at_once_one_serves_and_the_other_says_why_not(
    store: Path, workers: str
) -> None:
    with socket.socket() as free:
        free.bind((HERE, 0))
        port = str(free.getsockname()[1])
    start = [*COMMAND, "serve", "--store", str(store), "--port", port, "--workers", workers]
    with ExitStack() as stack:
        both = [
            stack.enter_context(
                subprocess.Popen(start, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
            )
            for _ in range(2)
        ]
        try:
            wait_until(lambda: any(each.poll() is not None for each in both))
            (loser,) = (each for each in both if each.poll() is not None)
            assert loser.returncode == 1
            assert "already, perhaps this service" in loser.communicate()[1]
        finally:
            for each in both:
                each.terminate()
