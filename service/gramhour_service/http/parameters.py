"""Query parameters: each known, each at most once, each read as the contract reads a member."""

import re
from collections.abc import Callable, Collection
from datetime import date

from msgspec import UNSET

from gramhour.contract.members import CODE_PATTERN
from gramhour.contract.noting import FAULTY, Reading, nearest, shown
from gramhour.contract.one_piece import whole_number
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.times import read_day
from gramhour_service.http.wire import Asked

CODE = re.compile(CODE_PATTERN)


class Parameters:
    """The query parameters of a request; gathers every fault in them."""

    def __init__(self, request: Asked, known: Collection[str]) -> None:
        """Take those that are known; others, and one given twice, are faults."""
        self.faults: list[Fault] = []
        self._given: dict[str, str] = {}
        if not request.scope["query_string"]:
            return
        for name, value in request.query_params.multi_items():
            if name not in known:
                near = nearest(name, known) or f"; known are: {', '.join(known) or 'none'}"
                self.refuse(name, f"unknown parameter{near}")
            elif name in self._given:
                self.refuse(name, "is given twice; give it once")
            else:
                self._given[name] = value

    def refuse(self, name: str, detail: str) -> None:
        """Note a fault of a parameter."""
        self.faults.append(Fault(UNSET, detail, parameter=name))

    def __contains__(self, name: str) -> bool:
        return name in self._given

    def text(self, name: str) -> str | None:
        """Read a parameter as it was sent."""
        return self._given.get(name)

    def code(self, name: str) -> str | None:
        """Read a code, as rates and products have it."""
        text = self._given.get(name)
        if text is not None and not CODE.fullmatch(text):
            self.refuse(name, f"{shown(text)} is no code; one is such as own-shop")
            return None
        return text

    def one_of(self, name: str, words: Collection[str]) -> str | None:
        """Read one of several words."""
        word = self._given.get(name)
        if word is not None and word not in words:
            self.refuse(name, f"must be one of: {', '.join(words)}")
            return None
        return word

    def flag(self, name: str) -> bool:
        """Read true or false; false if it is not given."""
        return self.one_of(name, ("true", "false")) == "true"

    def whole(self, name: str) -> int | None:
        """Read a whole number from 1."""
        text = self._given.get(name)
        if text is None:
            return None
        number = whole_number(text)
        if not isinstance(number, int) or number < 1:
            self.refuse(name, "must be a whole number from 1")
            return None
        return number

    def whole_or_nothing(self, name: str) -> int | None:
        """Read a whole number from 0."""
        text = self._given.get(name)
        number = None if text is None else whole_number(text)
        if isinstance(number, str):
            self.refuse(name, "must be a whole number from 0")
            return None
        return number

    def day(self, name: str) -> date | None:
        """Read a calendar day."""
        if name not in self._given:
            return None
        reading = Reading([], {})
        day = read_day(self._given[name], (), reading)
        self.faults += [Fault(UNSET, fault.detail, parameter=name) for fault in reading.faults]
        return None if day is FAULTY else day

    def with_faults_of(self, refused: Refused) -> Refused:
        """Add the faults found so far to those of a request made from the parameters."""
        if not self.faults or refused.type != "invalid-request":
            return refused
        return Refused(refused.type, (*self.faults, *refused.faults))

    def check(self) -> None:
        """Raise ``Refused`` with every fault found so far."""
        if self.faults:
            raise Refused("invalid-request", tuple(self.faults))


def by_parameter(refused: Refused, name_of: Callable[[str], str | None]) -> Refused:
    """Name the parameters that a request was made from, where a refusal points into it.

    ``name_of`` says which parameter a pointer is about, if it is about one.
    """

    def renamed(fault: Fault) -> Fault:
        name = None if fault.pointer is UNSET else name_of(fault.pointer)
        return fault if name is None else Fault(UNSET, fault.detail, parameter=name)

    return Refused(refused.type, tuple(map(renamed, refused.faults)))
