"""What was wrong with a request: every fault found, each with its place and remedy."""

from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from gramhour.contract.members import Answered


class Fault(Struct, frozen=True):
    """One fault: where it is, what is wrong and how to mend it.

    ``pointer`` is an RFC 6901 pointer into the body, ``parameter`` the name of a query
    parameter, ``line`` the line of a file of lines; a fault has the one that fits.
    """

    pointer: str | UnsetType = UNSET
    detail: str = ""
    parameter: str | UnsetType = UNSET
    line: int | UnsetType = UNSET

    @property
    def place(self) -> str:
        """Write where the fault is, for people."""
        if self.parameter is not UNSET:
            return f"?{self.parameter}"
        return self.pointer or "/" if self.pointer is not UNSET else ""


class Problem(Answered, frozen=True, kw_only=True):
    """Why there is no answer (RFC 9457). ``type`` never changes its meaning; see the table."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[Fault]


class Refused(Exception):
    """A request that cannot be answered.

    ``type`` is the stable word for the kind of refusal, ``faults`` all that was found.
    """

    def __init__(self, type: str, faults: tuple[Fault, ...]) -> None:  # noqa: A002 (RFC 9457)
        """Keep the kind of refusal and its faults."""
        self.type = type
        self.faults = tuple(_sendable_fault(fault) for fault in faults)
        super().__init__("; ".join(f"{f.place}: {f.detail}".lstrip(": ") for f in self.faults))


def _sendable_fault(fault: Fault) -> Fault:
    where = {
        name: sendable(text)
        for name in ("pointer", "parameter", "detail")
        if (text := getattr(fault, name)) is not UNSET
    }
    return replace(fault, **where)


def sendable(text: str) -> str:
    """Write half surrogate pairs, which JSON can name but UTF-8 cannot send, as escapes."""
    return text.encode("utf-8", "backslashreplace").decode()


def pointer(*steps: str | int) -> str:
    """Write an RFC 6901 JSON pointer."""
    return "".join(["/" + str(step).replace("~", "~0").replace("/", "~1") for step in steps])
