"""What was wrong with a request: every fault found, each with its place and remedy."""

from msgspec import Struct


class Fault(Struct, frozen=True):
    """One fault: an RFC 6901 pointer to the member, and what is wrong and how to mend it."""

    pointer: str
    detail: str


class Refused(Exception):
    """A request that cannot be answered.

    ``type`` is the stable word for the kind of refusal, ``faults`` all that was found.
    """

    def __init__(self, type: str, faults: tuple[Fault, ...]) -> None:  # noqa: A002 (RFC 9457)
        """Keep the kind of refusal and its faults."""
        self.type = type
        self.faults = tuple(Fault(sendable(f.pointer), sendable(f.detail)) for f in faults)
        super().__init__("; ".join(f"{f.pointer or '/'}: {f.detail}" for f in self.faults))


def sendable(text: str) -> str:
    """Write half surrogate pairs, which JSON can name but UTF-8 cannot send, as escapes."""
    return text.encode("utf-8", "backslashreplace").decode()


def pointer(*steps: str | int) -> str:
    """Write an RFC 6901 JSON pointer."""
    return "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in steps)
