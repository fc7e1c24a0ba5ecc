"""Where a command asks: a running service, or the store on this machine."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

import click
from click.core import ParameterSource

from gramhour.client import Client
from gramhour.contract.problem import Fault, Refused
from gramhour.errors import GramhourError, NotFinished, Refusal
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault, placed
from gramhour_service.commandline.store import json_option, store_option

Command = TypeVar("Command", bound=Callable[..., object])


url_option = click.option(
    "--url", envvar="GRAMHOUR_URL", metavar="URL", help="Ask a running service; or GRAMHOUR_URL."
)
key_option = click.option(
    "--key", envvar="GRAMHOUR_KEY", metavar="KEY", help="Your key there; better in GRAMHOUR_KEY."
)


def service_options(command: Command) -> Command:
    """Add the options that name a running service, the store, and the form of the result."""
    for option in (
        json_option,
        click.option(
            "--key", envvar="GRAMHOUR_KEY", metavar="KEY", help="Your key there; or GRAMHOUR_KEY."
        ),
        click.option(
            "--url",
            envvar="GRAMHOUR_URL",
            metavar="URL",
            help="Ask a running service, not the store; or GRAMHOUR_URL.",
        ),
        store_option,
    ):
        command = option(command)
    return command


def service_asked(url: str | None) -> str | None:
    """Say which service is meant; none if a store is named more plainly, or neither is."""
    if not is_typed("store_path"):
        if is_typed("key") and url is None:
            raise click.UsageError("--key is for a running service: name it with --url")
        return url
    if is_typed("url"):
        raise click.UsageError("--url and --store exclude each other; give one of them")
    return None


def is_typed(option: str) -> bool:
    """Say whether an option stands on the command line, not in the environment."""
    source = click.get_current_context().get_parameter_source(option)
    return source is ParameterSource.COMMANDLINE


ABOUT_THE_SERVICE = frozenset({"key-needed", "key-may-not", "no-such-path", "store-unavailable"})
"""Refusals that are no fault of the request's."""
Place = Callable[[Refused, str], NotAnswered]


@contextmanager
def asked_service(
    url: str, key: str | None, file: str | None = None, place: Place = placed
) -> Iterator[Client]:
    """Ask a running service for as long as a command needs it.

    Raises ``NotAnswered`` with what it refuses, or why it gives no answer. Faults of a request
    stand in the ``file`` that it came from, if it came from one; ``place`` says how.
    """
    try:
        with Client(url=url, key=key) as client:
            yield client
    except Refusal as refusal:
        at = url if file is None or refusal.type in ABOUT_THE_SERVICE else file
        raise place(refused_by(refusal), at) from None
    except NotFinished as error:
        raise NotAnswered("repricing-failed", [PlacedFault(url, "", str(error))]) from None
    except (GramhourError, ValueError) as error:
        raise NotAnswered("no-answer", [PlacedFault(url, "", str(error))]) from None


def refused_by(refusal: Refusal) -> Refused:
    """Tell what a service refuses as our own refusals are told, a key by its option."""
    if refusal.type == "key-needed":
        return Refused(refusal.type, tuple(Fault("", by_option(f.detail)) for f in refusal.faults))
    return Refused(refusal.type, tuple(refusal.faults))


BY_OPTION = "name your key with --key KEY, or put it into GRAMHOUR_KEY"


def by_option(detail: str) -> str:
    """Say where a command is told the key that a service asks for."""
    for sent in ("send a key: ", "send the key as "):
        detail = detail.replace(f"{sent}Authorization: Bearer KEY", BY_OPTION)
    return detail if BY_OPTION in detail else f"{detail}; {BY_OPTION}"
