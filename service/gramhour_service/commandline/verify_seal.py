"""The seals verify command: whether a seal counts, and what it promises."""

import re
from pathlib import Path
from typing import IO, NamedTuple

import click
from msgspec import UNSET

from gramhour.contract.seals import SealedOffer, SealVerdict
from gramhour_service.commandline.meant import foreign
from gramhour_service.commandline.once import Once
from gramhour_service.commandline.refusals import told_when_refused
from gramhour_service.commandline.service import asked_service, service_asked, service_options
from gramhour_service.commandline.store import now, opened, written_json
from gramhour_service.seals.standing import standing
from gramhour_service.seals.verifying import verdict
from gramhour_service.signing.tokens import LONGEST

EXPECTED = "three parts with points between them, as a storefront gets them of /v1/prices?seal=true"
NO_SEAL = f"'{{}}' is no seal ({EXPECTED}), and no file of that name can be read"
READ = f"What was read is {{}}, where a seal is expected: {EXPECTED}."
MOST_SAID = 60
A_SEAL = re.compile(r"[\w-]+\.[\w-]+\.[\w-]{86}", re.ASCII)
"""Such a one is no file's name: three parts, the last of them a signature (RFC 7515, RFC 8037)."""


class Shown(NamedTuple):
    """What was shown as a seal, and what it is that is none, as far as that can be told."""

    seal: str
    instead: str = ""


def _read(context: click.Context, parameter: click.Parameter, said: str) -> Shown:
    """Give the seal that was typed, or read it from the file that was named."""
    if A_SEAL.fullmatch(said):
        return Shown(said)
    try:
        file: IO[bytes] = click.File("rb").convert(said, parameter, context)
    except click.BadParameter:  # most of a seal is no file's name: it is too long for one
        raise click.BadParameter(NO_SEAL.format(said[:MOST_SAID]), context, parameter) from None
    body = file.read(LONGEST).strip()
    seal = body.decode(errors="replace")
    return Shown(seal, "" if A_SEAL.fullmatch(seal) else _instead(said, body))


def _instead(file: str, body: bytes) -> str:
    """Say what a file is that holds no seal."""
    found = foreign(file, body)
    if found is not None:
        return found.what
    if not body:
        return "empty"
    if body.startswith((b"{", b"[")):
        return "JSON, in which a seal is a member"
    return "a text of several words" if len(body.split()) > 1 else "a word of another form"


@click.command("verify", cls=Once, short_help="Say whether a seal counts.")
@click.argument("shown", metavar="SEAL", callback=_read)
@service_options
@told_when_refused
def verify(
    *, shown: Shown, store_path: Path, url: str | None, key: str | None, as_json: bool
) -> None:
    """Say whether a seal counts, and what it promises; exit 1 if it does not count.

    SEAL is the seal itself, or a file that holds it (- for a pipe). A running service tells
    anybody, without a key.
    """
    told = _verdict(shown.seal, service_asked(url), key, store_path)
    click.echo(written_json(told) if as_json else told.status)
    if shown.instead:
        click.echo(READ.format(shown.instead), err=True)
    if told.offer is not UNSET and not as_json:
        click.echo(_promise(told.offer), err=True)
    if told.status != "valid":
        click.get_current_context().exit(1)


def _verdict(shown: str, url: str | None, key: str | None, path: Path) -> SealVerdict:
    if url is None:
        with opened(path) as store:
            return verdict(shown, standing(store), now())
    with asked_service(url, key) as client:
        return client.verify_seal(shown)


def _promise(offer: SealedOffer) -> str:
    """Say what a seal promises: of what, where, at which prices, until when."""
    named = (offer.sku, offer.product, offer.file_sha256)
    what = next((name for name in named if name is not UNSET), "")
    prices = ", ".join(
        f"{offer.breaks_hold} {each.quantity}: {each.unit_price}" for each in offer.breaks
    )
    tax = "with tax" if offer.prices_include_tax else "without tax"
    until = f"{offer.expires_at:%Y-%m-%d %H:%M} UTC"
    return f"{what} on {offer.channel}, {offer.currency} {tax}, {prices}; until {until}."
