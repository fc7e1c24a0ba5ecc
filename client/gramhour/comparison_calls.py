"""What the client asks of comparisons: which way to make a product is best, at how many."""

from typing import TypeVar

from msgspec import UNSET

from gramhour import calls_of_comparisons as calls
from gramhour.calls import Call
from gramhour.calls_of_comparisons import Compared
from gramhour.contract.compared import Comparison, ComparisonRun
from gramhour.sending import Sleep
from gramhour.watching import TEN_MINUTES, compared

T = TypeVar("T")


class ComparisonCalls:
    """The part of ``Client`` that sets ways to make a product side by side."""

    _sleep: Sleep

    def compare(self, request: Compared, *, within: float = TEN_MINUTES) -> Comparison:
        """Set ways to make a product side by side: what each costs, brings and takes.

        Needs a key with scope ``cost``. ``up_to`` asks at which quantities each is the best, a
        ``purchase`` when it has paid for itself. A large one is waited for, so many seconds at
        most: ``NotCompared`` has the ``run`` with its ``id``.

        >>> found = client.compare(nozzles)
        >>> [(each.to_quantity, each.label) for each in found.intervals]
        [(2, '0.4 mm, chalk white PLA'), (60, 'one more large printer')]
        """
        looks = compared(within)
        next(looks)
        found: Comparison | ComparisonRun = self._ask(calls.compare(request))
        while not isinstance(found, Comparison):
            self._sleep(looks.send(found))
            run = self.comparison(found.id)
            found = run if run.comparison is UNSET else run.comparison
        return found

    def comparison(self, name: str) -> ComparisonRun:
        """Read how far a large comparison (by its ``id``) is, or what came of it.

        >>> try:
        ...     client.comparison("0123456789abcdef")
        ... except Refusal as refusal:
        ...     print(refusal.faults[0].detail)
        there is no such comparison; they are kept for a day
        """
        return self._ask(calls.comparison(name))

    def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
