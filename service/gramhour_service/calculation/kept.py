"""What was made before and is asked for again: kept up to so many, then begun anew."""

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")

MOST_KEPT = 1_000


class LastMade(Generic[K, V]):
    """The last things made, by what they were made of."""

    __slots__ = ("_kept", "_most", "found")

    def __init__(self, most: int = MOST_KEPT) -> None:
        """Keep at most so many; when there are more, all are forgotten."""
        self._kept: dict[K, V] = {}
        self._most = most
        self.found: Callable[[K], V | None] = self._kept.get

    def __len__(self) -> int:
        """Count what is kept."""
        return len(self._kept)

    def of(self, key: K, make: Callable[[], V]) -> V:
        """Find what was made of a key, or make it; it is never None."""
        found = self._kept.get(key)
        if found is None:
            found = make()
            self.keep(key, found)
        return found

    def keep(self, key: K, made: V) -> None:
        """Keep what was made of a key."""
        if len(self._kept) >= self._most:
            self._kept.clear()
        self._kept[key] = made
