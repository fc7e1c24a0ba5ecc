"""A quote of a measured file: the part that is shown, and what a service asks for making it."""

from collections.abc import Mapping
from datetime import datetime
from typing import NamedTuple

from msgspec.structs import replace

from gramhour.contract.answer import Quote
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.reading import read_measured_request
from gramhour_service.answer.quoting import answer_request
from gramhour_service.http.asking import Asker
from gramhour_service.http.sealing import part_seal
from gramhour_service.http.shop import Shop
from gramhour_service.own_parts.asked import quoted_as
from gramhour_service.own_parts.offered import Caller
from gramhour_service.own_parts.signed import part_shown
from gramhour_service.resolve.measured import OwnPart
from gramhour_service.seals.standing import believed_of_measurements
from gramhour_service.sheets.asked import Asked, FindSheet, sheet_asked
from gramhour_service.sheets.workload import outside_of, stored_workload

SENT = dict[str, object]


def caller_of(asker: Asker) -> Caller:
    """Say what decides which services are open to who asks."""
    return Caller(asker.channels, asker.door == "public")


class PartAsked(NamedTuple):
    """A request of what a service makes of a measured file, and the sheet to price it by.

    ``sealed_for`` says what a seal is for, if one is asked for: the same file in another material,
    or made by another service, has another price.
    """

    asked: Asked
    own: OwnPart
    sealed_for: Mapping[str, str] | None


def part_asked(
    shop: Shop, asker: Asker, find: FindSheet, sent: SENT, *, names_codes: bool
) -> PartAsked:
    """Read what is asked of a measured file.

    ``names_codes`` says whether a fault may name a code of the sheet. Raises ``Refused`` with every
    fault found.
    """
    if "rates" in sent:
        detail = "a service is one of the stored rates; leave this out, or use rate_overrides"
        raise Refused("invalid-request", (Fault("/rates", detail),))
    found, faults = sheet_asked(find, sent)
    request = read_measured_request(
        sent, None if found is None else found.in_force.sheet, names_codes=names_codes
    )
    if faults:
        raise Refused("invalid-request", faults)
    assert found is not None, "the reader asks for rates"
    believed = shop.read(believed_of_measurements) or {}
    part = part_shown(request.measurement, believed, shop.now())
    made = quoted_as(request, part, found.in_force.sheet, caller_of(asker))
    in_force = found.in_force
    asked = Asked(made.request, in_force.sheet, in_force.revision, found.on, in_force.kept)
    sealed_for = {
        "file_sha256": part.digest,
        "service": request.service,
        "material": request.material,
    }
    return PartAsked(asked, made.own, sealed_for if request.seal is True else None)


def measured_quote(shop: Shop, part: PartAsked, *, explain: bool) -> Quote:
    """Quote what a service makes of a measured file, in the cost view. Raises ``Refused``."""
    quote = answered_as(shop, part.asked, shop.now(), explain=explain, own=part.own)
    if part.sealed_for is None:
        return quote
    return replace(quote, seal=part_seal(shop, part.asked, quote, part.sealed_for))


def answered_as(
    shop: Shop,
    asked: Asked,
    now: datetime,
    *,
    explain: bool,
    own: OwnPart | None = None,
    says_when: bool = True,
) -> Quote:
    """Answer what was read, behind the workload that is stored. Raises ``Refused``.

    ``says_when`` is false where nobody is shown when it is ready: that takes a plan of builds.
    """
    outside = outside_of(asked, now, lambda: shop.read(stored_workload)) if says_when else None
    return answer_request(
        asked.request,
        asked.sheet,
        revision=asked.revision,
        on=asked.on,
        kept=asked.kept,
        outside=outside,
        explain=explain,
        own=own,
    )
