"""What the asynchronous client asks of comparisons: the calls of ``comparison_calls``."""

from typing import TypeVar

from msgspec import UNSET

from gramhour import calls_of_comparisons as calls
from gramhour.calls import Call
from gramhour.calls_of_comparisons import Compared
from gramhour.contract.compared import Comparison, ComparisonRun
from gramhour.sending import AsyncSleep
from gramhour.watching import TEN_MINUTES, compared

T = TypeVar("T")


class AsyncComparisonCalls:
    """The part of ``AsyncClient`` that sets ways to make a product side by side."""

    _sleep: AsyncSleep

    async def compare(self, request: Compared, *, within: float = TEN_MINUTES) -> Comparison:
        """Set ways to make a product side by side: see ``Client.compare``."""
        looks = compared(within)
        next(looks)
        found: Comparison | ComparisonRun = await self._ask(calls.compare(request))
        while not isinstance(found, Comparison):
            await self._sleep(looks.send(found))
            run = await self.comparison(found.id)
            found = run if run.comparison is UNSET else run.comparison
        return found

    async def comparison(self, name: str) -> ComparisonRun:
        """Read how far a large comparison is: see ``Client.comparison``."""
        return await self._ask(calls.comparison(name))

    async def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
