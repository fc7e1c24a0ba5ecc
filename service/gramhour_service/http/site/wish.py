"""What a customer wrote into the open places of the sentence, read; every fault by its field."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from msgspec import UNSET

from gramhour.contract.members import MOST_UNITS
from gramhour.contract.problem import Refused

FAULT_OF = {
    "/sku": "sku",
    "/quantity": "quantity",
    "/measurement": "file",
    "/service": "made",
    "/material": "made",
}
TO_PEOPLE = {
    "too-many-requests": "You asked very often. Wait a minute, then ask again.",
    "not-listed": "Nothing is for sale under this. Choose another product.",
}
"""What the contract says of headers and keys is for programs."""
OF_FILES = ("body-too-large", "cannot-be-measured", "unsupported-media-type")
WHOLE = re.compile(r"[0-9]{1,6}")


@dataclass(frozen=True)
class Wish:
    """A sentence as far as it is completed: the texts as they were written, and what they say."""

    texts: Mapping[str, str]
    quantity: int | None = None
    by: date | None = None
    faults: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def is_empty(self) -> bool:
        """Say whether nothing was asked yet."""
        return not any(self.texts.values())

    @property
    def shown(self) -> dict[str, str]:
        """What is put back into fields that take numbers and days only."""
        quantity = self.texts.get("quantity", "").strip()
        return {
            "quantity": quantity if WHOLE.fullmatch(quantity) else "",
            "by": "" if self.by is None else self.by.isoformat(),
        }

    def with_faults_of(self, refused: Refused) -> "Wish":
        """Add what the service refuses, each fault at the field that it is about."""
        faults = {name: [*told] for name, told in self.faults.items()}
        for fault in refused.faults:
            pointer = "" if fault.pointer is UNSET else fault.pointer
            name = "file" if refused.type in OF_FILES else FAULT_OF.get(pointer, "")
            said = TO_PEOPLE.get(refused.type) or _sentence(fault.detail)
            faults.setdefault(name, []).append(said)
        return replace(self, faults={name: tuple(told) for name, told in faults.items()})


def wish_of(texts: Mapping[str, str], needed: Mapping[str, str]) -> Wish:
    """Read what was written; ``needed`` says of each field that must be filled in what to do."""
    if Wish(texts).is_empty:
        return Wish(texts)
    faults = {name: (says,) for name, says in needed.items() if not texts.get(name)}
    quantity, by = texts.get("quantity", "").strip(), texts.get("by", "").strip()
    number = int(quantity) if WHOLE.fullmatch(quantity) else 0
    if quantity and not 1 <= number <= MOST_UNITS:
        faults["quantity"] = ("Write a whole number from 1 to 100 000.",)
    day = _day(by)
    if by and day is None:
        faults["by"] = ("Write a day as year-month-day, such as 2026-12-24, or leave it open.",)
    return Wish(texts, number or None, day, faults)


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _sentence(detail: str) -> str:
    return f"{detail[:1].upper()}{detail[1:].rstrip('.')}."
