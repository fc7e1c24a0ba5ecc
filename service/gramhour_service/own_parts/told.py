"""What is told of services to whoever may have a part made: what to ask by, how large it may be.

No cost, no machine, no channel: a buyer sees this.
"""

from msgspec import UNSET

from gramhour.contract.measurement import BoxSize
from gramhour.contract.rates import RateSheet
from gramhour.contract.service import Service
from gramhour.contract.services import OfferedMaterial, OpenService
from gramhour_service.own_parts.offered import Caller, open_services, room_for_parts


def told_services(sheet: RateSheet, caller: Caller) -> list[OpenService]:
    """Tell of the services that are open to a caller, in the order of their codes."""
    return [_told(code, each, sheet) for code, each in sorted(open_services(sheet, caller).items())]


def _told(code: str, service: Service, sheet: RateSheet) -> OpenService:
    assert sheet.channels is not UNSET, "the sheet is sound"
    channel, room = sheet.channels[service.channel], room_for_parts(service, sheet)
    return OpenService(
        service=code,
        name=code if service.name is UNSET else service.name,
        materials=[
            OfferedMaterial(material=each, name=_name_of(each, sheet)) for each in service.materials
        ],
        largest_box=BoxSize(x_mm=float(room.x), y_mm=float(room.y), z_mm=float(room.z)),
        multiple_of=1 if channel.multiple_of is UNSET else channel.multiple_of,
        currency=sheet.currency,
        prices_include_tax=channel.prices_include_tax,
    )


def _name_of(material: str, sheet: RateSheet) -> str:
    assert sheet.materials is not UNSET, "the sheet is sound"
    name = sheet.materials[material].name
    return material if name is UNSET else name
