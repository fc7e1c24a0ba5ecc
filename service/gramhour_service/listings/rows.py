"""Many products or listings at once: each row with its outcome, all of them kept or none."""

import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple, TypeVar

import msgspec
from msgspec import UNSET, UnsetType
from msgspec.structs import replace

from gramhour.contract.listing import ListingRow, ProductRow
from gramhour.contract.members import SKU_PATTERN
from gramhour.contract.noting import MOST_FAULTS
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.reading import entry_reader
from gramhour.contract.stored_listing import RowOutcome, RowOutcomes
from gramhour_service.listings.keeping import Ground, Put, listing_reader, put_listing, put_product
from gramhour_service.listings.told import cautions_of_put
from gramhour_service.store.entries import EntryKind
from gramhour_service.store.opening import writing

R = TypeVar("R", bound=msgspec.Struct)
SKU = re.compile(SKU_PATTERN)
MOST_OF_A_ROW = 50
NAME_OF = {"product": "code", "listing": "sku"}


class SentRow(NamedTuple):
    """A row as plain values, or why it could not be read; and the line it stands on, if on one.

    ``in_columns`` says that it came as cells: its faults name their columns.
    """

    sent: Any
    line: int | UnsetType = UNSET
    refused: Refused | None = None
    in_columns: bool = False


PutRow = Callable[[Any], Put]
"""Reads a row and puts it; raises ``Refused``."""


class NotKept(Exception):
    """Some rows had faults, so none was kept; ``faults`` are all of theirs, in place."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        """Keep the faults."""
        super().__init__(len(faults))
        self.faults = faults


def put_rows(
    ground: Ground, kind: EntryKind, rows: Sequence[SentRow], *, all_or_none: bool
) -> RowOutcomes:
    """Put rows into the store: all or none, or (if not so asked) those without a fault.

    Raises ``NotKept`` with the faults of all rows, each in its place.
    """
    with writing(ground.store):
        outcomes = list(_outcomes(kind, rows, _putter(ground, kind)))
        if all_or_none:
            faults = [f for each in outcomes if each.errors is not UNSET for f in each.errors]
            if len(faults) > MOST_FAULTS:
                more = Fault("", f"and more: the first {MOST_FAULTS} faults are told")
                faults = [*faults[:MOST_FAULTS], more]
            if faults:
                raise NotKept(tuple(faults))
    counts = {done: sum(each.done == done for each in outcomes) for done in _DONE}
    return RowOutcomes(**counts, rows=outcomes)


_DONE = ("added", "changed", "unchanged", "refused")


def _outcomes(kind: EntryKind, rows: Sequence[SentRow], put: PutRow) -> Iterator[RowOutcome]:
    seen: set[str] = set()
    for n, row in enumerate(rows):
        name = _name_in(row.sent, NAME_OF[kind])
        try:
            done = _put_once(row, name, NAME_OF[kind], put, seen)
        except Refused as refused:
            errors = [_placed(fault, n, row) for fault in refused.faults[:MOST_OF_A_ROW]]
            yield RowOutcome(row=n + 1, name=name or UNSET, done="refused", errors=errors)
        else:
            yield RowOutcome(
                row=n + 1,
                name=name,
                done=done.done,
                version=done.version,
                cautions=cautions_of_put(done),
            )


def _put_once(row: SentRow, name: str, member: str, put: PutRow, seen: set[str]) -> Put:
    if row.refused is not None:
        raise row.refused
    if name in seen:
        raise Refused("invalid-request", (Fault(f"/{member}", "stands twice; keep one row"),))
    done = put(row.sent)
    seen.add(name)
    return done


def _putter(ground: Ground, kind: EntryKind) -> PutRow:
    if kind == "product":
        read_product = entry_reader(ProductRow, ground.sheet)

        def put_a_product(sent: Any) -> Put:
            row = read_product(sent)
            return put_product(ground, row.code, row)

        return put_a_product
    read_listing = listing_reader(ListingRow, ground)

    def put_a_listing(sent: Any) -> Put:
        row = read_listing(sent)
        return put_listing(ground, row.sku, row)

    return put_a_listing


def _name_in(sent: Any, member: str) -> str:
    name = sent.get(member) if isinstance(sent, dict) else None
    return name if isinstance(name, str) and SKU.fullmatch(name) else ""


def _placed(fault: Fault, n: int, row: SentRow) -> Fault:
    """Say the line of a row's fault, or the place in the list of rows."""
    if row.line is not UNSET:
        at = fault.pointer or ""
        if row.in_columns and at:
            at = f"column {at[1:].replace('/', '.')}"
        return Fault(line=row.line, detail=f"{at}: {fault.detail}" if at else fault.detail)
    return replace(fault, pointer=pointer("items", n) + (fault.pointer or ""))
