"""A product in other filaments; which rates a product uses, and which channels pack in what."""

from collections.abc import Mapping

from msgspec import UNSET
from msgspec.structs import replace

from gramhour.contract.listing import ProductEntry, Variant
from gramhour.contract.product import Product
from gramhour.contract.rates import RateSheet
from gramhour_service.store.rates import Key

AS_DESCRIBED = ""
"""Stands for no variant: the product in the filaments that it is described with."""


def swapped(product: Product, materials: Mapping[str, str]) -> Product:
    """Put other filaments in place of a product's."""
    if product.pieces is UNSET:
        return product
    pieces = [
        replace(
            piece,
            feed=[replace(f, material=materials.get(f.material, f.material)) for f in piece.feed],
        )
        for piece in product.pieces
    ]
    return replace(product, pieces=pieces)


def variants_of(entry: ProductEntry) -> dict[str, Product]:
    """List the product as described, and in each variant by its name."""
    variants: list[Variant] = [] if entry.variants is UNSET else entry.variants
    others = {each.name: swapped(entry.product, each.materials) for each in variants}
    return {AS_DESCRIBED: entry.product, **others}


def filaments_of(product: Product) -> frozenset[str]:
    """Name the filaments that a product is printed in."""
    pieces = [] if product.pieces is UNSET else product.pieces
    return frozenset(feed.material for piece in pieces for feed in piece.feed)


def rates_used(product: Product) -> frozenset[Key]:
    """Name the rates that a product's cost depends on, beside the shop's own and a channel's."""
    pieces = [] if product.pieces is UNSET else product.pieces
    components = [] if product.components is UNSET else product.components
    return frozenset(
        {
            *(("materials", code) for code in filaments_of(product)),
            *(("machines", piece.machine) for piece in pieces),
            *(("nozzles", piece.nozzle) for piece in pieces if piece.nozzle is not UNSET),
            *(("components", use.component) for use in components),
        }
    )


def channels_packing(sheet: RateSheet, components: frozenset[str]) -> frozenset[str]:
    """Name the channels whose orders are packed in one of several components."""
    if sheet.channels is UNSET:
        return frozenset()
    return frozenset(
        code
        for code, channel in sheet.channels.items()
        if channel.packing is not UNSET
        and any(packing.component in components for packing in channel.packing)
    )
