"""An answer together with what was asked, for what the answer itself does not name."""

from collections.abc import Callable
from typing import Any, NamedTuple

from gramhour.contract.answer import Quote


class Quoted(NamedTuple):
    """An answer, with the request and the rates that it answers, both as they were sent.

    ``workbook`` makes a workbook of the same quote.
    """

    answer: Quote
    request: dict[str, Any]
    rates: dict[str, Any]
    sheet_file: str | None
    workbook: Callable[[], bytes]

    @property
    def channel(self) -> dict[str, Any]:
        """The channel as the rates have it."""
        channel: dict[str, Any] = self.rates["channels"][self.request["channel"]]
        return channel

    def name_of(self, kind: str, code: str) -> str:
        """Name a rate: what people call it, else its code."""
        return str(self.rates[kind][code].get("name", code))
