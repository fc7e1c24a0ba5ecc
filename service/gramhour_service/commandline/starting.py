"""What is looked at before the service starts: the store, and who could reach it without a key."""

from ipaddress import ip_address
from pathlib import Path
from typing import NamedTuple

import click

from gramhour_service.commandline.refusals import NotAnswered, PlacedFault
from gramhour_service.commandline.store import has_store, not_usable, now, opened
from gramhour_service.store.copies import (
    is_damaged,
    is_read_by_others,
    is_written_by_us,
    tables_of_others,
)
from gramhour_service.store.keys import list_keys
from gramhour_service.store.trouble import StoreTrouble

SECONDS_TO_LOOK = 0.5
"""How long a start may look for damage; ``gramhour store check`` reads all of it."""
DAMAGED = (
    "it cannot be read as it should; see gramhour store check, move it away, and restore a copy: "
    "gramhour store restore"
)
CELLS_ALONE = (
    "--local-cells cannot go with {}: everyone would look like this machine, and could compute "
    "your costs from the prices of cells. Start a second service for one of them."
)
NO_KEY = (
    "--host {} lets other machines ask, and no key is good: without a store or a key the service "
    "is for this machine alone. Add a key first: gramhour keys add NAME --scope price"
)
IN_THE_CLEAR = (
    "--public-quotes with --host {} would answer strangers over plain HTTP, which anyone on the "
    "way can change. Put a proxy with TLS before it (deploy/nginx.conf), listen on 127.0.0.1, and "
    "name the proxy: --proxy 127.0.0.1"
)


class Doors(NamedTuple):
    """Who is to be let in, and by which way."""

    host: str
    public_quotes: bool
    local_cells: bool
    proxies: tuple[str, ...]


def check_doors(doors: Doors, store: Path) -> None:
    """Refuse to open what would give the shop's costs or prices away. Raises ``click``'s errors."""
    if doors.local_cells:
        _check_cells(doors)
    if is_loopback(doors.host):
        return
    if not _has_good_key(store):
        raise click.ClickException(NO_KEY.format(doors.host))
    if doors.public_quotes and not doors.proxies:
        raise click.ClickException(IN_THE_CLEAR.format(doors.host))
    if not doors.proxies:
        click.echo(
            f"Keys and prices go over plain HTTP to {doors.host}: who is on the way reads them",
            err=True,
        )


def _check_cells(doors: Doors) -> None:
    """Refuse to let cells in without a key where others could pass for them."""
    if doors.public_quotes:
        raise click.ClickException(CELLS_ALONE.format("--public-quotes"))
    if doors.proxies:
        raise click.ClickException(CELLS_ALONE.format("--proxy"))
    if not is_loopback(doors.host):
        raise click.ClickException(CELLS_ALONE.format(f"--host {doors.host}"))


def _has_good_key(store: Path) -> bool:
    if not has_store(store):
        return False
    with opened(store) as of_shop:
        return any(key.is_good(now()) for key in list_keys(of_shop))


def is_loopback(host: str) -> bool:
    """Say whether an address is reached from this machine only."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def check_store(path: Path) -> None:
    """Look at the store once, so that what is wrong with it is told at the start.

    Raises ``NotAnswered``.
    """
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
        detail = f"{others[0]}; see gramhour store check"
        raise NotAnswered("store-damaged", [PlacedFault(str(path), "", detail)])
    if not may_write:
        click.echo(f"{path} may not be written: quotes go on, nothing can be saved", err=True)
    if is_read_by_others(path):
        click.echo(f"{path} may be read by others on this machine: chmod 600 {path}", err=True)
