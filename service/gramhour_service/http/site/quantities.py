"""At which quantities the price of an own part is asked, so that its curve can be drawn."""

from msgspec import UNSET

from gramhour.contract.rates import RateSheet
from gramhour_service.listings.asked import multiple_sold
from gramhour_service.resolve.request import usual_breaks

COUNTED = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100)
"""Closer where a price moves more: it falls by shares of what is paid once."""
MOST = 45
"""Quantities in all; an answer has 50 at most."""


def usual(sheet: RateSheet, service: str) -> list[int]:
    """List the quantities that the shop itself names, or where it names none a few of ours."""
    multiple = _multiple(sheet, service)
    return list(usual_breaks(sheet, multiple)) or [each * multiple for each in (1, 5, 10, 25)]


def drawn(sheet: RateSheet, service: str, asked: int) -> list[int]:
    """List the quantities to ask for: those that are named, and more around them and the asked."""
    multiple = _multiple(sheet, service)
    named = usual(sheet, service)
    reach = max(*named, asked)
    steps = {each * multiple for each in COUNTED if each * multiple <= reach}
    power = COUNTED[-1] * multiple
    while power < reach:
        steps |= {power * each for each in (1, 2, 5) if power * each <= reach}
        power *= 10
    return sorted({*named, *steps})[:MOST]


def _multiple(sheet: RateSheet, service: str) -> int:
    assert sheet.services is not UNSET, "the service is one of the sheet's"
    return multiple_sold(sheet, sheet.services[service].channel)
