"""The application for a caller in the same process, who needs no key: they hold the store's file.

The caller is let in like any other, by ``admit``: with a key, made at random each time, that only
this application knows. It stands in no store, and nothing here listens on a socket.
"""

import hmac
import secrets
import tempfile
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

import msgspec
from litestar import Litestar
from msgspec import UNSET

from gramhour.contract.documents import parse_json, parse_toml
from gramhour.contract.problem import Fault, Problem, Refused
from gramhour_service.http.app import create_app, world_clock
from gramhour_service.http.problem_types import PROBLEMS
from gramhour_service.http.problems import problem_of
from gramhour_service.http.settings import Settings
from gramhour_service.http.shop import Shop
from gramhour_service.resolve.sheet import sound_sheet
from gramhour_service.sheets.saving import import_sheet
from gramhour_service.store.keys import AccessKey
from gramhour_service.store.opening import open_store
from gramhour_service.store.trouble import StoreTrouble

NAME = "this process"
SCOPES = frozenset({"cost", "listings", "rates"})
ALWAYS = date(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class Local:
    """The application, the key that opens it, and a way to close it."""

    app: Litestar
    key: str
    close: Callable[[], None]


class LocalShop(Shop):
    """A shop that also knows the key of its own process."""

    def __init__(self, own_key: str, settings: Settings, now: Callable[[], datetime]) -> None:
        """Open what ``settings`` name."""
        self._own_key = own_key.encode()
        super().__init__(settings, now)

    def find_key(self, secret: str) -> AccessKey | None:
        """Find the key that a caller shows."""
        if hmac.compare_digest(secret.encode(), self._own_key):
            return AccessKey(NAME, SCOPES, frozenset(), self.now(), None, None)
        return super().find_key(secret)


def open_local(
    store: Path | None, rates: Any, now: Callable[[], datetime] = world_clock
) -> Local | Problem:
    """Open the application over a store, or over a sheet of rates that holds on any day.

    ``rates`` is a sheet as plain values or as a type of the contract, or a TOML or JSON file.
    """
    key = secrets.token_urlsafe(32)
    with ExitStack() as stack:
        try:
            if rates is not None:
                store = Path(stack.enter_context(tempfile.TemporaryDirectory())) / "rates"
                _keep(store, rates, now())
            elif store is not None:
                open_store(store).close()
            app = create_app(Settings(store=store), now, partial(LocalShop, key))
        except Refused as refused:
            return problem_of(refused)
        except StoreTrouble as trouble:
            return _told(trouble)
        stack.callback(app.state.shop.close)
        return Local(app, key, stack.pop_all().close)


def _keep(store: Path, rates: Any, now: datetime) -> None:
    """Put a sheet into a new store, in force on every day. Raises ``Refused``."""
    sheet = sound_sheet(_plain(rates))
    opened = open_store(store, create=True)
    try:
        import_sheet(
            opened, sheet, now=now, made_by=NAME, note="rates given", effective_from=ALWAYS
        )
    finally:
        opened.close()


def _plain(rates: Any) -> Any:
    """Give a sheet as plain values. Raises ``Refused`` for a file that cannot be read."""
    if isinstance(rates, Path):
        parse = parse_json if rates.suffix == ".json" else parse_toml
        try:
            return parse(rates.read_bytes())
        except (OSError, ValueError) as error:  # of a path with a zero character
            _refuse(f"the file {rates} cannot be read: {error}")
    if isinstance(rates, msgspec.Struct):
        return msgspec.to_builtins(rates)
    try:
        return _with_text_keys(rates)
    except RecursionError:
        _refuse("it is nested too deeply")


def _with_text_keys(value: Any) -> Any:
    """Write every key as a text, so that one that is none is refused as an unknown member."""
    if isinstance(value, dict):
        return {str(key): _with_text_keys(each) for key, each in value.items()}
    return [_with_text_keys(each) for each in value] if isinstance(value, list) else value


def _refuse(detail: str) -> NoReturn:
    raise Refused("malformed-document", (Fault("", detail),))


def _told(trouble: StoreTrouble) -> Problem:
    """Tell the trouble of a store; whoever opens the file themselves may know where it is."""
    kind = trouble.kind if trouble.kind in PROBLEMS else "store-unavailable"
    return problem_of(Refused(kind, (Fault(UNSET, trouble.detail),)))
