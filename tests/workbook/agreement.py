"""What a recalculated workbook shows, held against the service's answer figure by figure."""

import re
from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, NamedTuple

import msgspec

from gramhour.contract.answer import Break, CostLines, Quote
from gramhour_service.answer.words import figure_name
from gramhour_service.calculation.breaks import Flag
from tests.workbook.recalculated import Sheets

LINES = {figure_name(f"cost.{name}") for name in CostLines.__struct_fields__}
FLAGS = Flag.__args__  # type: ignore[attr-defined]
PURCHASE_HEADS = 4
CODE = re.compile(r"(?:.*\()?([\w-]+)\)?(?:, as packaging)?")
LAST_PLACE = Decimal("0.0001")
SURE = Decimal("1e-15")
"""How exact a binary double is: of 10^12 it does not hold the fourth decimal."""


class Difference(NamedTuple):
    """A figure of one quantity that the workbook shows otherwise than the answer tells it."""

    figure: str
    quantity: int
    told: Any
    shown: Any

    @property
    def is_of_a_line(self) -> bool:
        return self.figure in LINES

    @property
    def is_in_the_last_place(self) -> bool:
        """Say whether an amount of 4 decimals is off by one of the last, as a few may be."""
        if not isinstance(self.told, Decimal) or not isinstance(self.shown, float):
            return False
        is_whole = self.told.as_tuple().exponent != LAST_PLACE.as_tuple().exponent
        most = 2 * LAST_PLACE + abs(self.told) * SURE
        return not is_whole and abs(self.told - Decimal(repr(self.shown))) < most


def told_by(each: Break) -> dict[str, Any]:
    """List what an answer tells of one quantity, by the names that the workbook has for it."""
    parts = {"cost.": each.cost, "fees.": each.fees, "": each}
    told: dict[str, Any] = {
        f"{part}{name}": value
        for part, struct in parts.items()
        for name, value in msgspec.structs.asdict(struct).items()
        if isinstance(value, Decimal) or value is None
    }
    for name, value in msgspec.structs.asdict(each.use).items():
        if isinstance(value, dict):
            told |= {f"use.{name}.{code}": Decimal(repr(amount)) for code, amount in value.items()}
        elif name != "builds":
            told[f"use.{name}"] = Decimal(repr(value))
    return {figure_name(name): value for name, value in told.items()} | {
        f"Flag: {flag.replace('_', ' ')}": "yes" if flag in each.flags else "" for flag in FLAGS
    }


def differences(quote: Quote, shown: Sheets) -> Iterator[Difference]:
    """Compare every figure that both have; one that the answer has the workbook must have."""
    rows = {row[0]: row[1:] for row in below_heads(shown["Quote"])}
    for column, each in enumerate([quote.at_quantity, *quote.breaks]):
        for label, told in told_by(each).items():
            row = rows.get(label)
            value = "" if row is None else row[column]
            if not agrees(told, value):
                yield Difference(label, each.quantity, told, value)
        bought: dict[Label, Any] = bought_in(shown["Purchases"], column)
        paid = told_purchases(each)
        for at in dict.fromkeys([*bought, *paid]):
            if not agrees(paid.get(at, Decimal("0.00")), bought.get(at, "")):
                yield Difference(str(at), each.quantity, paid.get(at), bought.get(at))


def below_heads(sheet: list[list[Any]]) -> list[list[Any]]:
    """Give the rows of figures, which begin below the quantities."""
    (last,) = (n for n, row in enumerate(sheet) if row[0] == "Quantity")
    return sheet[last + 1 :]


Label = tuple[str, str, str]
"""What is bought (a part's or a filament's code), the size of its packs, and what is told."""


def told_purchases(each: Break) -> dict[Label, Decimal]:
    """List what an answer tells of the purchases of one quantity."""
    told: dict[Label, Decimal] = defaultdict(Decimal)
    for bought in each.purchases:
        code = str(bought.component or bought.material)
        size = f"{bought.pack_quantity:g}"
        told[code, size, "packs"] += Decimal(bought.packs)
        told[code, size, "price"] += bought.price
        told[code, "", "shipping"] += bought.shipping
        told[code, "", "left over"] += Decimal(repr(bought.left_over))
    paid = [each.price + each.shipping for each in each.purchases]
    if paid:
        told["All purchases", "", "price and shipping"] = sum(paid, Decimal(0))
    return told


def bought_in(sheet: list[list[Any]], column: int) -> dict[Label, float]:
    """Read the purchases of one quantity off a workbook."""
    shown: dict[Label, float] = defaultdict(float)
    size_of: dict[str, str] = {}
    for thing, what, *amounts in sheet[PURCHASE_HEADS:]:
        code = CODE.sub(r"\1", thing)
        amount = amounts[column]
        name, size = what.partition(",")[0], what.rpartition("packs of ")[2]
        if name.endswith("in a pack"):
            size_of[code] = f"{amount:g}"
        elif name in ("packs", "price"):
            shown[code, size_of[code], name] += amount
        elif "packs of" in name:
            shown[code, size, name.partition(" ")[0]] += amount
        else:
            shown[code, "", name] += amount
    return shown


def agrees(told: Any, shown: Any) -> bool:
    """Say whether a shown number is the told one to its last place; nothing is told as nothing."""
    if told is None or isinstance(told, str):
        return bool(shown == (told or ""))
    if not isinstance(shown, float):
        return bool(shown == "" and not told)
    half_a_place: Decimal = Decimal(1).scaleb(told.as_tuple().exponent) / 2
    return bool(abs(Decimal(repr(shown)) - told) < half_a_place)
