"""/own-part: a customer's own file, measured and priced by a public service of the shop's.

No file is kept: what was measured stays in the form as the signed measurement, with which the next
quantity is asked.
"""

from collections.abc import Mapping
from contextlib import nullcontext
from http import HTTPStatus
from typing import Any, NamedTuple

from litestar import Response
from litestar.datastructures import UploadFile
from litestar.exceptions import HTTPException
from msgspec import UNSET

from gramhour.contract.measurement import Measurement
from gramhour.contract.problem import Fault, Refused
from gramhour_service.http.asking import Asker, public_asker
from gramhour_service.http.meshes import OF_NAME, for_service, measured_as
from gramhour_service.http.problem_types import PROBLEMS
from gramhour_service.http.problems import refusal_of, refused
from gramhour_service.http.settings import MOST_FILE_BYTES
from gramhour_service.http.shop import Shop
from gramhour_service.http.site.asking_price import price_for
from gramhour_service.http.site.quantities import drawn, usual
from gramhour_service.http.site.seller import seller
from gramhour_service.http.site.services import Made, made
from gramhour_service.http.site.serving import page, serves_page
from gramhour_service.http.site.wish import Wish, wish_of
from gramhour_service.http.wire import Asked, parts_sent
from gramhour_service.pages.told import Told, told_of

NEEDED = {"quantity": "Say how many you need.", "made": "Choose a material."}
TEXTS = ("quantity", "made", "by", "measurement", "name")
NO_FILE = "Choose the file of your part: STL or 3MF."
OTHER_KIND = "this file is neither STL nor 3MF: export your part as one of them"
SMALL = 100_000
"""Bodies of so many bytes at most have no file to measure, or none that takes long."""
LONGEST_NAME = 100


NOTHING = wish_of(dict.fromkeys(TEXTS, ""), NEEDED)


class Part(NamedTuple):
    """A file that was measured: what people call it, what was found, and that signed."""

    name: str
    measured: Measurement | None
    token: str


@serves_page("GET", "/own-part")
async def own_part(request: Asked) -> Response[bytes]:
    """Answer the page before anything was asked."""
    shop: Shop = request.app.state.shop
    asker = public_asker(request, shop)
    ways = [] if asker is None else made(shop, asker)
    if asker is None or not ways:
        return page(request, "closed.html")
    return _page(request, "own-part.html", NOTHING, ways)


@serves_page("POST", "/own-part", most_body_bytes=MOST_FILE_BYTES)
async def own_part_asked(request: Asked) -> Response[bytes]:
    """Measure what was sent, and answer its price."""
    return await _answered(request, "own-part.html")


@serves_page("POST", "/own-part/quotation", most_body_bytes=MOST_FILE_BYTES)
async def own_part_quotation(request: Asked) -> Response[bytes]:
    """Answer the same as a quotation to print."""
    return await _answered(request, "quotation.html")


async def _answered(request: Asked, template: str) -> Response[bytes]:
    shop: Shop = request.app.state.shop
    asker = public_asker(request, shop)
    ways = [] if asker is None else made(shop, asker)
    if asker is None or not ways:
        return page(request, "closed.html")
    wish, part, told, error = NOTHING, None, None, None
    try:
        async with _place(request, shop, asker):
            form = await parts_sent(request)
            wish = wish_of({name: _text(form, name) for name in TEXTS}, NEEDED)
            way = _way(wish, ways)
            part = await _part(shop, asker, way, form)
        if not wish.faults:
            told = await _told(shop, asker, wish, way, part)
    except (Refused, HTTPException) as raised:
        error = refusal_of(raised)
        wish = wish.with_faults_of(error)
    if told is None:
        template = "own-part.html"
    answer = _page(request, template, wish, ways, part=part, told=told, error=error)
    answer.headers.update(getattr(error, "headers", {}))
    return answer


def _page(
    request: Asked,
    template: str,
    wish: Wish,
    ways: list[Made],
    *,
    part: Part | None = None,
    told: Told | None = None,
    error: Refused | None = None,
) -> Response[bytes]:
    status = HTTPStatus.UNPROCESSABLE_ENTITY if wish.faults else HTTPStatus.OK
    shop: Shop = request.app.state.shop
    return page(
        request,
        template,
        status=status if error is None else PROBLEMS[error.type].status,
        wish=wish,
        ways=ways,
        services=list(dict.fromkeys(each.named for each in ways)),
        part=part,
        told=told,
        today=shop.today(),
        seller=seller(request, shop),
        quotation="/own-part/quotation",
        back="/own-part",
        by_post=True,
        both="own",
        less="",
    )


def _place(request: Asked, shop: Shop, asker: Asker) -> Any:
    """Count a file, and wait for a place to measure in, before it is taken in.

    What is small may have none: that is seen, and counted, when it is read. Raises ``Refused``.
    """
    length = request.headers.get("content-length", "")
    if length.isdecimal() and int(length) <= SMALL:
        return nullcontext()
    shop.count(asker)
    return request.app.state.measuring


def _text(form: Mapping[str, Any], name: str) -> str:
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def _way(wish: Wish, ways: list[Made]) -> Made:
    """Find the service and the material that are asked for; the first where none is named yet."""
    asked = wish.texts["made"]
    found = next((way for way in ways if way.value == asked), None)
    if found is None and asked:
        raise Refused("invalid-request", (Fault("/material", "choose one of these"),))
    return found or ways[0]


async def _part(shop: Shop, asker: Asker, way: Made, form: Mapping[str, Any]) -> Part:
    """Measure the file that was sent, or take what was measured before. Raises ``Refused``."""
    file, token = form.get("file"), _text(form, "measurement")
    if not isinstance(file, UploadFile) or not file.filename:
        if not token:
            raise Refused("invalid-request", (Fault("/measurement", NO_FILE),))
        return Part(_text(form, "name")[:LONGEST_NAME], None, token)
    name = file.filename.replace("\\", "/").rpartition("/")[2][:LONGEST_NAME]
    kind = next((kind for end, kind in OF_NAME.items() if name.lower().endswith(end)), None)
    if kind is None:
        raise refused("cannot-be-measured", OTHER_KIND)
    found = shop.pinned_today()
    assert found is not None, "there is a service"
    content = await file.read()
    if len(content) <= SMALL:
        shop.count(asker)
    asked = for_service(way.service, asker, found.in_force.sheet)
    measured = await measured_as(shop, asker, asked, kind, content)
    assert measured.measurement is not UNSET, "it is signed for a service"
    return Part(name, measured, measured.measurement)


async def _told(shop: Shop, asker: Asker, wish: Wish, way: Made, part: Part) -> Told:
    """Ask for the price, at many quantities so that the curve can be drawn. Raises ``Refused``."""
    assert wish.quantity is not None, "it has no faults"
    found = shop.pinned_today()
    assert found is not None, "there is a service"
    sheet = found.in_force.sheet
    marked = usual(sheet, way.service)
    sent = {
        "measurement": part.token,
        "service": way.service,
        "material": way.material,
        "quantity": wish.quantity,
        "breaks": drawn(sheet, way.service, wish.quantity),
    }
    quote = await price_for(shop, asker, sent)
    name = f"{part.name or 'your part'} in {way.says}"
    return told_of(quote, name, wish.by, includes_tax=way.includes_tax, marked=marked)
