"""The client for scripts and programs that wait for each answer."""

import time
from collections.abc import Callable, Generator, Iterable
from datetime import UTC, datetime
from decimal import Decimal
from functools import partial
from os import PathLike
from types import TracebackType
from typing import Self, TypeVar, Unpack

import httpx

from gramhour import calls
from gramhour.batches import COST, PRICE, USUAL_REQUESTS
from gramhour.building import Caller, checked_caller, new_idempotency_key
from gramhour.calls import Calibrated, Call, OnePiece, Request
from gramhour.calls_of_workload import WorkloadCalls
from gramhour.comparison_calls import ComparisonCalls
from gramhour.concurrently import ask_many, sized
from gramhour.contract.answer import BatchAnswer, PriceBatchAnswer, PriceQuote, Quote
from gramhour.contract.calibration import Calibration
from gramhour.contract.health import Health
from gramhour.listing_calls import ListingCalls
from gramhour.local import URL, Clock, InProcess, Sheet, open_service
from gramhour.measuring_calls import MeasuringCalls
from gramhour.rate_calls import RateCalls
from gramhour.repricing_calls import RepricingCalls
from gramhour.resume import Resume
from gramhour.retries import RETRIES, Retries
from gramhour.seal_calls import SealCalls
from gramhour.sending import Sleep, conversation, converse
from gramhour.timeouts import Timeouts

T = TypeVar("T")
DEFAULT_URL = "http://127.0.0.1:8750"
AT_ONCE = 4


def world_clock() -> datetime:
    """Say what time it is."""
    return datetime.now(UTC)


class Client(
    ComparisonCalls,
    RateCalls,
    ListingCalls,
    RepricingCalls,
    MeasuringCalls,
    SealCalls,
    WorkloadCalls,
):
    """Asks a service for quotes and rates. Threads may share one.

    ``url`` is where the service answers, ``key`` an access key of it. ``http`` is an httpx client
    of your own (a proxy, certificates, a transport for tests); it stays open when this client is
    closed, and keeps its own timeouts unless ``timeouts`` are given. ``sleep`` and ``new_key``
    (of calls that are not safe to repeat) are the outside world, which tests may replace.

    Every call raises ``Unreachable``, ``Refusal`` or ``UnexpectedAnswer``, which are
    ``GramhourError``; what is safe to repeat is tried again as ``retries`` say.
    """

    def __init__(
        self,
        *,
        url: str = DEFAULT_URL,
        key: str | None = None,
        timeouts: Timeouts | None = None,
        retries: Retries = RETRIES,
        http: httpx.Client | None = None,
        sleep: Sleep = time.sleep,
        new_key: Callable[[], str] = new_idempotency_key,
    ) -> None:
        if http is None and timeouts is None:
            timeouts = Timeouts()
        self._caller = checked_caller(Caller(url, key, timeouts, retries, new_key))
        self._owns_http = http is None
        self._http = httpx.Client() if http is None else http
        self._sleep = sleep

    @classmethod
    def local(
        cls,
        *,
        store: str | PathLike[str] | None = None,
        rates: Sheet | None = None,
        now: Clock = world_clock,
    ) -> Self:
        """Ask the service's own calculation in this process: no server, no key.

        ``store`` is a file that holds the shop's rates; or ``rates`` is a whole sheet: a file
        (TOML or JSON), a dict or a ``RateSheet``, and what is changed lasts until the client is
        closed. With neither, requests bring their ``rates``.
        Needs the distribution ``gramhour-service``; raises ``Unreachable`` without it, and
        ``Refusal`` if the store or the sheet cannot be used.

        >>> with Client.local(rates="sheet.toml") as shop:
        ...     shop.health().rates
        'stored'
        """
        transport = InProcess(partial(open_service, store, rates, now))
        http = httpx.Client(transport=transport, trust_env=False)
        client = cls(url=URL, key=transport.key, http=http)
        client._owns_http = True
        return client

    def quote(self, request: Request, *, explain: bool = False) -> Quote:
        """Say what a product costs and what to ask for it, at its quantity and at each break.

        Needs a key with scope ``cost``. With ``explain`` each break carries for every figure its
        rule, its working and its inputs.

        >>> quote = client.quote(planter)
        >>> quote.at_quantity.unit_price, quote.currency
        (Decimal('26.90'), 'EUR')
        >>> quote.at_quantity.cost.machine
        Decimal('25.4427')
        """
        return self._ask(calls.quote(request, explain=explain))

    def quote_workbook(self, request: Request) -> bytes:
        """Give a quote as an OpenDocument workbook, whose cells are formulas of its rates.

        Needs a key with scope ``cost``. What is edited in it is computed anew with no service
        near.

        >>> client.quote_workbook(planter)[:2]
        b'PK'
        """
        return self._ask(calls.quote_workbook(request))

    def quote_price(self, request: Request) -> PriceQuote:
        """Say the price of a product, and nothing that a customer may not see.

        A key with scope ``price`` asks by ``sku``.

        >>> client.quote_price(planter).at_quantity.unit_price
        Decimal('26.90')
        """
        return self._ask(calls.quote_price(request))

    def quote_many(
        self,
        requests: Iterable[Request],
        *,
        batch_size: int = USUAL_REQUESTS,
        at_once: int = AT_ONCE,
        resume: Resume | None = None,
    ) -> Generator[BatchAnswer, None, None]:
        """Quote many products; answers come in order, each with its ``quote`` or its ``problem``.

        Requests are taken in as they are needed and answers given as they come, so that there may
        be any number; ``batch_size`` times ``at_once`` are in memory. To stop before the end,
        close the generator. A request's ``reference`` is echoed. What came before a connection
        broke is not asked again; when there is no hope of the rest, the error's ``resume`` lets
        the same requests go on from there, in a later call.

        >>> answers = client.quote_many(planter | {"quantity": n} for n in (1, 0))
        >>> for answer in answers:
        ...     if answer.quote:
        ...         print(answer.quote.at_quantity.unit_price)
        ...     elif answer.problem:
        ...         print(answer.problem.errors[0].detail)
        46.90
        must be from 1 to 100000, not 0
        """
        many = sized(COST, batch_size, at_once, resume)
        return ask_many(self._http, self._caller, requests, many, self._sleep)

    def quote_price_many(
        self,
        requests: Iterable[Request],
        *,
        batch_size: int = USUAL_REQUESTS,
        at_once: int = AT_ONCE,
        resume: Resume | None = None,
    ) -> Generator[PriceBatchAnswer, None, None]:
        """Say the prices of many products, as ``quote_many`` does quotes.

        >>> [answer.quote.at_quantity.quantity for answer in client.quote_price_many([planter])]
        [25]
        """
        many = sized(PRICE, batch_size, at_once, resume)
        return ask_many(self._http, self._caller, requests, many, self._sleep)

    def calibrate(self, request: Calibrated) -> Calibration:
        """Say which pace of a machine and change of layer fit builds that were timed.

        Needs a key with scope ``cost``. Nothing is saved: the rates are yours to change.

        >>> found = client.calibrate(timed_builds)
        >>> found.pace, found.layer_change_s
        (Decimal('0.8109'), Decimal('1.87'))
        """
        return self._ask(calls.calibrate(request))

    def unit_price(self, *, quantity: int, **asked: Unpack[OnePiece]) -> Decimal:
        """Say the shown price of one unit of a product of one piece and one filament.

        Members are those of a quote request. In the currency of the rate sheet.

        >>> client.unit_price(
        ...     quantity=10, material="asa-green", machine="large", mass_g="42.5", print_min=95,
        ...     channel="own-shop",
        ... )
        Decimal('7.90')
        """
        return self._ask(calls.unit_price(quantity, asked))

    def health(self) -> Health:
        """Say whether the service is ready, and whether it has rates to price with.

        >>> client.health().status
        'ready'
        """
        return self._ask(calls.health())

    def close(self) -> None:
        """Close the connections, if they are the client's own."""
        if self._owns_http:
            self._http.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def __repr__(self) -> str:
        """Tell where it asks; the key is nobody's business."""
        return f"{type(self).__name__}(url={self._caller.url!r})"

    def _ask(self, call: Call[T]) -> T:
        return converse(self._http, conversation(self._http, self._caller, call), self._sleep)
