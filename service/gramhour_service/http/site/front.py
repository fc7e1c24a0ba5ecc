"""GET /: the customer's page, if the service quotes without a key; else where to go."""

from litestar import Response

from gramhour_service.http.site.serving import page, serves_page
from gramhour_service.http.wire import Asked


@serves_page("GET", "/")
async def front(request: Asked) -> Response[bytes]:
    """Answer the page."""
    return page(request, "closed.html")
