"""When so many units of what is listed are ready: of all the plan, the day that a buyer is told.

The price stays the listed one; only the plan of builds is made anew, as workload and rates stand.
"""

from collections.abc import Callable
from datetime import datetime

from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from gramhour.contract.channel import Aim
from gramhour.contract.lead_time import PriceLeadTime
from gramhour.contract.problem import Refused
from gramhour.contract.workload import Workload
from gramhour_service.answer.price_view import price_view
from gramhour_service.answer.quoting import answer_request
from gramhour_service.listings.asked import asked_by
from gramhour_service.listings.offers import Offer
from gramhour_service.sheets.asked import Asked
from gramhour_service.sheets.in_force import Pinned
from gramhour_service.sheets.workload import outside_of


def ready(
    offer: Offer,
    quantity: int,
    found: Pinned,
    now: datetime,
    read: Callable[[], Workload | None],
) -> PriceLeadTime | UnsetType | None:
    """Say the day on which a listed quantity is ready; none if it cannot be scheduled or made.

    ``read`` gives the workload. Without staffed hours nothing is said, as in any quote.
    """
    sheet, listed = found.in_force.sheet, offer.price_at(quantity)
    if sheet.staffed_hours is UNSET or listed is None:
        return UNSET
    asked = replace(
        asked_by(offer.listing, offer.product, sheet),
        quantity=quantity,
        breaks=[],
        aim=Aim(unit_price=listed.unit_price),
    )
    outside = outside_of(Asked(asked, sheet, UNSET, UNSET), now, read)
    try:
        quote = answer_request(asked, sheet, kept=found.in_force.kept, outside=outside)
    except Refused:  # by the rates of today it could not be made at all; the price still holds
        return None
    return price_view(quote).lead_time
