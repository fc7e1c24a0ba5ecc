"""What the asynchronous client asks of the shop's offer: the calls of ``listing_calls``."""

from collections.abc import AsyncGenerator
from typing import TypeVar, Unpack

from gramhour import calls_of_listings as calls
from gramhour.calls import Call
from gramhour.calls_of_listings import Entry, Listed, ListingFilter, ListingRows, ProductRows
from gramhour.contract.listed import ListedPrice
from gramhour.contract.prices import PriceItem, Prices
from gramhour.contract.stored_listing import (
    PriceHistory,
    RowOutcomes,
    StoredListing,
    StoredListings,
    StoredProduct,
    StoredProducts,
)
from gramhour.paging import LARGEST, each_of_async

T = TypeVar("T")


class AsyncListingCalls:
    """The part of ``AsyncClient`` that asks for products and listings.

    Changing them needs a key with scope ``listings``.
    """

    async def products(
        self, *, limit: int | None = None, cursor: str | None = None
    ) -> StoredProducts:
        """Read products in the order of their codes: see ``Client.products``."""
        return await self._ask(calls.products(limit, cursor))

    def all_products(self) -> AsyncGenerator[StoredProduct, None]:
        """Read all products: see ``Client.all_products``."""
        return each_of_async(lambda cursor: self.products(limit=LARGEST, cursor=cursor))

    async def product(self, code: str) -> StoredProduct:
        """Read a product with its variants: see ``Client.product``."""
        return await self._ask(calls.product(code))

    async def put_product(
        self, code: str, entry: Entry, *, if_match: str | None = None, new: bool = False
    ) -> StoredProduct:
        """Put a product in place of what it is, or a new one: see ``Client.put_product``."""
        return await self._ask(calls.put_product(code, entry, if_match, new=new))

    async def delete_product(self, code: str, *, if_match: str) -> None:
        """Take a product away: see ``Client.delete_product``."""
        return await self._ask(calls.delete_product(code, if_match))

    async def put_products(self, rows: ProductRows, *, all_or_none: bool = True) -> RowOutcomes:
        """Add or change several products at once: see ``Client.put_products``."""
        return await self._ask(calls.put_products(rows, all_or_none=all_or_none))

    async def listings(
        self,
        *,
        limit: int | None = None,
        cursor: str | None = None,
        **only: Unpack[ListingFilter],
    ) -> StoredListings:
        """Read listings with their prices in the order of their skus: see ``Client.listings``."""
        return await self._ask(calls.listings(only, limit, cursor))

    def all_listings(self, **only: Unpack[ListingFilter]) -> AsyncGenerator[StoredListing, None]:
        """Read all listings: see ``Client.all_listings``."""
        return each_of_async(lambda cursor: self.listings(limit=LARGEST, cursor=cursor, **only))

    async def listings_csv(self, **only: Unpack[ListingFilter]) -> bytes:
        """Read all listings as CSV: see ``Client.listings_csv``."""
        return await self._ask(calls.listings_csv(only))

    async def listing(self, sku: str) -> StoredListing:
        """Read a listing: see ``Client.listing``."""
        return await self._ask(calls.listing(sku))

    async def put_listing(
        self, sku: str, listing: Listed, *, if_match: str | None = None, new: bool = False
    ) -> StoredListing:
        """Put a listing in place of what it is, or a new one: see ``Client.put_listing``."""
        return await self._ask(calls.put_listing(sku, listing, if_match, new=new))

    async def delete_listing(self, sku: str, *, if_match: str) -> None:
        """Take a listing away and withdraw its price: see ``Client.delete_listing``."""
        return await self._ask(calls.delete_listing(sku, if_match))

    async def put_listings(self, rows: ListingRows, *, all_or_none: bool = True) -> RowOutcomes:
        """Add or change several listings at once: see ``Client.put_listings``."""
        return await self._ask(calls.put_listings(rows, all_or_none=all_or_none))

    async def listing_prices(
        self, sku: str, *, limit: int | None = None, cursor: str | None = None
    ) -> PriceHistory:
        """Read the prices that a sku has had: see ``Client.listing_prices``."""
        return await self._ask(calls.listing_prices(sku, limit, cursor))

    def all_listing_prices(self, sku: str) -> AsyncGenerator[ListedPrice, None]:
        """Read all prices that a sku has had: see ``Client.all_listing_prices``."""
        return each_of_async(lambda cursor: self.listing_prices(sku, limit=LARGEST, cursor=cursor))

    async def prices(
        self,
        channel: str | None = None,
        *,
        changed_since: int | None = None,
        seal: bool = False,
        limit: int | None = None,
        cursor: str | None = None,
    ) -> Prices:
        """Read what is for sale on a channel: see ``Client.prices``."""
        return await self._ask(calls.prices(channel, changed_since, limit, cursor, seal=seal))

    def all_prices(
        self,
        channel: str | None = None,
        *,
        changed_since: int | None = None,
        seal: bool = False,
    ) -> AsyncGenerator[PriceItem, None]:
        """Read all that is for sale on a channel: see ``Client.all_prices``."""
        return each_of_async(
            lambda cursor: self.prices(
                channel, changed_since=changed_since, seal=seal, limit=LARGEST, cursor=cursor
            )
        )

    async def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
