"""What can be loaded at the desk: products by code, listings by sku."""

from gramhour_service.http.desk.api import ask
from gramhour_service.http.desk.serving import PART
from gramhour_service.http.wire import Asked

MOST = 500


async def offered(request: Asked) -> list[tuple[str, str]]:
    """List the first of them, with what they are called."""
    if PART in request.headers:
        return []
    products = await ask(request, "GET", "/v1/products", query={"limit": MOST})
    listings = await ask(request, "GET", "/v1/listings", query={"limit": MOST})
    found = [
        (each["code"], each["entry"]["product"].get("name", "a product"))
        for each in (products.document or {"items": []})["items"]
    ]
    for each in (listings.document or {"items": []})["items"]:
        listing = each["listing"]
        name = listing.get("name", listing["product"])
        found.append((each["sku"], f"{name}, {listing['channel']}"))
    return found
