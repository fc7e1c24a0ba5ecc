"""Bought-in parts: from stock at the usual price, or bought for the order in exact covers."""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import ZERO, as_line, ceiling, half_even, half_up
from gramhour_service.calculation.builds import BuildPlan, Order
from gramhour_service.calculation.cover import Packs, cheapest_packs, open_price
from gramhour_service.calculation.job import Component, Offers
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import (
    Operand,
    Whole,
    Worked,
    called,
    computed,
    followed,
)


class Demand(NamedTuple):
    """What an order needs of one component; ``beyond`` is for remakes and spares on top."""

    component: Component
    need: Decimal
    beyond: Decimal
    for_packing: bool


class Purchase(NamedTuple):
    """A component bought for the order: its packs and prices, shipping, and both together.

    ``left_over`` is what the packs hold beyond the need.
    """

    component: Component
    packs: tuple[Packs, ...]
    prices: tuple[Decimal, ...]
    shipping: Decimal
    cost: Decimal
    left_over: int


@rule
def price_of_packs(offers: Offers, packs: Packs, counted: Operand | None = None) -> Decimal:
    """Packs of one size cost their number times the price open to it."""
    number = packs.packs if counted is None else counted
    return number * open_price(offers, packs.pack_quantity, packs.packs)


@rule
def shipping_of_purchase(shipping: Decimal, pieces: int) -> Decimal:
    """Shipping is paid once a purchase; who buys nothing pays none."""
    return shipping if pieces else ZERO


@rule
def usual_price_per_piece(offers: Offers, shipping: Decimal, usual_pieces: int) -> Decimal:
    """From stock, a piece costs what the usual purchase costs, over the pieces that it holds."""
    packs = cheapest_packs(offers, usual_pieces)
    paid = sum((price_of_packs(offers, each) for each in packs), ZERO)
    held: Operand = sum(each.pack_quantity * each.packs for each in packs)
    if isinstance(usual_pieces, Whole):
        found = f"{held} held by the cheapest packs for {{}}"
        alike = held == usual_pieces
        held = usual_pieces if alike else computed(Decimal(held), found, usual_pieces)
    return (paid + shipping_of_purchase(shipping, usual_pieces)) / held


@rule
def spares(need: Decimal, spare_share: Decimal) -> Decimal:
    """Spares are bought or taken beyond the need, by their percentage."""
    return need * (1 + spare_share)


@rule
def cost_from_stock(component: Component, need: Decimal) -> Decimal:
    """From stock, the need with spares is charged at the usual price of a piece, unrounded."""
    assert component.stock_price is not None
    return spares(need, component.spare_share) * component.stock_price


@rule
def with_remakes(need: Decimal, remade: Decimal) -> Decimal:
    """What is bought for the order is bought for the units made again too."""
    return need * (1 + remade)


@rule
def whole_need(need: Decimal, beyond: Decimal, *, counted_in_pieces: bool) -> int:
    """Pieces beyond the need are rounded half up to whole ones; measures are rounded up in all."""
    if counted_in_pieces:
        return int(half_even(need, 6)) + int(half_up(half_even(beyond, 6), 0))
    return ceiling(need + beyond)


def purchase(demand: Demand) -> Purchase:
    """Buy what an order needs of a component."""
    component = demand.component
    pieces = whole_need(demand.need, demand.beyond, counted_in_pieces=component.counted_in_pieces)
    packs = cheapest_packs(component.offers, pieces)
    prices = tuple(
        [
            price_of_packs(component.offers, each, number)
            for each, number in zip(packs, _numbers(demand, pieces, packs), strict=True)
        ]
    )
    shipping = shipping_of_purchase(component.shipping_per_purchase, pieces)
    return Purchase(
        component=component,
        packs=packs,
        prices=prices,
        shipping=shipping,
        cost=sum(prices, shipping),
        left_over=sum([each.pack_quantity * each.packs for each in packs]) - pieces,
    )


def _numbers(demand: Demand, pieces: int, packs: Sequence[Packs]) -> list[Operand]:
    """Say how many packs of each size there are; an explanation hears for which need, too."""
    if not isinstance(demand.beyond, Worked):
        return [each.packs for each in packs]
    code = demand.component.code
    of = (code, "packing") if demand.for_packing else (code,)
    needed = called(_told_need(demand, pieces, of), "needed", *of)
    found = "packs of {} in the cheapest set of whole packs that holds {{}}"
    return [
        called(
            computed(Decimal(each.packs), found.format(each.pack_quantity), needed),
            *("packs_of", each.pack_quantity, *of),
        )
        for each in packs
    ]


def _told_need(demand: Demand, pieces: int, of: tuple[str, ...]) -> Decimal:
    """Work out a whole need once more by what an explanation can follow."""
    if not demand.component.counted_in_pieces:
        return computed(Decimal(pieces), "ceil(round({}, 6))", demand.need + demand.beyond)
    if not demand.beyond:
        return demand.need
    beyond = called(followed(half_even(demand.beyond, 6)), "beyond_the_need", *of)
    return demand.need + followed(half_up(beyond, 0))


def cost_of_purchases(purchases: Sequence[Purchase]) -> Decimal:
    """Add up packs and shipping."""
    return sum([each.cost for each in purchases], ZERO)


def stock_components(plan: BuildPlan) -> Decimal:
    """Cost an order line's components that come from stock."""
    return sum(
        [
            cost_from_stock(need.component, need.per_unit * plan.quantity)
            for need in plan.made.product.components
            if need.component.stock_price is not None
        ],
        ZERO,
    )


def bought_components(plans: Sequence[BuildPlan]) -> tuple[Purchase, ...]:
    """Buy an order's components that are bought for it, remakes and spares included."""
    demands: dict[str, Demand] = {}
    for plan in plans:
        for each in plan.made.product.components:
            if each.component.stock_price is None:
                need, remade = each.per_unit * plan.quantity, plan.made.product.remade
                _add(demands, each.component, need, remade, for_packing=False)
    return tuple([purchase(demand) for demand in demands.values()])


@rule
def packaging_needs(order: Order) -> dict[str, tuple[Component, Decimal]]:
    """An order is packed in its products' parts per order, and in what its channel packs with."""
    needs: dict[str, tuple[Component, Decimal]] = {}
    units = sum([line.quantity for line in order.lines])
    uses = [(line.made.product.packaging, line.quantity) for line in order.lines]
    for parts, quantity in (*uses, (order.channel.packing, units)):
        for need in parts:
            component, so_far = needs.get(need.component.code, (need.component, ZERO))
            needs[component.code] = component, so_far + need.per_unit * quantity + need.per_order
    return needs


def packaging(order: Order) -> tuple[Decimal, tuple[Purchase, ...]]:
    """Pack an order: what comes from stock, and what is bought for it (never made again)."""
    from_stock = ZERO
    demands: dict[str, Demand] = {}
    for component, need in packaging_needs(order).values():
        if component.stock_price is None:
            _add(demands, component, need, ZERO, for_packing=True)
        else:
            from_stock += cost_from_stock(component, need)
    return from_stock, tuple([purchase(demand) for demand in demands.values()])


def _add(
    demands: dict[str, Demand],
    component: Component,
    need: Decimal,
    remade: Decimal,
    *,
    for_packing: bool,
) -> None:
    beyond = spares(with_remakes(need, remade), component.spare_share) - need
    if so_far := demands.get(component.code):
        need, beyond = so_far.need + need, so_far.beyond + beyond
    demands[component.code] = Demand(component, need, beyond, for_packing)


@rule
def components_line(from_stock: Decimal, bought: Decimal) -> Decimal:
    """Components: from stock at the usual price of a piece, or bought for the order as covers."""
    return as_line(from_stock + bought)


@rule
def packaging_line(from_stock: Decimal, bought: Decimal) -> Decimal:
    """Packaging: parts per order and the channel's packing, from stock or bought for the order."""
    return as_line(from_stock + bought)
