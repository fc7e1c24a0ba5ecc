"""Reads requests by a stored sheet; the product of one that came before is not read again.

Of the very same values the very same is read, so the last products are kept with the sheet, by
their content, and none that is long.
"""

from typing import Any, NamedTuple

from msgspec import json

from gramhour.contract.product import Product
from gramhour.contract.reading import read_request
from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.kept import LastMade
from gramhour_service.resolve.described import LONGEST_KEPT, MOST_KEPT
from gramhour_service.sheets.in_force import InForce

KEY = ("read", "")
ENCODER = json.Encoder(decimal_format="number")


class ProductRead(NamedTuple):
    """A product, and the plain values that it was read from."""

    sent: dict[str, Any]
    product: Product


def read_by(in_force: InForce, sent: Any, *, names_codes: bool) -> QuoteRequest:
    """Read a request by a sheet in force; see ``read_request``. Raises ``Refused``."""
    sheet = in_force.sheet
    content = _content(sent)
    if content is None:
        return read_request(sent, sheet, names_codes=names_codes)
    products = _products(in_force)
    known = products.found(content)
    if known is not None and known.sent == sent["product"]:  # a day may be written as a text is
        return read_request({**sent, "product": known.product}, sheet, names_codes=names_codes)
    request = read_request(sent, sheet, names_codes=names_codes)
    products.keep(content, ProductRead(sent["product"], request.product))
    return request


def _content(sent: Any) -> bytes | None:
    """Write down a product that is read by the sheet alone; none that is long or cannot be."""
    if not isinstance(sent, dict) or "rates" in sent or "rate_overrides" in sent:
        return None
    product = sent.get("product")
    if not isinstance(product, dict):
        return None
    try:
        content = ENCODER.encode(product)
    except (OverflowError, RecursionError, TypeError, ValueError):  # the reader says what is wrong
        return None
    return content if len(content) <= LONGEST_KEPT else None


def _products(in_force: InForce) -> LastMade[bytes, ProductRead]:
    kept = in_force.kept.get(KEY)
    if kept is None:
        kept = in_force.kept[KEY] = LastMade(MOST_KEPT), ()
    products: LastMade[bytes, ProductRead] = kept[0]
    return products
