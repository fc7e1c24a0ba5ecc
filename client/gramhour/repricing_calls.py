"""What the client asks of repricings: what listings should cost, why, and that it be so."""

from collections.abc import Generator
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
from gramhour.paging import LARGEST, each_of
from gramhour.sending import Sleep
from gramhour.watching import TEN_MINUTES, Told, watched

T = TypeVar("T")


class RepricingCalls:
    """The part of ``Client`` that prices listings anew. It needs a key with scope ``listings``."""

    _sleep: Sleep

    def reprice(self, **asked: Unpack[RepricingAsked]) -> Repricing:
        """Have listings priced anew; nothing is changed until it is applied.

        By default those whose price can differ from the listed one, by today's rates as known
        now. ``over="all"`` or ``skus`` say which instead, ``rates_on`` and ``rates_revision``
        which rates; ``proposed`` are rates as they might become, as ``change_rates`` takes them,
        and ``discount_pct`` is a sale. A short one is finished when it is answered, a long one
        goes on in the service: see ``wait_for``.

        >>> dearer = {"kind": "shop", "code": "labour_rate_per_hour", "value": "33.50"}
        >>> what_if = client.wait_for(client.reprice(proposed=[dearer]).id)
        >>> what_if.state, what_if.of, what_if.counts.up
        ('finished', 1, 1)
        """
        return self._ask(calls.reprice(asked))

    def repricing(self, name: str) -> Repricing:
        """Read how far a repricing (by its ``id``) is, or how it ended and what it found.

        >>> started = client.reprice(skus=["HP-1"])
        >>> client.repricing(started.id).rates_revision
        1
        """
        return self._ask(calls.repricing(name))

    def repricings(self, *, limit: int | None = None, cursor: str | None = None) -> Repricings:
        """Read the repricings of the last 30 days, the newest first, a page at a time.

        >>> started = client.reprice(skus=["HP-1"], note="as it is")
        >>> started.id in [each.id for each in client.repricings().items]
        True
        """
        return self._ask(calls.repricings(limit, cursor))

    def wait_for(
        self, name: str, *, told: Told | None = None, within: float = TEN_MINUTES
    ) -> Repricing:
        """Wait until a repricing is finished.

        ``told`` is called with each look at it, for a progress bar. Raises ``RepricingFailed``,
        ``RepricingBrokenOff``, or ``StillRunning`` after ``within`` seconds: it goes on, and may
        be waited for again.

        >>> looks = []
        >>> client.wait_for(client.reprice(skus=["HP-1"]).id, told=looks.append).state
        'finished'
        >>> looks[-1].done, looks[-1].of
        (1, 1)
        """
        looks = watched(within, told)
        next(looks)
        try:
            while True:
                self._sleep(looks.send(self.repricing(name)))
        except StopIteration as end:
            finished: Repricing = end.value
            return finished

    def repricing_lines(
        self,
        name: str,
        *,
        limit: int | None = None,
        cursor: str | None = None,
        **only: Unpack[LineFilter],
    ) -> RepricingLines:
        """Read the lines of a repricing, the worst first, a page at a time.

        Each is a listing with its breaks: old and new price, cost before and after, margins, and
        which rate moved it by how much. ``outcome``, ``under_floor`` and ``channel`` choose.

        >>> dearer = {"kind": "shop", "code": "labour_rate_per_hour", "value": "36"}
        >>> what_if = client.wait_for(client.reprice(proposed=[dearer]).id)
        >>> (line,) = client.repricing_lines(what_if.id, outcome="up").items
        >>> first = line.breaks[0]
        >>> first.old_unit_price, first.unit_price, [each.code for each in first.moved_by]
        (Decimal('46.90'), Decimal('49.90'), ['labour_rate_per_hour'])
        """
        return self._ask(calls.repricing_lines(name, only, limit, cursor))

    def all_repricing_lines(
        self, name: str, **only: Unpack[LineFilter]
    ) -> Generator[RepricingLine, None, None]:
        """Read all lines of a repricing, the worst first, or those chosen.

        >>> same = client.wait_for(client.reprice(over="all").id)
        >>> [(each.sku, each.outcome) for each in client.all_repricing_lines(same.id)]
        [('HP-1', 'unchanged')]
        """
        return each_of(
            lambda cursor: self.repricing_lines(name, limit=LARGEST, cursor=cursor, **only)
        )

    def apply(self, name: str, **asked: Unpack[ApplyingAsked]) -> Applied:
        """Let the prices of a repricing hold, from today or ``effective_from`` on: all or none.

        Those of the skus in ``except_`` stay. A price that moves by more than ``max_change_pct``
        (30 unless said) must be named in ``confirm``, or ``Refusal`` (``needs-confirming``) names
        it; what changed since it was computed is named too (``moved-on``). Tries carry one
        ``Idempotency-Key``, so it is done once.

        >>> sale = client.wait_for(client.reprice(skus=["HP-1"], discount_pct=10).id)
        >>> applied = client.apply(sale.id, effective_from=date(2999, 12, 7), note="a sale")
        >>> applied.applied, applied.change
        (1, 2)
        """
        return self._ask(calls.apply(name, asked))

    def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
