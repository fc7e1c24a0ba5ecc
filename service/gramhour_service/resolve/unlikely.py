"""Gathers what a shop is told of numbers that are hardly meant: in a request and the rates it uses.

It is for the shop's eyes alone; a rate is looked over once for all requests.
"""

from collections.abc import Iterable, Iterator

from msgspec import UNSET

from gramhour.contract.answer import Caution
from gramhour.contract.component import Component, ComponentMeasure
from gramhour.contract.product import Piece, Product
from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.job import Product as ResolvedProduct
from gramhour_service.resolve.measured import OwnPart
from gramhour_service.resolve.members import Members
from gramhour_service.resolve.rates import Rates
from gramhour_service.resolve.relative import OF_A_SHOP, doubtful_prices, said_of
from gramhour_service.resolve.sizes import unlikely_sizes
from gramhour_service.resolve.usual import unusual, unusual_in_rate, unusual_product

UNLIKELY = "unlikely size"

MOST_IN_ONE: dict[ComponentMeasure, int] = {"piece": 1_000, "m": 200, "g": 10_000, "ml": 10_000}
"""Of a bought-in part in a unit or an order; common practice, no source."""


def unlikely_numbers(
    request: QuoteRequest, product: ResolvedProduct, rates: Rates, own: OwnPart | None
) -> tuple[Caution, ...]:
    """Tell of a described product, and of the rates it uses, what is hardly meant as it stands."""
    described = request.product
    whose = "Product" if own is None else f"Service {own.code}"
    said = [*unlikely_sizes(product)]
    said += unusual_product(described, whose) if own is None else unusual(described, whose)
    said += _counts(described, rates)
    said += rates.once_for_the_shop("unlikely", lambda: [*unusual(rates.sheet, "Shop")])
    used = dict.fromkeys((("channels", request.channel), *_used(described)))
    doubts = rates.once_for_the_shop("doubtful", lambda: doubtful_prices(rates.sheet))
    said += said_of(doubts, {*OF_A_SHOP, *used})
    for kind, code in used:
        said += rates.also("unlikely", kind, code, _of_rate)
    return as_cautions(said)


def unlikely_in_request(request: QuoteRequest) -> tuple[Caution, ...]:
    """Tell what is hardly meant of the aim and the discount that a request names."""
    if request.aim is UNSET and request.discount_pct is UNSET:
        return ()
    return as_cautions(unusual(request, "Request"))


def as_cautions(said: Iterable[str]) -> tuple[Caution, ...]:
    """Tell what is hardly meant as the cautions of an answer."""
    return tuple(Caution(hazard=UNLIKELY, says=each) for each in said)


def _of_rate(rate: Members) -> tuple[str, ...]:
    kind, code = map(str, rate.place[-2:])
    return tuple(unusual_in_rate(kind, code, rate.struct))


def _used(product: Product) -> Iterator[tuple[str, str]]:
    """List the rates that a product uses, by kind and code, as often as it names them."""
    for piece in [] if product.pieces is UNSET else product.pieces:
        yield "machines", piece.machine
        if piece.nozzle is not UNSET:
            yield "nozzles", piece.nozzle
        for code in _filaments(piece):
            yield "materials", code
        if piece.profile is not UNSET:
            yield "profiles", piece.profile
    for use in [] if product.components is UNSET else product.components:
        yield "components", use.component


def _filaments(piece: Piece) -> Iterator[str]:
    if piece.material is not UNSET:
        yield piece.material
    for feed in [] if piece.feed is UNSET else piece.feed:
        yield feed.material


def _counts(product: Product, rates: Rates) -> Iterator[str]:
    for use in [] if product.components is UNSET else product.components:
        own = rates.members("components", use.component).struct
        assert isinstance(own, Component)
        measure: ComponentMeasure = "piece" if own.measure is UNSET else own.measure
        most = MOST_IN_ONE[measure]
        if use.count is not UNSET and use.count > most:
            per = "unit" if use.per is UNSET else use.per
            unit = "pieces" if measure == "piece" else measure
            yield (
                f"Product: count of the component {use.component} is {use.count:f} {unit} in one "
                f"{per}; up to {most} is common. Check that it is in {unit}, and of one {per}."
            )
