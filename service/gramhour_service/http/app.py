"""Wires the service: settings in, an ASGI application out."""

import asyncio
import os
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache, partial

from litestar import Litestar, Response
from litestar.config.cors import CORSConfig
from litestar.datastructures import State

from gramhour_service.http import (
    batch,
    calibrations,
    comparison,
    comparisons,
    docs,
    health,
    listing,
    listings,
    measurements,
    metrics,
    prices,
    products,
    quotes,
    rate,
    rate_changes,
    rates,
    repricing,
    repricings,
    revisions,
    seals,
    services,
    unit_price,
    workload,
)
from gramhour_service.http.asking import admit
from gramhour_service.http.cells import answer_cell_or_refusal
from gramhour_service.http.desk import DESK
from gramhour_service.http.document import document_of
from gramhour_service.http.front import Front, write_line
from gramhour_service.http.metrics import Metrics
from gramhour_service.http.options import options_of
from gramhour_service.http.settings import MEASURED_AT_ONCE, MOST_BODY_BYTES, Settings
from gramhour_service.http.shop import Shop
from gramhour_service.http.site import PAGES

HANDLERS = (
    quotes.quotes,
    batch.batch,
    unit_price.unit_price,
    calibrations.calibrations,
    comparisons.comparisons,
    comparison.comparison,
    measurements.measurements,
    rates.sheet,
    rates.kind,
    rates.rate,
    rate.put_rate,
    rate.delete_rate,
    rate_changes.rate_changes,
    revisions.revisions,
    revisions.revision,
    revisions.revision_changes,
    workload.workload,
    workload.change_workload,
    prices.prices,
    services.services,
    products.products,
    products.post_products,
    products.product,
    products.put_one_product,
    products.delete_product,
    listings.listings,
    listings.post_listings,
    listing.listing,
    listing.put_one_listing,
    listing.delete_listing,
    listing.listing_prices,
    repricings.post_repricing,
    repricings.repricings,
    repricing.repricing,
    repricing.repricing_lines,
    repricing.apply_repricing,
    seals.verify,
    seals.jwks,
    health.health,
    metrics.metrics,
    docs.openapi,
    docs.page,
    docs.asset,
)


def world_clock() -> datetime:
    """Say what time it is."""
    return datetime.now(UTC)


def create_app(
    settings: Settings,
    now: Callable[[], datetime] = world_clock,
    open_shop: Callable[[Settings, Callable[[], datetime]], Shop] = Shop,
) -> Litestar:
    """Make the application. Raises ``StoreTrouble`` if the store cannot be used."""
    shop = open_shop(settings, now)
    counted = Metrics()
    app = Litestar(
        route_handlers=[*options_of((*HANDLERS, *PAGES, *DESK)), *HANDLERS, *PAGES, *DESK],
        guards=[admit],
        exception_handlers={Exception: answer_cell_or_refusal},
        state=State(
            {
                "shop": shop,
                "document": cache(partial(document_of, HANDLERS)),
                "metrics": counted.written,
                "computing": asyncio.Semaphore(1),
                "measuring": asyncio.Semaphore(MEASURED_AT_ONCE),
            }
        ),
        on_shutdown=[shop.close],
        after_request=_tell_worker if settings.tells_worker else None,
        request_max_body_size=MOST_BODY_BYTES,
        openapi_config=None,
        logging_config=None,
        cors_config=_cors(settings) if settings.origins else None,
    )
    told = (counted.count, write_line) if settings.writes_log else (counted.count,)
    app.asgi_handler = Front(app.asgi_handler, settings, told)
    return app


def _cors(settings: Settings) -> CORSConfig:
    """Let pages of the origins that are named ask with a key, which they must hold themselves."""
    return CORSConfig(
        allow_origins=sorted(settings.origins),
        allow_methods=["GET", "POST", "PUT", "DELETE"],
        allow_headers=[
            "Accept",
            "Authorization",
            "Content-Type",
            "Idempotency-Key",
            "If-Match",
            "If-None-Match",
        ],
        expose_headers=["ETag", "Location", "Retry-After", "X-Request-Id"],
        max_age=600,
    )


def _tell_worker(response: Response[bytes]) -> Response[bytes]:
    response.headers["X-Gramhour-Worker"] = str(os.getpid())
    return response
