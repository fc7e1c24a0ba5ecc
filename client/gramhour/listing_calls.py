"""What the client asks of the shop's offer: products, their listings, what is for sale."""

from collections.abc import Generator
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
from gramhour.paging import LARGEST, each_of

T = TypeVar("T")


class ListingCalls:
    """The part of ``Client`` that asks for products and listings.

    Changing them needs a key with scope ``listings``.
    """

    def products(self, *, limit: int | None = None, cursor: str | None = None) -> StoredProducts:
        """Read products in the order of their codes, a page at a time.

        >>> [each.code for each in client.products(limit=1).items]
        ['herb-planter']
        """
        return self._ask(calls.products(limit, cursor))

    def all_products(self) -> Generator[StoredProduct, None, None]:
        """Read all products; pages are asked for as they are needed.

        >>> [each.code for each in client.all_products()][0]
        'herb-planter'
        """
        return each_of(lambda cursor: self.products(limit=LARGEST, cursor=cursor))

    def product(self, code: str) -> StoredProduct:
        """Read a product with its variants; its ``tag`` is what ``put_product`` takes.

        >>> [each.name for each in client.product("herb-planter").entry.variants]
        ['chalk']
        """
        return self._ask(calls.product(code))

    def put_product(
        self, code: str, entry: Entry, *, if_match: str | None = None, new: bool = False
    ) -> StoredProduct:
        """Put a product, whole, in place of what it is; or a ``new`` one.

        ``if_match`` is the ``tag`` of what you read: if it has changed since, ``Refusal``
        (``precondition-failed``) says who changed it. One that is so already is answered as if it
        had just been put. Listings keep their prices until they are repriced.

        >>> seen = client.product("herb-planter")
        >>> client.put_product("herb-planter", seen.entry, if_match=seen.tag).tag == seen.tag
        True
        """
        return self._ask(calls.put_product(code, entry, if_match, new=new))

    def delete_product(self, code: str, *, if_match: str) -> None:
        """Take a product away; one that is listed is refused as ``in-use``.

        >>> spare = client.put_product("spare", {"product": planter["product"]}, new=True)
        >>> client.delete_product("spare", if_match=spare.tag)
        """
        return self._ask(calls.delete_product(code, if_match))

    def put_products(self, rows: ProductRows, *, all_or_none: bool = True) -> RowOutcomes:
        """Add or change up to 10,000 products at once; those not sent stay as they are.

        ``rows`` are as ``put_listings`` takes them, without CSV. Tries carry one
        ``Idempotency-Key``, so it is done once.

        >>> rows = [{"code": "herb-planter-2", "product": planter["product"]}]
        >>> client.put_products(rows).rows[0].done
        'added'
        """
        return self._ask(calls.put_products(rows, all_or_none=all_or_none))

    def listings(
        self,
        *,
        limit: int | None = None,
        cursor: str | None = None,
        **only: Unpack[ListingFilter],
    ) -> StoredListings:
        """Read listings with their prices in the order of their skus, a page at a time.

        ``channel``, ``product``, ``uses`` (a rate) and ``below_floor`` choose among them.

        >>> [each.sku for each in client.listings(uses="materials/asa-green", limit=1).items]
        ['HP-1']
        """
        return self._ask(calls.listings(only, limit, cursor))

    def all_listings(self, **only: Unpack[ListingFilter]) -> Generator[StoredListing, None, None]:
        """Read all listings, or those chosen; pages are asked for as they are needed.

        >>> next(client.all_listings(channel="own-shop")).price.breaks[0].unit_price
        Decimal('46.90')
        """
        return each_of(lambda cursor: self.listings(limit=LARGEST, cursor=cursor, **only))

    def listings_csv(self, **only: Unpack[ListingFilter]) -> bytes:
        """Read all listings, or those chosen, as CSV for a spreadsheet.

        ``put_listings`` takes it back.

        >>> client.listings_csv(product="herb-planter").splitlines()[1][:26]
        b'HP-1,,herb-planter,,own-sh'
        """
        return self._ask(calls.listings_csv(only))

    def listing(self, sku: str) -> StoredListing:
        """Read a listing, its price today (if it has one) and those planned.

        Its ``tag`` is what ``put_listing`` takes; it does not move when the price does.

        >>> client.listing("HP-1").price.breaks[0].unit_price
        Decimal('46.90')
        """
        return self._ask(calls.listing(sku))

    def put_listing(
        self, sku: str, listing: Listed, *, if_match: str | None = None, new: bool = False
    ) -> StoredListing:
        """Put a listing, whole, in place of what it is; or a ``new`` one, as ``put_product`` does.

        Its price stays until it is repriced, unless it becomes a listing of something else or on
        another channel: then the price is withdrawn.

        >>> chalk = {"product": "herb-planter", "variant": "chalk", "channel": "own-shop"}
        >>> client.put_listing("HP-C", chalk, new=True).tag
        '"v1"'
        """
        return self._ask(calls.put_listing(sku, listing, if_match, new=new))

    def delete_listing(self, sku: str, *, if_match: str) -> None:
        """Take a listing away and withdraw its price; what both were stays in the store.

        >>> spare = {"product": "herb-planter", "channel": "own-shop"}
        >>> client.delete_listing("S", if_match=client.put_listing("S", spare, new=True).tag)
        """
        return self._ask(calls.delete_listing(sku, if_match))

    def put_listings(self, rows: ListingRows, *, all_or_none: bool = True) -> RowOutcomes:
        """Add or change up to 10,000 listings at once; those not sent stay as they are.

        ``rows`` are types or dicts, or the bytes of a file: NDJSON, or CSV, in which a column
        that is not there changes nothing. Either all are kept or, if a row has a fault, none and
        ``Refusal`` names each; with ``all_or_none=False`` the others are, and the outcomes tell
        the faults. Tries carry one ``Idempotency-Key``, so it is done once.

        >>> row = {"sku": "HP-9", "product": "herb-plantr", "channel": "own-shop"}
        >>> (outcome,) = client.put_listings([row], all_or_none=False).rows
        >>> outcome.done, outcome.errors[0].detail
        ('refused', "there is no product 'herb-plantr'; did you mean 'herb-planter'?")
        """
        return self._ask(calls.put_listings(rows, all_or_none=all_or_none))

    def listing_prices(
        self, sku: str, *, limit: int | None = None, cursor: str | None = None
    ) -> PriceHistory:
        """Read the prices that a sku has had, the newest change first, a page at a time.

        >>> [each.note for each in client.listing_prices("HP-1").items]
        ['first prices']
        """
        return self._ask(calls.listing_prices(sku, limit, cursor))

    def all_listing_prices(self, sku: str) -> Generator[ListedPrice, None, None]:
        """Read all prices that a sku has had; pages are asked for as they are needed.

        >>> [each.change for each in client.all_listing_prices("HP-1")]
        [1]
        """
        return each_of(lambda cursor: self.listing_prices(sku, limit=LARGEST, cursor=cursor))

    def prices(
        self,
        channel: str | None = None,
        *,
        changed_since: int | None = None,
        seal: bool = False,
        limit: int | None = None,
        cursor: str | None = None,
    ) -> Prices:
        """Read what is for sale on a channel, a page at a time, as a key of it may see it.

        Prices of today and those planned, by ``valid_from``. With ``changed_since``, only what
        changed after that ``change``; an item without breaks is no longer for sale. With ``seal``
        each has its seal, a promise to whoever shows it.

        >>> own = client.prices("own-shop")
        >>> own.change, own.items[0].breaks[0].unit_price
        (1, Decimal('46.90'))
        >>> client.prices("own-shop", changed_since=own.change).items
        []
        """
        return self._ask(calls.prices(channel, changed_since, limit, cursor, seal=seal))

    def all_prices(
        self,
        channel: str | None = None,
        *,
        changed_since: int | None = None,
        seal: bool = False,
    ) -> Generator[PriceItem, None, None]:
        """Read all that is for sale on a channel; pages are asked for as they are needed.

        Items come by their ``change``: the last one's is what to send as ``changed_since``.

        >>> [(each.sku, each.change) for each in client.all_prices("own-shop")]
        [('HP-1', 1)]
        """
        return each_of(
            lambda cursor: self.prices(
                channel, changed_since=changed_since, seal=seal, limit=LARGEST, cursor=cursor
            )
        )

    def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
