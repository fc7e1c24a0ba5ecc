"""Runs the service: one socket, one or several workers, each with its own view of the store."""

import errno
import gc
import os
import signal
import socket
import sys
import tempfile
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import msgspec
import uvicorn
from litestar import Litestar

from gramhour_service.http.app import create_app
from gramhour_service.http.metrics import share_counts
from gramhour_service.http.settings import Settings
from gramhour_service.http.work import take_turns
from gramhour_service.http.workers import serve_by_workers
from gramhour_service.repricing.pausing import pause_runs, take_up_runs
from gramhour_service.store.opening import is_there
from gramhour_service.store.trouble import StoreTrouble

SETTINGS = "GRAMHOUR_RUNNING_SETTINGS"
"""The environment variable through which workers get their settings."""
HIGHEST_PORT = 65_535
BACKLOG = 2_048
SECONDS_KEPT_OPEN = 75
"""Longer than proxies keep a connection (60 s, usually), or one sends into what is being closed."""

GARBAGE_LOOKED_FOR = 20_000
"""So many new objects before they are looked through for cycles."""

SECONDS_TO_FINISH = 10
"""How long requests under way may take when the service is told to stop."""

SECONDS_WITHOUT_A_SIGN = 60
"""How long a worker may give no sign of life before it is ended and another one started.

On a machine that has much else to do a start takes a while; a worker that was ended for that
would be started again for ever.
"""


class CannotListen(Exception):
    """The address cannot be listened on; the text says why and what to do."""


def listening_socket(host: str, port: int) -> socket.socket:
    """Open the socket that all workers share. Raises ``CannotListen``."""
    if not 0 <= port <= HIGHEST_PORT:
        raise CannotListen(f"{port} is no port; choose one from 1 to {HIGHEST_PORT}")
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        listening = socket.socket(family, kind, protocol)
    except OSError as error:
        raise CannotListen(_why(error, host, port)) from None
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        listening.listen(BACKLOG)  # two that start at once can both bind, but not both listen
    except OSError as error:
        listening.close()
        raise CannotListen(_why(error, host, port)) from None
    listening.set_inheritable(True)
    return listening


def run(settings: Settings, listening: socket.socket, *, workers: int, proxies: list[str]) -> None:
    """Serve until told to stop; what was asked in full is answered, repricings are paused."""
    gc.freeze()  # what is loaded by now stays, in each worker that is forked too
    with tempfile.TemporaryDirectory(prefix="gramhour-") as folder:
        share_counts(Path(folder) / "metrics")
        settings = replace(settings, counts=Path(folder) / "requests")
        os.environ[SETTINGS] = msgspec.json.encode(settings, enc_hook=_encoded).decode()
        _serve(settings.store, listening, workers, proxies)


def _serve(store: Path | None, listening: socket.socket, workers: int, proxies: list[str]) -> None:
    config = uvicorn.Config(
        "gramhour_service.http.running:app",
        factory=True,
        workers=workers,
        proxy_headers=bool(proxies),
        forwarded_allow_ips=proxies or None,
        log_level="warning",
        access_log=False,
        server_header=False,
        backlog=BACKLOG,
        timeout_keep_alive=SECONDS_KEPT_OPEN,
        timeout_graceful_shutdown=SECONDS_TO_FINISH,
        timeout_worker_healthcheck=SECONDS_WITHOUT_A_SIGN,
        loop="uvloop",
        http="httptools",
    )
    # A server alone raises the signal again when it has stopped; this is the end then.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit())
    take_up(store)
    try:
        if workers == 1:
            with suppress(KeyboardInterrupt):
                uvicorn.Server(config).run(sockets=[listening])
        else:
            serve_by_workers(config, listening)
    finally:
        pause(store)


def take_up(path: Path | None) -> None:
    """Take paused repricings up again, if the store can be used."""
    with suppress(StoreTrouble):
        if path is not None and is_there(path):
            take_up_runs(path)


def pause(path: Path | None) -> None:
    """Pause the repricings that run, if the store can be used."""
    with suppress(StoreTrouble):
        if path is not None and is_there(path):
            pause_runs(path)


def _encoded(value: object) -> object:
    return sorted(value) if isinstance(value, frozenset) else str(value)


def app() -> Litestar:
    """Make a worker's application from the settings that it was handed."""
    handed = os.environ[SETTINGS].encode()
    settings = msgspec.json.decode(handed, type=Settings, dec_hook=lambda to, sent: to(sent))
    take_turns()
    made = create_app(settings)
    look_for_cycles_seldom()
    return made


def look_for_cycles_seldom() -> None:
    """Look through what is there by now for cycles no more, and through what comes seldom.

    The one took 60 ms, now and then, for which all others waited. The other took an eighth of a
    quote, and found next to nothing: a quote makes thousands of objects, and drops them itself.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(GARBAGE_LOOKED_FOR)


def _why(error: OSError, host: str, port: int) -> str:
    match error.errno:
        case errno.EADDRINUSE:
            return (
                f"something listens on {host}:{port} already, perhaps this service; "
                "stop it, or choose another --port"
            )
        case errno.EACCES:
            return f"port {port} needs rights that you lack; choose one above 1023"
    return f"{host}:{port} cannot be listened on ({error.strerror}); choose another --host"
