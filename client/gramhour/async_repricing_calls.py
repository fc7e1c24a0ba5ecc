"""What the asynchronous client asks of repricings: the calls of ``repricing_calls``."""

from collections.abc import AsyncGenerator
from typing import TypeVar, Unpack

from gramhour import calls_of_repricing as calls
from gramhour.calls import Call
from gramhour.calls_of_repricing import ApplyingAsked, LineFilter, RepricingAsked
from gramhour.contract.repricing import (
    Applied,
    Repricing,
    RepricingLine,
    RepricingLines,
    Repricings,
)
from gramhour.paging import LARGEST, each_of_async
from gramhour.sending import AsyncSleep
from gramhour.watching import TEN_MINUTES, Told, watched

T = TypeVar("T")


class AsyncRepricingCalls:
    """The part of ``AsyncClient`` that prices listings anew."""

    _sleep: AsyncSleep

    async def reprice(self, **asked: Unpack[RepricingAsked]) -> Repricing:
        """Have listings priced anew: see ``Client.reprice``."""
        return await self._ask(calls.reprice(asked))

    async def repricing(self, name: str) -> Repricing:
        """Read how far a repricing is: see ``Client.repricing``."""
        return await self._ask(calls.repricing(name))

    async def repricings(
        self, *, limit: int | None = None, cursor: str | None = None
    ) -> Repricings:
        """Read the repricings of the last 30 days: see ``Client.repricings``."""
        return await self._ask(calls.repricings(limit, cursor))

    async def wait_for(
        self, name: str, *, told: Told | None = None, within: float = TEN_MINUTES
    ) -> Repricing:
        """Wait until a repricing is finished: see ``Client.wait_for``."""
        looks = watched(within, told)
        next(looks)
        try:
            while True:
                await self._sleep(looks.send(await self.repricing(name)))
        except StopIteration as end:
            finished: Repricing = end.value
            return finished

    async def repricing_lines(
        self,
        name: str,
        *,
        limit: int | None = None,
        cursor: str | None = None,
        **only: Unpack[LineFilter],
    ) -> RepricingLines:
        """Read the lines of a repricing: see ``Client.repricing_lines``."""
        return await self._ask(calls.repricing_lines(name, only, limit, cursor))

    def all_repricing_lines(
        self, name: str, **only: Unpack[LineFilter]
    ) -> AsyncGenerator[RepricingLine, None]:
        """Read all lines of a repricing: see ``Client.all_repricing_lines``."""
        return each_of_async(
            lambda cursor: self.repricing_lines(name, limit=LARGEST, cursor=cursor, **only)
        )

    async def apply(self, name: str, **asked: Unpack[ApplyingAsked]) -> Applied:
        """Let the prices of a repricing hold: see ``Client.apply``."""
        return await self._ask(calls.apply(name, asked))

    async def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
