"""The serve command: the service on this machine, until it is stopped."""

import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from gramhour_service.commandline.once import Once
from gramhour_service.commandline.refusals import told_when_refused
from gramhour_service.commandline.starting import Doors, check_doors, check_store
from gramhour_service.commandline.store import has_store, store_option
from gramhour_service.http.running import CannotListen, listening_socket, run
from gramhour_service.http.settings import (
    MESH_TRIANGLES,
    PRICES_A_MINUTE,
    QUOTES_A_MINUTE,
    REQUESTS_AT_ONCE,
    SECONDS_A_REQUEST,
    Settings,
)

PORT = 8750
HOST = "127.0.0.1"
MOST = 1_000_000


def _option(name: str, **more: Any) -> Callable[[Any], Any]:
    """Make an option that the environment can set too, as a service manager does."""
    envvar = "GRAMHOUR_" + name.strip("-").partition("/")[0].upper().replace("-", "_")
    return click.option(name, envvar=envvar, show_envvar=True, **more)


OPTIONS = (
    _option("--host", default=HOST, show_default=True, help="The address to listen on."),
    _option("--port", type=int, default=PORT, show_default=True, help="The port to listen on."),
    _option(
        "--workers", type=click.IntRange(1, 64), default=1, show_default=True, help="Processes."
    ),
    _option("--public-quotes", is_flag=True, help="Prices for callers without a key."),
    _option(
        "--local-cells",
        is_flag=True,
        help="Prices for this machine's spreadsheets, without a key.",
    ),
    click.option(
        "--proxy",
        "proxies",
        multiple=True,
        metavar="ADDRESS",
        envvar="GRAMHOUR_PROXY",
        show_envvar=True,
        help="A proxy whose forwarding headers are believed; none unless named.",
    ),
    click.option(
        "--origin",
        "origins",
        multiple=True,
        metavar="ORIGIN",
        envvar="GRAMHOUR_ORIGIN",
        show_envvar=True,
        help="Pages that may ask from a browser (https://shop.example); none unless named.",
    ),
    _option(
        "--quotes-a-minute",
        type=click.IntRange(1, MOST),
        default=QUOTES_A_MINUTE,
        show_default=True,
        help="Prices that an address without a key may ask for.",
    ),
    _option(
        "--prices-a-minute",
        type=click.IntRange(1, MOST),
        default=PRICES_A_MINUTE,
        show_default=True,
        help="Prices that a key may ask for which sees no costs.",
    ),
    _option(
        "--requests-at-once",
        type=click.IntRange(1, 10_000),
        default=REQUESTS_AT_ONCE,
        show_default=True,
        help="Requests that a worker has under way; more are told to come again.",
    ),
    _option(
        "--seconds-a-request",
        type=click.FloatRange(1, 3_600),
        default=SECONDS_A_REQUEST,
        show_default=True,
        help="Until the answer to a request must have begun.",
    ),
    _option(
        "--mesh-triangles",
        type=click.IntRange(1_000, 2_000_000),
        default=MESH_TRIANGLES,
        show_default=True,
        help="That a mesh to measure may have: a million take some ten seconds of a core.",
    ),
    _option("--log/--no-log", default=True, show_default=True, help="A line for each request."),
    click.option("--tell-worker", "tells_worker", is_flag=True, hidden=True),
)


def _with_options(command: Callable[..., None]) -> Callable[..., None]:
    for option in reversed(OPTIONS):
        command = option(command)
    return command


@click.command(cls=Once, short_help="Run the service.")
@_with_options
@store_option
@told_when_refused
def serve(*, store_path: Path, **asked: Any) -> None:
    """Run the service until it is stopped (Ctrl-C).

    Rates come from the store; without one, only requests that bring their rates are answered.
    """
    proxies = asked["proxies"]
    doors = Doors(asked["host"], asked["public_quotes"], asked["local_cells"], proxies)
    check_store(store_path)
    check_doors(doors, store_path)
    try:
        listening = listening_socket(asked["host"], asked["port"])
    except CannotListen as error:
        raise click.ClickException(str(error)) from None
    settings = Settings(
        store=store_path.absolute(),
        public_quotes=asked["public_quotes"],
        cells_from=_own_names(listening) if asked["local_cells"] else frozenset(),
        quotes_a_minute=asked["quotes_a_minute"],
        prices_a_minute=asked["prices_a_minute"],
        requests_at_once=asked["requests_at_once"],
        seconds_a_request=asked["seconds_a_request"],
        mesh_triangles=asked["mesh_triangles"],
        origins=frozenset(asked["origins"]),
        writes_log=asked["log"],
        tells_worker=asked["tells_worker"],
    )
    click.echo(f"Serving on {_url(listening)}; {_told_of_store(store_path)}", err=True)
    run(settings, listening, workers=asked["workers"], proxies=list(proxies))


def _own_names(listening: socket.socket) -> frozenset[str]:
    """List the names under which programs on this machine reach the socket."""
    host, port = listening.getsockname()[:2]
    own = f"[{host}]" if ":" in host else host
    return frozenset({f"{own}:{port}", f"localhost:{port}"})


def _url(listening: socket.socket) -> str:
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def _told_of_store(path: Path) -> str:
    if has_store(path):
        return f"rates from {path}"
    return f"no store at {path} yet: make one with gramhour rates import"
