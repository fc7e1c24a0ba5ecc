"""What came back from sending a request."""

from dataclasses import dataclass, field

import httpx


@dataclass(frozen=True, slots=True)
class Arrived:
    """An answer as it came: whole, or what came before it was ``broken`` off.

    ``status`` is 0 where not even that came.
    """

    status: int = 0
    headers: httpx.Headers = field(default_factory=httpx.Headers)
    body: bytes = b""
    broken: Exception | None = None

    @property
    def media_type(self) -> str:
        """The body's media type, without its parameters."""
        return str(self.headers.get("content-type", "")).partition(";")[0].strip().lower()
