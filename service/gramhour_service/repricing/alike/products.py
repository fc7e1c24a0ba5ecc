"""Products that are made alike: what they must share, and one that stands for all of them."""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from gramhour_service.calculation.job import Feed, Material, Piece, Product, Work

Column = Callable[[list[Decimal]], Any]
"""Puts one number of each product together: see ``column``."""


def likeness(product: Product) -> Hashable | None:
    """Name what products share that the same rules apply to in the same way.

    Nothing is like one that buys filament in whole packs, which are counted by the gram.
    """
    if any(feed.whole_packs for piece in product.pieces for feed in piece.feeds):
        return None
    work = product.work
    return (
        tuple([_likeness(piece) for piece in product.pieces]),
        tuple([_needed(need) for need in product.components]),
        tuple([_needed(need) for need in product.packaging]),
        (work.learning_pct, work.learning_until, work.made_before),
        (product.design_fee.share, product.design_fee.one_off_units),
        product.remade,
    )


def _likeness(piece: Piece) -> Hashable:
    codes = [feed.material.code for feed in piece.feeds]
    return (
        piece.machine.code,
        None if piece.nozzle is None else piece.nozzle.code,
        tuple([codes.index(code) for code in codes]),
        piece.pieces_per_build,
        piece.count,
        piece.own_yield_share is None,
    )


def _needed(need: Any) -> Hashable:
    return need.component.code, need.per_unit, need.per_order


def standing_for(products: Sequence[Product], column: Column) -> Product:
    """Make one product of many that are alike, with many numbers in place of each."""
    first = products[0]
    return replace(
        first,
        pieces=tuple(
            [
                _piece(pieces, column)
                for pieces in zip(*[product.pieces for product in products], strict=True)
            ]
        ),
        work=_work([product.work for product in products], column),
        design_fee=replace(
            first.design_fee,
            per_unit=column([product.design_fee.per_unit for product in products]),
            one_off=column([product.design_fee.one_off for product in products]),
        ),
    )


def _piece(pieces: Sequence[Piece], column: Column) -> Piece:
    first = pieces[0]
    feeds = zip(*[piece.feeds for piece in pieces], strict=True)
    own_yields = [each for piece in pieces if (each := piece.own_yield_share) is not None]
    return replace(
        first,
        feeds=tuple([_feed(each, column) for each in feeds]),
        print_min=column([piece.print_min for piece in pieces]),
        per_build_min=column([piece.per_build_min for piece in pieces]),
        power_w=column([piece.power_w for piece in pieces]),
        own_yield_share=column(own_yields) if own_yields else None,
    )


def _feed(feeds: Sequence[Feed], column: Column) -> Feed:
    return Feed(
        material=_material([feed.material for feed in feeds], column),
        grams=column([feed.grams for feed in feeds]),
        per_build_g=column([feed.per_build_g for feed in feeds]),
        whole_packs=False,
    )


def _material(materials: Sequence[Material], column: Column) -> Material:
    return replace(
        materials[0],
        price_per_g=column([material.price_per_g for material in materials]),
        yield_share=column([material.yield_share for material in materials]),
        failure_factor=column([material.failure_factor for material in materials]),
        abrasion=column([material.abrasion for material in materials]),
    )


def _work(works: Sequence[Work], column: Column) -> Work:
    return replace(
        works[0],
        order_min=column([work.order_min for work in works]),
        build_min=column([work.build_min for work in works]),
        unit_min=column([work.unit_min for work in works]),
    )
