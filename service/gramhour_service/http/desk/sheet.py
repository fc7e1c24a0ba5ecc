"""What the desk's forms need to know of the rates: codes to choose from, currency, day."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from gramhour.contract.rates import KINDS
from gramhour_service.http.desk.api import ask
from gramhour_service.http.desk.serving import needed
from gramhour_service.http.problems import refused
from gramhour_service.http.wire import Asked
from gramhour_service.pages.desk.forms import Codes

NOT_FOUND = 404


class Sheet(NamedTuple):
    """The rates in force, and what may be chosen of them."""

    revision: int
    on: str
    rates: Mapping[str, Any]
    codes: Codes

    @property
    def currency(self) -> str:
        """Say the currency of all money."""
        return str(self.rates["currency"])


async def sheet_of(request: Asked, on: str = "") -> Sheet:
    """Read the rates of a day; today's if none is named. Raises ``Refused``."""
    asked = await ask(request, "GET", "/v1/rates", query={"rates_on": on})
    if not on and asked.problem is not None and asked.status == NOT_FOUND:
        raise refused("no-rates", asked.problem.detail)
    told = needed(asked)
    rates = told["rates"]
    codes = {kind: named(rates.get(kind, {})) for kind in KINDS}
    return Sheet(told["rates_revision"], told["rates_on"], rates, codes)


def named(rates: Mapping[str, Any]) -> dict[str, str]:
    """Name rates by code, for people to choose from."""
    return {
        code: f"{rate['name']} ({code})" if rate.get("name") else code
        for code, rate in rates.items()
    }
