"""From a product's description to grams, minutes and needs."""

from decimal import Decimal
from typing import NamedTuple

from gramhour.contract.product import DesignFee as DescribedFee
from gramhour.contract.work import Work as DescribedWork
from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.builds import remade_per_good_unit
from gramhour_service.calculation.failures import (
    LONGEST,
    chance_by_hours,
    failures_expected,
    largest_failure_factor,
)
from gramhour_service.calculation.feedstock import (
    filament_area,
    grams_of_length,
    grams_of_volume,
)
from gramhour_service.calculation.job import (
    DesignFee,
    Feed,
    HoursForm,
    Need,
    Piece,
    Product,
    Work,
)
from gramhour_service.resolve.estimated import Shape, full_build
from gramhour_service.resolve.members import Members
from gramhour_service.resolve.rates import Rates, need_of
from gramhour_service.resolve.sheet import check_whole


def resolve_product(product: Members, rates: Rates, shape: Shape | None = None) -> Product:
    """Resolve a product; faults are noted and stand-ins used in their place.

    ``shape`` is that of its pieces where it was measured of a mesh.
    """
    components, packaging = _needs(product, rates)
    return Product(
        pieces=tuple(
            _piece(piece, n, rates, shape)
            for n, piece in enumerate(product.parts("pieces"), start=1)
        ),
        components=components,
        packaging=packaging,
        work=_work(product.part("work", DescribedWork)),
        design_fee=_design_fee(product.part("design_fee", DescribedFee)),
        remade=remade_per_good_unit(product.share("reject_pct")),
    )


def _needs(product: Members, rates: Rates) -> tuple[tuple[Need, ...], tuple[Need, ...]]:
    """Sort a product's parts into those for its units and those that pack an order."""
    components: list[Need] = []
    packaging: list[Need] = []
    for use in product.parts("components"):
        need = need_of(use, rates.component(use.word("component")))
        if need.component.counted_in_pieces:
            count = need.per_unit or need.per_order
            check_whole(count, (*use.place, "count"), use.notes.faults)
        (packaging if need.per_order else components).append(need)
    return tuple(components), tuple(packaging)


class FullBuild(NamedTuple):
    """What a full build of a piece takes, and how many it holds."""

    feeds: tuple[Feed, ...]
    print_min: Decimal
    per_build_min: Decimal
    pieces: int


def _piece(piece: Members, number: int, rates: Rates, shape: Shape | None) -> Piece:
    build = _described(piece, rates) if piece.has("feed") else _estimated(piece, rates, shape)
    machine_code = piece.word("machine")
    machine = rates.machine(machine_code)
    own_power = piece.optional_amount("power_w")
    resolved = Piece(
        number=number,
        machine=machine,
        nozzle=rates.nozzle(piece.word("nozzle")) if piece.has("nozzle") else None,
        feeds=build.feeds,
        print_min=build.print_min,
        per_build_min=build.per_build_min,
        pieces_per_build=build.pieces,
        count=piece.whole("count"),
        power_w=rates.members("machines", machine_code).amount("power_w")
        if own_power is None
        else own_power,
        own_yield_share=piece.share("first_pass_yield_pct")
        if piece.has("first_pass_yield_pct")
        else None,
    )
    _check_piece(piece, resolved)
    return resolved


def _described(piece: Members, rates: Rates) -> FullBuild:
    """Read a full build as it was described."""
    piece.given("print_min")
    return FullBuild(
        feeds=tuple(_feed(feed, rates) for feed in piece.parts("feed")),
        print_min=piece.amount("print_min"),
        per_build_min=piece.amount("per_build_min"),
        pieces=piece.whole("pieces_per_build"),
    )


def _estimated(piece: Members, rates: Rates, shape: Shape | None) -> FullBuild:
    """Estimate a full build from a shape; its one filament is charged by the gram."""
    build = full_build(piece, rates, shape)
    feed = Feed(rates.material(build.material), build.grams, ZERO, whole_packs=False)
    return FullBuild((feed,), build.print_min, build.per_build_min, build.pieces)


def _check_piece(piece: Members, resolved: Piece) -> None:
    if resolved.per_build_min > resolved.print_min:
        piece.refuse(
            "per_build_min", f"is a part of print_min ({resolved.print_min}): it cannot be more"
        )
    if not isinstance(resolved.machine.failures, HoursForm):
        return
    if resolved.own_yield_share is not None:
        piece.refuse(
            "first_pass_yield_pct",
            f"the machine '{resolved.machine.code}' fails by the hour; remove this yield",
        )
    factor = largest_failure_factor(feed.material.failure_factor for feed in resolved.feeds)
    hours = resolved.machine.failures.hours_between_failures
    expected = failures_expected(resolved.print_min, factor, hours)
    if expected > LONGEST or not chance_by_hours(expected, resolved.machine.failures.start_share):
        piece.refuse(
            "print_min",
            f"such a build never ends: {expected:.1f} failures are expected in it, at most "
            f"{LONGEST} may be; print less at once, or look at hours_between_failures, "
            "failure_factor and start_yield_pct",
        )


def _feed(feed: Members, rates: Rates) -> Feed:
    code = feed.word("material")
    material = rates.material(code)
    grams = _grams(feed, rates.members("materials", code))
    per_build = feed.amount("per_build_g")
    if per_build > grams:
        feed.refuse("per_build_g", f"is a part of the build's {grams:f} g: it cannot be more")
    whole_packs = feed.word("charge") == "whole_packs"
    if whole_packs and material.pack is None:
        feed.refuse("charge", f"whole packs need an offer: the material '{code}' has none")
    return Feed(material, grams, per_build, whole_packs)


def _grams(feed: Members, material: Members) -> Decimal:
    if feed.has("mass_g"):
        feed.given("mass_g")
        return feed.amount("mass_g")
    by = "volume_cm3" if feed.has("volume_cm3") else "length_m"
    feed.given(by)
    needed = ["density_g_cm3"] if by == "volume_cm3" else ["density_g_cm3", "diameter_mm"]
    missing = [name for name in needed if not material.has(name)]
    if missing:
        code = feed.word("material")
        feed.refuse(by, f"the material '{code}' has no {' and no '.join(missing)}; give mass_g")
        return feed.amount(by)
    density = material.amount("density_g_cm3")
    if by == "volume_cm3":
        return grams_of_volume(feed.amount(by), density)
    return grams_of_length(feed.amount(by), filament_area(material.amount("diameter_mm")), density)


def _work(work: Members) -> Work:
    return Work(
        order_min=work.amount("order_min"),
        build_min=work.amount("build_min"),
        unit_min=work.amount("unit_min"),
        learning_pct=work.amount("learning_pct"),
        learning_until=work.whole("learning_until"),
        made_before=work.whole("made_before"),
    )


def _design_fee(fee: Members) -> DesignFee:
    return DesignFee(
        per_unit=fee.amount("per_unit"),
        one_off=fee.amount("one_off"),
        one_off_units=fee.whole("one_off_units"),
        share=fee.share("share_pct"),
    )
