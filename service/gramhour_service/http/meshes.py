"""POST /v1/measurements of a mesh: what it holds; estimated by a profile; signed for a service."""

import asyncio
import hashlib
from collections.abc import Awaitable, Callable
from typing import NamedTuple

from msgspec import UNSET
from msgspec.structs import replace

from gramhour.calls_of_measurements import MeshType
from gramhour.contract.measurement import BoxSize, Measurement, Warned
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour.contract.service import Service
from gramhour_service.http.asking import Asker
from gramhour_service.http.measured import caller_of
from gramhour_service.http.operation import CODE_TEXT, Parameter
from gramhour_service.http.parameters import Parameters
from gramhour_service.http.problems import refused
from gramhour_service.http.refused_files import refused_file
from gramhour_service.http.settings import MOST_FILE_BYTES
from gramhour_service.http.shop import Shop
from gramhour_service.http.toolpaths import sheet_named
from gramhour_service.http.wire import Asked
from gramhour_service.keyring.turning import key_to_sign, keyring
from gramhour_service.measuring.apart import MeasuredApart, measure_apart
from gramhour_service.measuring.bounds import Limits
from gramhour_service.measuring.bounds import Refused as RefusedFile
from gramhour_service.measuring.plate import size_warning
from gramhour_service.measuring.profile import Profile
from gramhour_service.measuring.size import Box, Plate
from gramhour_service.measuring.size import Warned as WarnedOfSize
from gramhour_service.own_parts.estimates import Wish, check_codes, estimates
from gramhour_service.own_parts.offered import (
    not_open,
    open_services,
    room_for_parts,
    rooms_of,
    too_large,
    too_small,
)
from gramhour_service.own_parts.profiles import laid_by
from gramhour_service.own_parts.signed import part_of, signed_part
from gramhour_service.seals.standing import MEASUREMENTS

LIMITS = Limits(file_bytes=MOST_FILE_BYTES)
OF_NAME: dict[str, MeshType] = {".stl": "model/stl", ".3mf": "model/3mf"}
SERVICE = Parameter(
    "service",
    "of a mesh: the service that is to make it; the answer is signed for it",
    CODE_TEXT,
    example="own-parts",
)
PROFILE = Parameter(
    "profile", "of a mesh: estimate grams and minutes by it; needs `cost`", CODE_TEXT
)
NOZZLE = Parameter(
    "nozzle", "of a mesh: with this nozzle, beside `machine`; needs `cost`", CODE_TEXT
)
OF_MESHES = (SERVICE, PROFILE, NOZZLE)
RATES = ("rates_revision", "rates_on")
TakeIn = Callable[[], Awaitable[bytes | bytearray]]


OF_A_PROFILE = ("machine", "nozzle", "material")
NEEDS_COST = ("profile", *OF_A_PROFILE, *RATES)


class MeshAsked(NamedTuple):
    """What a mesh is for, by which rates: nothing, a profile, or an open service."""

    wish: Wish | None = None
    sheet: RateSheet | None = None
    service: Service | None = None


async def measured_mesh(
    request: Asked, parameters: Parameters, kind: str, take_in: TakeIn
) -> Measurement:
    """Measure a mesh; the file is taken in when all else is known to be right.

    Raises ``Refused``.
    """
    shop: Shop = request.app.state.shop
    asker: Asker = request.state.asker
    asked = mesh_asked(shop, asker, parameters)
    return await measured_as(shop, asker, asked, kind, await take_in())


async def measured_as(
    shop: Shop, asker: Asker, asked: MeshAsked, kind: str, content: bytes | bytearray
) -> Measurement:
    """Measure a mesh for what it is asked for, and sign it for a service. Raises ``Refused``."""
    profiles = profiles_of(asked)
    limits = LIMITS._replace(triangles=shop.settings.mesh_triangles)

    def measured() -> tuple[MeasuredApart, Measurement]:
        found = measure_apart(content, kind, limits, profiles, room_of(asked))
        return found, measurement_of(content, kind, found, asked, sees_costs=asker.sees_costs)

    try:
        found, measurement = await asyncio.to_thread(measured)
    except RefusedFile as error:
        raise refused_file(error) from error
    if asked.wish is None or not shop.has_store():
        return measurement
    return await _signed(shop, measurement, found, profiles[0])


def mesh_asked(shop: Shop, asker: Asker, parameters: Parameters) -> MeshAsked:
    """Read what a mesh is for. Raises ``Refused`` with every fault found."""
    if not asker.sees_costs:
        _refuse_what_needs_cost(parameters)
    service, profile = parameters.code("service"), parameters.code("profile")
    if service is not None and profile is not None:
        parameters.refuse("profile", "the service has its own; leave one of them away")
    for name in OF_A_PROFILE:
        if name in parameters and profile is None:
            parameters.refuse(name, "says nothing of a mesh without a profile, or is a service's")
    found = sheet_named(shop, parameters) if asker.door != "no store" else None
    parameters.check()
    if found is None:
        if service is not None or profile is not None:
            raise refused("no-rates", "no rates are in force that say how it is printed")
        return MeshAsked()
    sheet = found.in_force.sheet
    if service is not None:
        return for_service(service, asker, sheet)
    return MeshAsked(_wish(parameters, profile, sheet), sheet)


def _refuse_what_needs_cost(parameters: Parameters) -> None:
    faults = [
        Fault(UNSET, "this needs a key with scope cost; name a service instead", parameter=name)
        for name in NEEDS_COST
        if name in parameters
    ]
    if faults:
        raise Refused("key-may-not", tuple(faults))


def for_service(code: str, asker: Asker, sheet: RateSheet) -> MeshAsked:
    """Ask for what an open service makes of a mesh. Raises ``Refused``."""
    services = open_services(sheet, caller_of(asker))
    service = services.get(code)
    if service is None:
        fault = Fault(UNSET, not_open(code, services), parameter="service")
        raise Refused("invalid-request", (fault,))
    wish = Wish(service.profile, service.machine, service.nozzle, service.materials)
    return MeshAsked(wish, sheet, service)


def _wish(parameters: Parameters, profile: str | None, sheet: RateSheet) -> Wish | None:
    if profile is None:
        return None
    named = {name: parameters.code(name) for name in OF_A_PROFILE}
    parameters.check()
    check_codes({"profile": profile, **named}, sheet)
    material = named["material"]
    materials = () if material is None else (material,)
    return Wish(profile, named["machine"], named["nozzle"], materials)


def profiles_of(asked: MeshAsked) -> list[Profile]:
    """Say how layers are laid of what is asked, if they are."""
    if asked.wish is None:
        return []
    assert asked.sheet is not None, "a profile is one of a sheet"
    return [laid_by(asked.wish.profile, asked.sheet)]


def room_of(asked: MeshAsked) -> Plate | None:
    """Say how large a part may be that is asked of a service."""
    if asked.service is None or asked.sheet is None:
        return None
    return room_for_parts(asked.service, asked.sheet)


def measurement_of(
    content: bytes | bytearray,
    media_type: str,
    found: MeasuredApart,
    asked: MeshAsked = MeshAsked(),  # noqa: B008 - it is frozen
    *,
    sees_costs: bool = True,
) -> Measurement:
    """Tell a measurement as the contract's answer; estimates only to who sees costs."""
    told = _told(content, media_type, found)
    box = found.measured.box
    warned = [_too_large(box, asked, sees_costs=sees_costs)]
    warned += [too_small(box, profile) for profile in profiles_of(asked)]
    more = [Warned(warning=each.word, says=each.says) for each in warned if each is not None]
    told = replace(told, warnings=[*told.warnings, *more])
    if not sees_costs or asked.wish is None or asked.sheet is None or found.laid[0] is None:
        return told
    estimated = estimates(asked.wish, box, found.laid[0], asked.sheet)
    return replace(told, estimates=estimated)


def _too_large(box: Box, asked: MeshAsked, *, sees_costs: bool) -> WarnedOfSize | None:
    """Warn of a part that is larger than its service takes, or than every machine of the shop's."""
    if asked.sheet is None:
        return None
    if asked.service is not None:
        return too_large(box, asked.service, asked.sheet)
    return size_warning(box, rooms_of(asked.sheet)) if sees_costs else None


def _told(content: bytes | bytearray, media_type: str, found: MeasuredApart) -> Measurement:
    measured = found.measured
    wall = measured.mean_wall_mm
    return Measurement(
        media_type=media_type,
        digest=hashlib.sha256(content).hexdigest(),
        volume_cm3=None if measured.volume_mm3 is None else float(measured.volume_mm3.scaleb(-3)),
        area_cm2=float(measured.area_mm2.scaleb(-2)),
        box=BoxSize(**{f"{axis}_mm": float(side) for axis, side in measured.box._asdict().items()}),
        triangles=measured.triangles,
        bodies=measured.bodies,
        hollows=measured.hollows,
        watertight=measured.watertight,
        mean_wall_mm=None if wall is None else float(wall),
        warnings=[Warned(warning=each.word, says=each.says) for each in measured.warnings],
    )


async def _signed(
    shop: Shop, measurement: Measurement, found: MeasuredApart, profile: Profile
) -> Measurement:
    """Sign what a quote needs of a measurement; the first time the key for it is made."""
    part = part_of(measurement.digest, found.measured, {profile: found.laid[0]}, shop.now())
    key = shop.read(lambda store: keyring(store, MEASUREMENTS).signs)
    if key is None:
        key = await shop.write(lambda store: key_to_sign(store, MEASUREMENTS, shop.now()))
    return replace(measurement, measurement=signed_part(part, key), valid_until=part.valid_until)
