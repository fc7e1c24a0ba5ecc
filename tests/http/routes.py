"""Every route that is served, who may ask it, and how it is asked without harm."""

from typing import Any

import httpx

from tests.cube import CUBE
from tests.http.door import Door

NEEDS: dict[tuple[str, str], str | None] = {
    ("POST", "/v1/quotes"): "price",
    ("POST", "/v1/quotes/batch"): "price",
    ("GET", "/v1/unit-price"): "price",
    ("POST", "/v1/calibrations"): "cost",
    ("POST", "/v1/comparisons"): "cost",
    ("GET", "/v1/comparisons/{name}"): "cost",
    ("POST", "/v1/measurements"): "price",
    ("GET", "/v1/workload"): "cost",
    ("PUT", "/v1/workload"): "listings",
    ("GET", "/v1/rates"): "cost",
    ("GET", "/v1/rates/{kind}"): "cost",
    ("GET", "/v1/rates/{kind}/{code}"): "cost",
    ("PUT", "/v1/rates/{kind}/{code}"): "rates",
    ("DELETE", "/v1/rates/{kind}/{code}"): "rates",
    ("POST", "/v1/rate-changes"): "rates",
    ("GET", "/v1/revisions"): "cost",
    ("GET", "/v1/revisions/{number}"): "cost",
    ("GET", "/v1/revisions/{number}/changes"): "cost",
    ("GET", "/v1/products"): "cost",
    ("POST", "/v1/products"): "listings",
    ("GET", "/v1/products/{code}"): "cost",
    ("PUT", "/v1/products/{code}"): "listings",
    ("DELETE", "/v1/products/{code}"): "listings",
    ("GET", "/v1/listings"): "cost",
    ("POST", "/v1/listings"): "listings",
    ("GET", "/v1/listings/{sku}"): "cost",
    ("PUT", "/v1/listings/{sku}"): "listings",
    ("DELETE", "/v1/listings/{sku}"): "listings",
    ("GET", "/v1/listings/{sku}/prices"): "cost",
    ("GET", "/v1/prices"): "price",
    ("GET", "/v1/services"): "price",
    ("POST", "/v1/repricings"): "listings",
    ("GET", "/v1/repricings"): "listings",
    ("GET", "/v1/repricings/{name}"): "listings",
    ("GET", "/v1/repricings/{name}/lines"): "listings",
    ("POST", "/v1/repricings/{name}/apply"): "listings",
    ("POST", "/v1/seals/verify"): None,
    ("GET", "/.well-known/jwks.json"): None,
    ("GET", "/metrics"): "operate",
    ("GET", "/health"): None,
    ("GET", "/openapi.json"): None,
    ("GET", "/docs"): None,
    ("GET", "/docs/{name}"): None,
}
"""The contract's table of resources, those that are served."""

OPENS = {
    "price": {"price"},
    "cost": {"price", "cost"},
    "rates": {"price", "cost", "rates"},
    "listings": {"price", "cost", "listings"},
    "operate": {"operate"},
}
"""price ⊂ cost ⊂ rates; cost ⊂ listings; operate."""

ASKED: dict[str, dict[str, Any]] = {
    "/v1/quotes": {"json": {"sku": "herb-planter", "quantity": 1}},
    "/v1/quotes/batch": {"json": {"requests": [{"sku": "herb-planter", "quantity": 1}]}},
    "/v1/prices": {"params": {"channel": "own-shop"}},
    "/v1/measurements": {"content": CUBE, "headers": {"Content-Type": "model/stl"}},
    "/v1/unit-price": {"params": {"sku": "herb-planter", "quantity": 1}},
    "/v1/seals/verify": {"json": {"seal": "e30.e30.e30"}},
}
"""Those that write are asked without a precondition or a body, so that nothing changes."""
CHANGED_ONE_BY_ONE = ("/v1/rates/{kind}/{code}", "/v1/products/{code}", "/v1/listings/{sku}")
SENT_WITHOUT_A_BODY = (
    "/v1/calibrations",
    "/v1/comparisons",
    "/v1/rate-changes",
    "/v1/products",
    "/v1/listings",
    "/v1/repricings",
    "/v1/repricings/{name}/apply",
)
WITHOUT_HARM = {
    **{(method, path): (428,) for path in CHANGED_ONE_BY_ONE for method in ("PUT", "DELETE")},
    **{("POST", path): (415,) for path in SENT_WITHOUT_A_BODY},
    ("PUT", "/v1/workload"): (428,),
}
ROUTES = [*NEEDS, *(("HEAD", path) for method, path in NEEDS if method == "GET")]


def ask(shop: Door, route: tuple[str, str], key: str | None = None) -> httpx.Response:
    """Ask something of a route that changes nothing."""
    method, path = route
    return shop.ask(method, filled(path), key, **ASKED.get(path, {}))


def filled(path: str) -> str:
    """Fill in what a path leaves open."""
    return path.format(kind="materials", code="asa-green", number=1, name="start.js", sku="HP-1")
