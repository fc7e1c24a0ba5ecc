"""The client for programs on asyncio: the same calls as in ``client``, to be awaited."""

from collections.abc import AsyncGenerator, Callable
from decimal import Decimal
from os import PathLike
from types import TracebackType
from typing import Self, TypeVar, Unpack

import httpx

from gramhour import calls
from gramhour.async_comparison_calls import AsyncComparisonCalls
from gramhour.async_listing_calls import AsyncListingCalls
from gramhour.async_measuring_calls import AsyncMeasuringCalls
from gramhour.async_rate_calls import AsyncRateCalls
from gramhour.async_repricing_calls import AsyncRepricingCalls
from gramhour.async_seal_calls import AsyncSealCalls
from gramhour.batches import COST, PRICE, USUAL_REQUESTS
from gramhour.building import Caller, checked_caller, new_idempotency_key
from gramhour.calls import Calibrated, Call, OnePiece, Request
from gramhour.calls_of_workload import AsyncWorkloadCalls
from gramhour.client import AT_ONCE, DEFAULT_URL, world_clock
from gramhour.concurrently import Requests, ask_many_async, sized
from gramhour.contract.answer import BatchAnswer, PriceBatchAnswer, PriceQuote, Quote
from gramhour.contract.calibration import Calibration
from gramhour.contract.health import Health
from gramhour.local import URL, Clock, InLoop, Sheet, open_service
from gramhour.resume import Resume
from gramhour.retries import RETRIES, Retries
from gramhour.sending import AsyncSleep, aconverse, conversation, sleep_on_loop
from gramhour.timeouts import Timeouts

T = TypeVar("T")


class AsyncClient(
    AsyncComparisonCalls,
    AsyncRateCalls,
    AsyncListingCalls,
    AsyncRepricingCalls,
    AsyncMeasuringCalls,
    AsyncSealCalls,
    AsyncWorkloadCalls,
):
    """Asks a service for quotes and rates, on asyncio's event loop.

    It is made like ``Client`` and has the same calls. ``http`` is an ``httpx.AsyncClient``.
    """

    def __init__(
        self,
        *,
        url: str = DEFAULT_URL,
        key: str | None = None,
        timeouts: Timeouts | None = None,
        retries: Retries = RETRIES,
        http: httpx.AsyncClient | None = None,
        sleep: AsyncSleep = sleep_on_loop,
        new_key: Callable[[], str] = new_idempotency_key,
    ) -> None:
        if http is None and timeouts is None:
            timeouts = Timeouts()
        self._caller = checked_caller(Caller(url, key, timeouts, retries, new_key))
        self._owns_http = http is None
        self._http = httpx.AsyncClient() if http is None else http
        self._sleep = sleep

    @classmethod
    def local(
        cls,
        *,
        store: str | PathLike[str] | None = None,
        rates: Sheet | None = None,
        now: Clock = world_clock,
    ) -> Self:
        """Ask the service's own calculation in this process, in the caller's event loop."""
        opened = open_service(store, rates, now)
        http = httpx.AsyncClient(transport=InLoop(opened), trust_env=False)
        client = cls(url=URL, key=opened.key, http=http)
        client._owns_http = True
        return client

    async def quote(self, request: Request, *, explain: bool = False) -> Quote:
        """Say what a product costs and what to ask for it: see ``Client.quote``."""
        return await self._ask(calls.quote(request, explain=explain))

    async def quote_workbook(self, request: Request) -> bytes:
        """Give a quote as a workbook: see ``Client.quote_workbook``."""
        return await self._ask(calls.quote_workbook(request))

    async def quote_price(self, request: Request) -> PriceQuote:
        """Say the price of a product: see ``Client.quote_price``."""
        return await self._ask(calls.quote_price(request))

    def quote_many(
        self,
        requests: Requests,
        *,
        batch_size: int = USUAL_REQUESTS,
        at_once: int = AT_ONCE,
        resume: Resume | None = None,
    ) -> AsyncGenerator[BatchAnswer, None]:
        """Quote many products, given as they are or asynchronously: see ``Client.quote_many``.

        To stop before the end, ``await`` the generator's ``aclose()`` (or hold it in
        ``contextlib.aclosing``): a ``break`` alone leaves what is under way to itself. A generator
        of requests is closed with it.
        """
        many = sized(COST, batch_size, at_once, resume)
        return ask_many_async(self._http, self._caller, requests, many, self._sleep)

    def quote_price_many(
        self,
        requests: Requests,
        *,
        batch_size: int = USUAL_REQUESTS,
        at_once: int = AT_ONCE,
        resume: Resume | None = None,
    ) -> AsyncGenerator[PriceBatchAnswer, None]:
        """Say the prices of many products: see ``Client.quote_price_many``."""
        many = sized(PRICE, batch_size, at_once, resume)
        return ask_many_async(self._http, self._caller, requests, many, self._sleep)

    async def calibrate(self, request: Calibrated) -> Calibration:
        """Say what fits builds that were timed: see ``Client.calibrate``."""
        return await self._ask(calls.calibrate(request))

    async def unit_price(self, *, quantity: int, **asked: Unpack[OnePiece]) -> Decimal:
        """Say the shown price of one unit: see ``Client.unit_price``."""
        return await self._ask(calls.unit_price(quantity, asked))

    async def health(self) -> Health:
        """Say whether the service is ready: see ``Client.health``."""
        return await self._ask(calls.health())

    async def aclose(self) -> None:
        """Close the connections, if they are the client's own."""
        if self._owns_http:
            await self._http.aclose()

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self.aclose()

    def __repr__(self) -> str:
        """Tell where it asks; the key is nobody's business."""
        return f"{type(self).__name__}(url={self._caller.url!r})"

    async def _ask(self, call: Call[T]) -> T:
        steps = conversation(self._http, self._caller, call)
        return await aconverse(self._http, steps, self._sleep)
