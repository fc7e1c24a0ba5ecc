"""How long a client waits, and for what."""

from dataclasses import dataclass

import httpx


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeouts:
    """Seconds to wait, each for a thing of its own; ``None`` waits for ever.

    ``connect`` is for the connection, ``send`` for each part of the request to leave, ``answer``
    for each part of the answer to come, ``measured`` for the answer to a file that is measured, for
    which the service takes up to a minute, ``free_connection`` for one of the client's own
    connections, where many calls are made at once. ``whole`` is for all parts of one try together,
    looked at whenever a part of its answer comes.

    >>> Timeouts(answer=120).answer
    120
    """

    connect: float | None = 5
    send: float | None = 30
    answer: float | None = 30
    measured: float | None = 75
    free_connection: float | None = 60
    whole: float | None = 300

    def for_httpx(self, *, is_file: bool = False) -> httpx.Timeout:
        """Say the same in httpx's words, which has none for ``whole``."""
        return httpx.Timeout(
            connect=self.connect,
            write=self.send,
            read=self.measured if is_file else self.answer,
            pool=self.free_connection,
        )
