"""A product as an alternative makes it, and where a fault of that stands in what was sent."""

import difflib
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from msgspec import UNSET
from msgspec.structs import replace

from gramhour.contract.comparison import Alternative, ComparisonRequest, PieceChange
from gramhour.contract.noting import shown
from gramhour.contract.problem import Fault, pointer
from gramhour.contract.product import Feed, Piece, Product
from gramhour_service.listings.variants import filaments_of_piece

OF_MINUTES = ("print_min", "per_build_min")
OF_PIECE = ("machine", "nozzle", "pieces_per_build", "profile", *OF_MINUTES)
OF_FEED = ("mass_g", "per_build_g")
OF_A_FULL_BUILD = ("mass_g", "print_min")
PLACE_OF_A_PIECE = 3
"""Steps of a pointer to it: /product/pieces/0."""


class Changed(NamedTuple):
    """A product as an alternative makes it; by piece, which of its changes touch it, in order."""

    product: Product
    by_piece: dict[int, list[int]]


def faults_of_labels(alternatives: Sequence[Alternative]) -> Iterator[Fault]:
    """Find labels that stand twice: an answer names alternatives by them."""
    seen: set[str] = set()
    for n, alternative in enumerate(alternatives):
        if alternative.label in seen:
            yield Fault(
                pointer("alternatives", n, "label"),
                f"{shown(alternative.label)} stands twice; give each its own",
            )
        seen.add(alternative.label)


def changed(request: ComparisonRequest, number: int, faults: list[Fault]) -> Changed:
    """Make the product in the way of an alternative; what cannot be is noted in ``faults``."""
    alternative, product = request.alternatives[number], request.product
    pieces = [] if product.pieces is UNSET else list(product.pieces)
    by_piece: dict[int, list[int]] = {}
    for n, change in enumerate([] if alternative.pieces is UNSET else alternative.pieces):
        place = ("alternatives", number, "pieces", n)
        touched = _touched(change, pieces, place, faults)
        faults += _faults_of_swaps(change, [pieces[at] for at in touched], place)
        faults += _faults_of_feed(change, [pieces[at] for at in touched], place)
        faults += _faults_of_shape(change, [pieces[at] for at in touched], place)
        for at in touched:
            pieces[at] = _changed_piece(pieces[at], change)
            by_piece.setdefault(at, []).append(n)
    made = product if product.pieces is UNSET else replace(product, pieces=pieces)
    faults += _faults_of_purchase(alternative, pieces, number)
    return Changed(made, by_piece)


def _touched(
    change: PieceChange, pieces: list[Piece], place: tuple[str | int, ...], faults: list[Fault]
) -> list[int]:
    """Find the pieces that a change is of."""
    if change.piece is UNSET:
        return list(range(len(pieces)))
    names = [piece.name for piece in pieces if piece.name is not UNSET]
    if change.piece not in names:
        near = difflib.get_close_matches(change.piece, names, n=1)
        known = f"; did you mean '{near[0]}'?" if near else _all_names(names)
        detail = f"the product has no piece {shown(change.piece)}{known}"
        faults.append(Fault(pointer(*place, "piece"), detail))
    return [at for at, piece in enumerate(pieces) if piece.name == change.piece]


def _all_names(names: Sequence[str]) -> str:
    if not names:
        return ": its pieces have no names; give them some"
    return f"; it has {', '.join(map(shown, names[:10]))}"


def _faults_of_swaps(
    change: PieceChange, pieces: list[Piece], place: tuple[str | int, ...]
) -> Iterator[Fault]:
    used = {code for piece in pieces for code in filaments_of_piece(piece)}
    for material in {} if change.materials is UNSET or not pieces else change.materials:
        if material not in used:
            detail = f"nothing is printed in it there; what is: {', '.join(sorted(used))}"
            yield Fault(pointer(*place, "materials", material), detail)


def _faults_of_feed(
    change: PieceChange, pieces: list[Piece], place: tuple[str | int, ...]
) -> Iterator[Fault]:
    """Grams are of one filament: of a piece that has several nobody knows of which."""
    several = [piece for piece in pieces if len(filaments_of_piece(piece)) > 1]
    for name in OF_FEED:
        if several and getattr(change, name) is not UNSET:
            count = len(filaments_of_piece(several[0]))
            detail = f"{_which(several[0])} has {count} filaments; describe it as another product"
            yield Fault(pointer(*place, name), detail)


def _faults_of_shape(
    change: PieceChange, pieces: list[Piece], place: tuple[str | int, ...]
) -> Iterator[Fault]:
    """A profile is of a shape; a full build that stands in its place is described whole."""
    described = [piece for piece in pieces if piece.geometry is UNSET]
    if change.profile is not UNSET and described:
        detail = (
            f"{_which(described[0])} is described by its feed and print_min: give it a geometry, "
            "which a profile estimates from, or change those"
        )
        yield Fault(pointer(*place, "profile"), detail)
    shaped = [piece for piece in pieces if piece.geometry is not UNSET]
    missing = [name for name in OF_A_FULL_BUILD if getattr(change, name) is UNSET]
    if shaped and missing and change.profile is UNSET:
        for name in (*OF_FEED, *OF_MINUTES):
            if getattr(change, name) is not UNSET:
                detail = (
                    f"{_which(shaped[0])} is estimated from its geometry: "
                    f"give {' and '.join(OF_A_FULL_BUILD)} in its place"
                )
                yield Fault(pointer(*place, name), detail)
    elif shaped and change.profile is not UNSET and len(missing) < len(OF_A_FULL_BUILD):
        detail = "grams and minutes are given, or estimated by a profile: leave one of them out"
        yield Fault(pointer(*place, "profile"), detail)


def _which(piece: Piece) -> str:
    return "a piece" if piece.name is UNSET else f"the piece {shown(piece.name)}"


def _faults_of_purchase(
    alternative: Alternative, pieces: list[Piece], number: int
) -> Iterator[Fault]:
    """What is bought must be used: else nothing of what it costs to run could be left out."""
    purchase = alternative.purchase
    if purchase is UNSET:
        return
    if number == 0:
        detail = "what is bought is judged against the first alternative: name today's way first"
        yield Fault(pointer("alternatives", number, "purchase"), detail)
    for name in ("machine", "nozzle"):
        code = getattr(purchase, name)
        if code is not UNSET and code not in [getattr(piece, name) for piece in pieces]:
            detail = f"nothing of this alternative is printed with '{code}'; change a piece to it"
            yield Fault(pointer("alternatives", number, "purchase", name), detail)


def _changed_piece(piece: Piece, change: PieceChange) -> Piece:
    members = _given(change, OF_PIECE)
    if piece.feed is not UNSET:
        feed = [_changed_feed(each, change) for each in piece.feed]
        return replace(piece, feed=feed, **members)
    assert piece.material is not UNSET, "a piece without feed has a shape and a material"
    material = _material(piece.material, change)
    if change.mass_g is UNSET or change.print_min is UNSET:
        estimated = {name: value for name, value in members.items() if name not in OF_MINUTES}
        return replace(piece, material=material, **estimated)
    feed = [_changed_feed(Feed(material=material), change)]
    described = {"feed": feed, "geometry": UNSET, "profile": UNSET, "material": UNSET}
    return replace(piece, **{**members, **described})


def _changed_feed(feed: Feed, change: PieceChange) -> Feed:
    """Put in another filament or other grams; grams stand in place of a volume or a length."""
    members = _given(change, OF_FEED) | {"material": _material(feed.material, change)}
    if change.mass_g is not UNSET:
        members |= {"volume_cm3": UNSET, "length_m": UNSET}
    return replace(feed, **members)


def _material(code: str, change: PieceChange) -> str:
    if change.material is not UNSET:
        return change.material
    return code if change.materials is UNSET else change.materials.get(code, code)


def _given(change: PieceChange, names: tuple[str, ...]) -> dict[str, Any]:
    members = {name: getattr(change, name) for name in names}
    return {name: value for name, value in members.items() if value is not UNSET}


def placed(fault: Fault, request: ComparisonRequest, number: int, made: Changed) -> Fault | None:
    """Say where a fault of an alternative's quote stands in the comparison that was sent.

    None where it stands elsewhere already: the quote's quantity is one of its breaks too.
    """
    steps = (fault.pointer or "").split("/")[1:]
    if steps[:1] == ["quantity"]:
        return None
    if steps[:1] == ["breaks"]:
        return Fault(pointer("quantities", *steps[1:]), fault.detail)
    if steps == ["aim", "unit_price"] and request.aim is UNSET:  # it stands in for an aim
        return Fault("/market_price", fault.detail)
    if steps[:2] != ["product", "pieces"] or len(steps) < PLACE_OF_A_PIECE:
        return fault
    changes = made.by_piece.get(int(steps[2]), [])
    if not changes:
        return fault
    sent = request.alternatives[number].pieces
    assert sent is not UNSET, "its changes touch a piece"
    for n in reversed(changes):
        if getattr(sent[n], steps[-1], UNSET) is not UNSET:
            return Fault(pointer("alternatives", number, "pieces", n, steps[-1]), fault.detail)
    return Fault(pointer("alternatives", number, "pieces", changes[-1]), fault.detail)
