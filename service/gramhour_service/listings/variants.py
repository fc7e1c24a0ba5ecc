"""A product in other filaments; which rates a product uses, and which channels pack in what."""

from collections.abc import Mapping

from msgspec import UNSET
from msgspec.structs import replace

from gramhour.contract.listing import ProductEntry, Variant
from gramhour.contract.product import Piece, Product
from gramhour.contract.rates import RateSheet
from gramhour_service.store.rates import Key

AS_DESCRIBED = ""
"""Stands for no variant: the product in the filaments that it is described with."""


def swapped(product: Product, materials: Mapping[str, str]) -> Product:
    """Put other filaments in place of a product's."""
    if product.pieces is UNSET:
        return product
    return replace(product, pieces=[_swapped(piece, materials) for piece in product.pieces])


def _swapped(piece: Piece, materials: Mapping[str, str]) -> Piece:
    if piece.feed is not UNSET:
        feed = [replace(f, material=materials.get(f.material, f.material)) for f in piece.feed]
        return replace(piece, feed=feed)
    assert piece.material is not UNSET, "a piece without feed has a shape and a material"
    return replace(piece, material=materials.get(piece.material, piece.material))


def variants_of(entry: ProductEntry) -> dict[str, Product]:
    """List the product as described, and in each variant by its name."""
    variants: list[Variant] = [] if entry.variants is UNSET else entry.variants
    others = {each.name: swapped(entry.product, each.materials) for each in variants}
    return {AS_DESCRIBED: entry.product, **others}


def filaments_of(product: Product) -> frozenset[str]:
    """Name the filaments that a product is printed in."""
    pieces = [] if product.pieces is UNSET else product.pieces
    return frozenset(code for piece in pieces for code in filaments_of_piece(piece))


def filaments_of_piece(piece: Piece) -> tuple[str, ...]:
    """Name the filaments that a piece is printed in, in order."""
    feeds = () if piece.feed is UNSET else tuple(feed.material for feed in piece.feed)
    return feeds if piece.material is UNSET else (*feeds, piece.material)


def rates_used(product: Product) -> frozenset[Key]:
    """Name the rates that a product's cost depends on, beside the shop's own and a channel's."""
    return used_beside_filaments(product) | filaments_used(product)


def filaments_used(product: Product) -> frozenset[Key]:
    """Name those of these rates that other filaments change."""
    return frozenset([("materials", code) for code in filaments_of(product)])


def used_beside_filaments(product: Product) -> frozenset[Key]:
    """Name those of these rates that are the same in any filament."""
    pieces = [] if product.pieces is UNSET else product.pieces
    components = [] if product.components is UNSET else product.components
    return frozenset(
        {
            *(("machines", piece.machine) for piece in pieces),
            *(("nozzles", piece.nozzle) for piece in pieces if piece.nozzle is not UNSET),
            *(("profiles", piece.profile) for piece in pieces if piece.profile is not UNSET),
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
