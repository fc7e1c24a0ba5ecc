"""From a request for a measured file to the quote request of what a service makes of it."""

from typing import NamedTuple

from msgspec import UNSET

from gramhour.contract.noting import shown
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet, overridden
from gramhour.contract.request import MeasuredRequest, QuoteRequest
from gramhour.contract.service import Service
from gramhour_service.measuring.estimate import Laid
from gramhour_service.measuring.size import size_of
from gramhour_service.own_parts.offered import (
    Caller,
    not_open,
    open_services,
    room_for_parts,
    too_large,
    too_small,
)
from gramhour_service.own_parts.profiles import laid_by
from gramhour_service.own_parts.signed import Part, digest_of
from gramhour_service.resolve.estimated import Shape
from gramhour_service.resolve.measured import OwnPart, product_of

OPEN_SURFACE = (
    "its surface was open or had no outside, so nobody knows what it takes: repair the mesh and "
    "measure it again"
)
OTHER_PROFILE = (
    "was not measured for this service as it prints today: measure the file again, with service={}"
)
OTHER_SIZE = (
    "the part is {}, and the service takes up to {}: split it or lay it down; if the file is in "
    "another unit than mm, export it in mm"
)
LIKE_A_PRODUCT = ("quantity", "breaks", "aim", "discount_pct", "rate_overrides", "rates_revision",
                  "rates_on", "valid_days", "from_", "workload", "seal")  # fmt: skip


class MeasuredAsked(NamedTuple):
    """What is to be quoted: a request as of a product, and the part that it is made of."""

    request: QuoteRequest
    own: OwnPart


def quoted_as(
    asked: MeasuredRequest, part: Part, sheet: RateSheet, caller: Caller
) -> MeasuredAsked:
    """Make the request of what a service makes of a part. Raises ``Refused`` with every fault."""
    if asked.rate_overrides is not UNSET:
        sheet = overridden(sheet, asked.rate_overrides)
    services = open_services(sheet, caller)
    service = services.get(asked.service)
    if service is None:
        fault = Fault("/service", not_open(asked.service, services))
        raise Refused("invalid-request", (fault,))
    faults = _faults(asked, service)
    profile = laid_by(service.profile, sheet)
    laid = part.laid.get(digest_of(profile))
    if too_large(part.box, service, sheet) is not None:
        room = size_of(room_for_parts(service, sheet))
        detail = OTHER_SIZE.format(size_of(part.box), room)
        faults.append(Fault("/measurement", detail))
    elif (small := too_small(part.box, profile)) is not None:
        faults.append(Fault("/measurement", small.says))
    elif not part.watertight:
        faults.append(Fault("/measurement", OPEN_SURFACE))
    elif laid is None:
        faults.append(Fault("/measurement", OTHER_PROFILE.format(asked.service)))
    if faults or laid is None:
        raise Refused("invalid-request", tuple(faults))
    return _made(asked, part, laid, service)


def _faults(asked: MeasuredRequest, service: Service) -> list[Fault]:
    faults = []
    if asked.material not in service.materials:
        offered = ", ".join(service.materials)
        detail = f"the service does not print in {shown(asked.material)}; it prints in: {offered}"
        faults.append(Fault("/material", detail))
    if asked.channel not in (UNSET, service.channel):
        detail = "the service sells on another channel; leave this out"
        faults.append(Fault("/channel", detail))
    return faults


def _made(asked: MeasuredRequest, part: Part, laid: Laid, service: Service) -> MeasuredAsked:
    own = OwnPart(asked.service, service, Shape(part.box, laid))
    return MeasuredAsked(
        QuoteRequest(
            product=product_of(service, asked.material),
            channel=service.channel,
            **{name: getattr(asked, name) for name in LIKE_A_PRODUCT},
        ),
        own,
    )
