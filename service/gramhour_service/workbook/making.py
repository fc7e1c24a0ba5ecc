"""From a quote request to its workbook."""

from msgspec import UNSET

from gramhour.contract.answer import Quote
from gramhour.contract.problem import Fault, Refused
from gramhour.contract.rates import RateSheet
from gramhour.contract.request import QuoteRequest
from gramhour_service.calculation.arithmetic import CannotBePriced, costing_arithmetic
from gramhour_service.resolve.measured import OwnPart
from gramhour_service.resolve.request import Resolved, resolve
from gramhour_service.workbook.book import book_of
from gramhour_service.workbook.document import written
from gramhour_service.workbook.head import head_of, rows_above
from gramhour_service.workbook.quoted import InFigures, in_figures
from gramhour_service.workbook.sheets import Heading, sheets_of

UNNAMED = "A product"


def workbook_of(
    request: QuoteRequest, sheet: RateSheet | None, told: Quote, own: OwnPart | None = None
) -> bytes:
    """Make the workbook of a request and of what it was answered.

    ``own`` is the measured part that it is about, if any. Raises ``Refused`` if it has no price.
    """
    try:
        with costing_arithmetic():
            resolved = resolve(request, sheet, own=own)
            quote = in_figures(request, resolved, own)
            return written(_sheets(request, resolved, quote, told))
    except CannotBePriced as error:
        raise Refused("cannot-be-priced", (Fault(error.pointer, error.detail),)) from None


def _sheets(
    request: QuoteRequest, resolved: Resolved, quote: InFigures, told: Quote
) -> list[tuple[str, str]]:
    named = request.product.name
    heading = f"Quote: {UNNAMED if named is UNSET else named}, on {request.channel}"
    digits = resolved.job.rates.minor_digits
    lines = head_of(told)
    book = book_of(quote, rows_above(lines))
    return sheets_of(book, Heading(heading, resolved.sheet.currency, digits, told, lines))
