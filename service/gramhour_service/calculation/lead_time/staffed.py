"""The staffed time of a shop, and what can be done in it."""

from bisect import bisect_left, bisect_right

from gramhour_service.calculation.lead_time.terms import MOST_DAYS, Calendar


class OutOfSight(Exception):
    """It would be later than anybody looks ahead."""


class Staffed:
    """The staffed time from a moment on, worked out as far as it is looked at.

    Stretches that touch are one: the night between two staffed days ends nothing.
    """

    def __init__(self, calendar: Calendar, moment: int) -> None:
        """Begin a day before the moment, whose last stretch may end just then."""
        self._staffed_on = calendar.staffed_on
        today = calendar.day_of(moment)
        self._next_day, self._last_day = today - 1, today + MOST_DAYS
        self._starts: list[int] = []
        self._ends: list[int] = []

    def next_fit(self, moment: int, seconds: int) -> tuple[int, int]:
        """From which moment on somebody is there for so long, without a break; in which stretch."""
        n = self._that_ends_after(moment)
        start = max(moment, self._starts[n])
        while not self.reaches(n, start + seconds):
            n += 1
            start = self._start(n)
        return start, n

    def after(self, moment: int, seconds: int) -> int:
        """The first moment until which so much staffed time has passed, and somebody is there."""
        while not self._ends or self._ends[-1] < moment:
            self._look_further()
        n, left = bisect_left(self._ends, moment), seconds
        at = max(moment, self._starts[n])
        while not self.reaches(n, at + left):
            left -= self._ends[n] - at
            n += 1
            at = self._start(n)
        return at + left

    def reaches(self, n: int, moment: int) -> bool:
        """Say whether a stretch lasts until a moment; the last one may go on the next day."""
        while self._ends[n] < moment and n == len(self._ends) - 1:
            self._look_further()
        return self._ends[n] >= moment

    def is_watched(self, start: int, end: int) -> bool:
        """Say whether somebody is there all the time between."""
        if start == end:
            return True
        n = self._that_ends_after(start)
        return self._starts[n] <= start and self.reaches(n, end)

    def is_at_work(self, moment: int) -> bool:
        """Say whether somebody is there from this moment on."""
        return self._starts[self._that_ends_after(moment)] <= moment

    def working_day_after(self, day: int, days: int) -> int:
        """The day so many days with staffed time later; with none, the day itself."""
        while days:
            day += 1
            if day > self._last_day:
                raise OutOfSight
            days -= bool(self._staffed_on(day))
        return day

    def _that_ends_after(self, moment: int) -> int:
        while not self._ends or self._ends[-1] <= moment:
            self._look_further()
        return bisect_right(self._ends, moment)

    def _start(self, n: int) -> int:
        while n >= len(self._starts):
            self._look_further()
        return self._starts[n]

    def _look_further(self) -> None:
        """Work out one day more. Raises ``OutOfSight``."""
        if self._next_day > self._last_day:
            raise OutOfSight
        for start, end in self._staffed_on(self._next_day):
            if self._ends and self._ends[-1] == start:
                self._ends[-1] = end
            else:
                self._starts.append(start)
                self._ends.append(end)
        self._next_day += 1
