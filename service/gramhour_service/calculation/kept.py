"""What was made before and is asked for again: kept up to so many, those used last."""

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")

MOST_KEPT = 1_000


class LastMade(Generic[K, V]):
    """The last things made, by what they were made of.

    They are kept in two halves. When the newer one is full the older one is forgotten; what is
    asked for of that comes into the newer one again. So what is used goes on being kept, and to
    find it costs no more than to look it up.
    """

    __slots__ = ("_before", "_half", "_lately")

    def __init__(self, most: int = MOST_KEPT) -> None:
        """Keep at most so many, and at least the last half of them that were used."""
        self._lately: dict[K, V] = {}
        self._before: dict[K, V] = {}
        self._half = most // 2

    def __len__(self) -> int:
        """Count what is kept."""
        return len({**self._before, **self._lately})

    def found(self, key: K) -> V | None:
        """Find what was made of a key."""
        found = self._lately.get(key)
        if found is None and (found := self._before.get(key)) is not None:
            self.keep(key, found)
        return found

    def of(self, key: K, make: Callable[[], V]) -> V:
        """Find what was made of a key, or make it; it is never None."""
        found = self._lately.get(key)
        if found is None:
            found = self._before.get(key)
            if found is None:
                found = make()
            self.keep(key, found)
        return found

    def keep(self, key: K, made: V) -> None:
        """Keep what was made of a key."""
        if len(self._lately) >= self._half:
            self._before, self._lately = self._lately, {}
        self._lately[key] = made
