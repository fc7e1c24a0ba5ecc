"""The serve command: the service on this machine, until it is stopped."""

import socket
from ipaddress import ip_address
from pathlib import Path

import click

from gramhour_service.commandline.refusals import told_when_refused
from gramhour_service.commandline.store import has_store, not_usable, store_option
from gramhour_service.http.running import CannotListen, listening_socket, run
from gramhour_service.http.settings import QUOTES_A_MINUTE, Settings
from gramhour_service.store.copies import (
    is_damaged,
    is_read_by_others,
    is_written_by_us,
    tables_of_others,
)
from gramhour_service.store.trouble import StoreTrouble

PORT = 8750
HOST = "127.0.0.1"
SECONDS_TO_LOOK = 2.0
"""How long a start may look for damage; ``gramhour store check`` reads all of it."""
DAMAGED = (
    "it cannot be read as it should; see gramhour store check, move it away, and restore a copy: "
    "gramhour store restore"
)
CELLS_ALONE = (
    "--local-cells cannot go with {}: everyone would look like this machine, and could compute "
    "your costs from the prices of cells. Start a second service for one of them."
)


@click.command(short_help="Run the service.")
@click.option("--host", default=HOST, show_default=True, help="The address to listen on.")
@click.option("--port", type=int, default=PORT, show_default=True, help="The port to listen on.")
@click.option(
    "--workers", type=click.IntRange(1, 64), default=1, show_default=True, help="Processes."
)
@click.option("--public-quotes", is_flag=True, help="Prices for callers without a key.")
@click.option(
    "--local-cells",
    is_flag=True,
    help="Prices for this machine's spreadsheets, without a key.",
)
@click.option(
    "--proxy",
    "proxies",
    multiple=True,
    metavar="ADDRESS",
    help="A proxy whose forwarding headers are believed; none unless named.",
)
@click.option("--tell-worker", "tells_worker", is_flag=True, hidden=True)
@store_option
@told_when_refused
def serve(  # noqa: PLR0913 (one for each option)
    *,
    host: str,
    port: int,
    workers: int,
    public_quotes: bool,
    local_cells: bool,
    proxies: tuple[str, ...],
    tells_worker: bool,
    store_path: Path,
) -> None:
    """Run the service until it is stopped (Ctrl-C).

    Rates come from the store; without one, only requests that bring their rates are answered.
    """
    if local_cells:
        _refuse_bad_company(host, public_quotes=public_quotes, proxies=proxies)
    _check_store(store_path)
    try:
        listening = listening_socket(host, port)
    except CannotListen as error:
        raise click.ClickException(str(error)) from None
    settings = Settings(
        store=store_path.absolute(),
        public_quotes=public_quotes,
        cells_from=_own_names(listening) if local_cells else frozenset(),
        quotes_a_minute=max(1, QUOTES_A_MINUTE // workers),
        tells_worker=tells_worker,
    )
    click.echo(f"Serving on {_url(listening)}; {_told_of_store(store_path)}", err=True)
    run(settings, listening, workers=workers, proxies=list(proxies))


def _refuse_bad_company(host: str, *, public_quotes: bool, proxies: tuple[str, ...]) -> None:
    """Refuse to let cells in without a key where others could pass for them."""
    if public_quotes:
        raise click.ClickException(CELLS_ALONE.format("--public-quotes"))
    if proxies:
        raise click.ClickException(CELLS_ALONE.format("--proxy"))
    if not _is_loopback(host):
        raise click.ClickException(CELLS_ALONE.format(f"--host {host}"))


def _is_loopback(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def _check_store(path: Path) -> None:
    """Look at the store once, so that what is wrong with it is told at the start."""
    if not has_store(path):
        return
    try:
        damaged = is_damaged(path, SECONDS_TO_LOOK)
        may_write = not damaged and is_written_by_us(path)
        others = () if damaged else tables_of_others(path)
    except StoreTrouble as trouble:
        raise not_usable(trouble, path) from None
    if damaged:
        raise not_usable(StoreTrouble("store-damaged", DAMAGED), path)
    if others:
        raise not_usable(
            StoreTrouble("store-damaged", f"{others[0]}; see gramhour store check"), path
        )
    if not may_write:
        click.echo(f"{path} may not be written: quotes go on, nothing can be saved", err=True)
    if is_read_by_others(path):
        click.echo(f"{path} may be read by others on this machine: chmod 600 {path}", err=True)


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
