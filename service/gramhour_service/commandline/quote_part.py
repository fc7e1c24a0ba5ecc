"""A quote of a mesh's file: measured, then priced as a service of the rates makes it.

It asks as any caller does: a running service, or the same application in this process. A part that
no service of the rates is for is made by one that stands in the request alone.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path, PurePath
from typing import Any, NamedTuple

from msgspec import UNSET
from msgspec.structs import replace
from rich.console import Console

from gramhour.calls_of_measurements import AboutMesh, MeshType
from gramhour.client import Client
from gramhour.contract.measurement import Estimate, Measurement
from gramhour.contract.problem import Fault
from gramhour.errors import GramhourError, Refusal
from gramhour_service.commandline.part_options import OF_A_PROFILE
from gramhour_service.commandline.quoted import Quoted
from gramhour_service.commandline.refusals import NotAnswered, PlacedFault
from gramhour_service.commandline.screen import paragraph
from gramhour_service.commandline.service import ABOUT_THE_SERVICE
from gramhour_service.commandline.stored import STORED, sheet_of_file
from gramhour_service.sheets.rows import plain_sheet

OWN = "this-part"
"""The code of a service that stands in a request alone."""
OPTIONS = ("service", "material", "quantity", *OF_A_PROFILE)
MARGIN = "/aim"


class Place(NamedTuple):
    """Where is asked: a running service, a sheet of a file, or the store."""

    url: str | None
    key: str | None
    sheet_file: str | None
    store_path: Path

    @property
    def rates(self) -> str:
        """Name the rates that are asked."""
        return self.sheet_file or (STORED if self.url is None else f"the rates of {self.url}")


class Wish(NamedTuple):
    """A mesh's file, and how it is to be made and sold, as the options say it."""

    file: str
    content: bytes
    media_type: MeshType
    options: Mapping[str, Any]


class Made(NamedTuple):
    """Who makes a part: what it is measured for, and what its quote names."""

    about: AboutMesh
    named: dict[str, Any]
    channel: str | None = None


class PartQuoted(NamedTuple):
    """A quote of a part, and what was measured of it."""

    quoted: Quoted
    measured: Measurement


def quoted_part(wish: Wish, at: Place, *, explain: bool) -> PartQuoted:
    """Measure a file and quote it. Raises ``NotAnswered``."""
    with _asked(wish, at) as client:
        made = _made(client, wish, at)
        measured = client.measure(wish.content, media_type=wish.media_type, **made.about)
        request = {"measurement": measured.measurement, **made.named, **_order(wish.options)}
        answer = client.quote(request, explain=explain)
        assert answer.rates_revision is not UNSET
        assert answer.rates_on is not UNSET
        stored = client.rates(rates_revision=answer.rates_revision, rates_on=answer.rates_on)
    sheet = plain_sheet(stored.rates)
    channel = made.channel or sheet["services"][made.named["service"]]["channel"]
    material = sheet["materials"][made.named["material"]].get("name", made.named["material"])
    name = f"{PurePath(wish.file).name} in {material}"
    told = {"product": {"name": name}, "channel": channel}

    def workbook() -> bytes:
        with _asked(wish, at) as client:
            return client.quote_workbook(request)

    if at.sheet_file is not None:  # which has no revisions
        answer = replace(answer, rates_revision=UNSET)
    return PartQuoted(Quoted(answer, told, sheet, at.rates, workbook), measured)


def _order(options: Mapping[str, Any]) -> dict[str, Any]:
    """Say how many, and what the price is to reach if not what the channel's does."""
    margin = options.get("margin")
    aim = {} if margin is None else {"aim": {"margin_pct": margin}}
    return {"quantity": options.get("quantity", 1), **aim}


def _made(client: Client, wish: Wish, at: Place) -> Made:
    """Say who makes it; of one service, or one material, none need be named."""
    options = wish.options
    if "profile" in options:
        return _by_profile(options)
    services = {each.service: each for each in client.all_services()}
    code = options.get("service") or _only("service", list(services), at)
    if code not in services:
        return Made({"service": code}, {"service": code, "material": options.get("material", "")})
    materials = [each.material for each in services[code].materials]
    material = options.get("material") or _only("material", materials, at)
    return Made({"service": code}, {"service": code, "material": material})


def _by_profile(options: Mapping[str, str]) -> Made:
    about: AboutMesh = {
        "profile": options["profile"],
        "machine": options["machine"],
        "nozzle": options["nozzle"],
        "material": options["material"],
    }
    service = {**{name: options[name] for name in OF_A_PROFILE}, "materials": [options["material"]]}
    named = {
        "service": OWN,
        "material": options["material"],
        "rate_overrides": {"services": {OWN: service}},
    }
    return Made(about, named, options["channel"])


def _only(option: str, codes: list[str], at: Place) -> str:
    """Take the only one there is. Raises ``NotAnswered``."""
    if len(codes) == 1:
        return codes[0]
    remedy = (
        f"name one of: {', '.join(codes)}"
        if codes
        else "no service makes own parts; add one to the rates, or name a --profile, a --machine, "
        "a --nozzle, a --material and a --channel"
    )
    raise NotAnswered("invalid-request", [PlacedFault(at.rates, f"--{option}", remedy)])


@contextmanager
def _asked(wish: Wish, at: Place) -> Iterator[Client]:
    """Ask for as long as a quote needs it. Raises ``NotAnswered``."""
    if at.url is not None and at.sheet_file is None:
        client = Client(url=at.url, key=at.key)
    elif at.sheet_file is not None:
        client = Client.local(rates=sheet_of_file(at.sheet_file))
    else:
        client = Client.local(store=at.store_path)
    try:
        with client:
            yield client
    except Refusal as refusal:
        of_service = refusal.type in ABOUT_THE_SERVICE
        faults = [_placed(fault, wish, at, of_service=of_service) for fault in refusal.faults]
        raise NotAnswered(refusal.type, faults) from None
    except (GramhourError, ValueError) as error:
        raise NotAnswered("no-answer", [PlacedFault(at.rates, "", str(error))]) from None


def _placed(fault: Fault, wish: Wish, at: Place, *, of_service: bool) -> PlacedFault:
    """Place a fault at the option that has it, or in the rates; what is left is the file's."""
    pointer = fault.pointer or ""
    name = fault.parameter or pointer.rpartition("/")[2]
    if pointer.startswith(MARGIN):
        return PlacedFault(wish.file, "--margin", fault.detail)
    if name in OPTIONS and not pointer.startswith("/rates/"):
        return PlacedFault(at.rates, f"--{name}", fault.detail)
    if of_service or pointer.startswith("/rates/"):
        return PlacedFault(at.rates, pointer.removeprefix("/rates"), fault.detail)
    return PlacedFault(wish.file, "", fault.detail)


def show_part(console: Console, part: PartQuoted, file: str) -> None:
    """Show how large the part is, what is estimated of it, and what to look at."""
    measured = part.measured
    box, volume = measured.box, measured.volume_cm3
    solid = "" if volume is None else f"; solid volume {volume:,.2f} cm³"
    size = f"{box.x_mm:g} × {box.y_mm:g} × {box.z_mm:g} mm{solid}"
    paragraph(console, f"{PurePath(file).name}: {size}.{_estimated(part)}")
    for warned in measured.warnings:
        paragraph(console, f"{warned.warning}: {warned.says}")
    console.print()


def _estimated(part: PartQuoted) -> str:
    """Say what is estimated of the material that is quoted."""
    for each in part.measured.estimates or ():
        if _is_told(each) and f"{each.material}" in part.quoted.answer.at_quantity.use.feedstock_g:
            pieces = "1 piece" if each.pieces_per_build == 1 else f"{each.pieces_per_build} pieces"
            return (
                f" Estimated: a piece {each.piece_g:,.2f} g; a build of {pieces} "
                f"{each.build_g:,.2f} g in {each.print_min:,.1f} min."
            )
    return ""


def _is_told(each: Estimate) -> bool:
    return each.print_min is not UNSET
