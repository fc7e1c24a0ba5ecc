"""From a quote request to its workbook."""

from gramhour.contract.rates import RateSheet
from gramhour.contract.request import QuoteRequest
from msgspec import UNSET

from gramhour_service.calculation.arithmetic import costing_arithmetic
from gramhour_service.resolve.request import resolve
from gramhour_service.workbook.book import book_of
from gramhour_service.workbook.document import written
from gramhour_service.workbook.quoted import in_figures
from gramhour_service.workbook.sheets import sheets_of

UNNAMED = "A product"


def workbook_of(request: QuoteRequest, sheet: RateSheet | None) -> bytes:
    """Make the workbook of a request that can be priced. Raises ``Refused`` if it cannot."""
    with costing_arithmetic():
        resolved = resolve(request, sheet)
        quote = in_figures(request, resolved)
        named = request.product.name
        heading = f"Quote: {UNNAMED if named is UNSET else named}, on {request.channel}"
        digits = resolved.job.rates.minor_digits
        return written(sheets_of(book_of(quote), heading, resolved.sheet.currency, digits))
