"""Reads lists that come in pages, each page when it is needed."""

from collections.abc import AsyncGenerator, Awaitable, Callable, Generator, Sequence
from typing import Protocol, TypeVar

from msgspec import UNSET, UnsetType

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)
LARGEST = 1_000
"""Items that the service gives at once."""


class Page(Protocol[T_co]):
    """A part of a list, and where the next one begins."""

    @property
    def items(self) -> Sequence[T_co]:
        """What stands on it."""
        raise NotImplementedError

    @property
    def next_cursor(self) -> str | UnsetType:
        """What asks for the next page; unset on the last one."""
        raise NotImplementedError


def each_of(read: Callable[[str | None], Page[T]]) -> Generator[T, None, None]:
    """Give the items of all pages."""
    cursor: str | None = None
    while True:
        page = read(cursor)
        yield from page.items
        if page.next_cursor is UNSET:
            return
        cursor = page.next_cursor


async def each_of_async(
    read: Callable[[str | None], Awaitable[Page[T]]],
) -> AsyncGenerator[T, None]:
    """Give the items of all pages, others meanwhile."""
    cursor: str | None = None
    while True:
        page = await read(cursor)
        for item in page.items:
            yield item
        if page.next_cursor is UNSET:
            return
        cursor = page.next_cursor
