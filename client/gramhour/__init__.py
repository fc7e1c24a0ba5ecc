"""Gramhour's client: ask a running service, or the calculation in this process.

    from gramhour import Client

    with Client(url="http://127.0.0.1:8750", key="…") as client:
        quote = client.quote({"product": …, "quantity": 25, "channel": "own-shop"})

What is named here is imported when it is first used: the service shares ``gramhour.contract``
and must not wait for a client that it does not use.
"""

from importlib import import_module
from importlib.metadata import version
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gramhour.async_client import AsyncClient
    from gramhour.client import Client
    from gramhour.contract.answer import BatchAnswer, PriceBatchAnswer, PriceQuote, Quote
    from gramhour.contract.calibration import Calibration, CalibrationRequest
    from gramhour.contract.changes import (
        RateChange,
        RevisionChanges,
        Revisions,
        SavedChanges,
        SavedRate,
        StoredRevision,
    )
    from gramhour.contract.channel import Aim
    from gramhour.contract.compared import Comparison, ComparisonRun
    from gramhour.contract.comparison import Alternative, ComparisonRequest, Outlay, PieceChange
    from gramhour.contract.health import Health
    from gramhour.contract.hours import StaffedHours
    from gramhour.contract.lead_time import LeadTime, PriceLeadTime
    from gramhour.contract.listing import Listing, ListingRow, ProductEntry, ProductRow, Variant
    from gramhour.contract.measurement import Measurement
    from gramhour.contract.prices import PriceItem, Prices
    from gramhour.contract.problem import Fault, Problem
    from gramhour.contract.product import ComponentUse, DesignFee, Feed, Piece, Product
    from gramhour.contract.rates import RateOverrides, RateSheet
    from gramhour.contract.repricing import (
        Applied,
        Repricing,
        RepricingLine,
        RepricingLines,
        Repricings,
    )
    from gramhour.contract.request import (
        ListedItem,
        ListedRequest,
        MeasuredItem,
        MeasuredRequest,
        QuoteItem,
        QuoteRequest,
    )
    from gramhour.contract.seals import PublicKeys, SealedOffer, SealVerdict
    from gramhour.contract.services import OfferedMaterial, OpenService, OpenServices
    from gramhour.contract.stored import StoredKind, StoredRate, StoredSheet
    from gramhour.contract.stored_listing import (
        PriceHistory,
        RowOutcome,
        RowOutcomes,
        StoredListing,
        StoredListings,
        StoredProduct,
        StoredProducts,
    )
    from gramhour.contract.toolpath_measurement import ToolpathMeasurement
    from gramhour.contract.work import Work
    from gramhour.contract.workload import StoredWorkload, Workload
    from gramhour.errors import (
        GramhourError,
        NotCompared,
        NotFinished,
        Refusal,
        RepricingBrokenOff,
        RepricingFailed,
        StillRunning,
        UnexpectedAnswer,
        Unreachable,
    )
    from gramhour.faults import beside
    from gramhour.resume import Resume
    from gramhour.retries import Retries
    from gramhour.timeouts import Timeouts

__all__ = [
    "Aim",
    "Alternative",
    "Applied",
    "AsyncClient",
    "BatchAnswer",
    "Calibration",
    "CalibrationRequest",
    "Client",
    "Comparison",
    "ComparisonRequest",
    "ComparisonRun",
    "ComponentUse",
    "DesignFee",
    "Fault",
    "Feed",
    "GramhourError",
    "Health",
    "LeadTime",
    "ListedItem",
    "ListedRequest",
    "Listing",
    "ListingRow",
    "MeasuredItem",
    "MeasuredRequest",
    "Measurement",
    "NotCompared",
    "NotFinished",
    "OfferedMaterial",
    "OpenService",
    "OpenServices",
    "Outlay",
    "Piece",
    "PieceChange",
    "PriceBatchAnswer",
    "PriceHistory",
    "PriceItem",
    "PriceLeadTime",
    "PriceQuote",
    "Prices",
    "Problem",
    "Product",
    "ProductEntry",
    "ProductRow",
    "PublicKeys",
    "Quote",
    "QuoteItem",
    "QuoteRequest",
    "RateChange",
    "RateOverrides",
    "RateSheet",
    "Refusal",
    "Repricing",
    "RepricingBrokenOff",
    "RepricingFailed",
    "RepricingLine",
    "RepricingLines",
    "Repricings",
    "Resume",
    "Retries",
    "RevisionChanges",
    "Revisions",
    "RowOutcome",
    "RowOutcomes",
    "SavedChanges",
    "SavedRate",
    "SealVerdict",
    "SealedOffer",
    "StaffedHours",
    "StillRunning",
    "StoredKind",
    "StoredListing",
    "StoredListings",
    "StoredProduct",
    "StoredProducts",
    "StoredRate",
    "StoredRevision",
    "StoredSheet",
    "StoredWorkload",
    "Timeouts",
    "ToolpathMeasurement",
    "UnexpectedAnswer",
    "Unreachable",
    "Variant",
    "Work",
    "Workload",
    "__version__",
    "beside",
]

__version__ = version("gramhour")

_ROOMS = {
    "async_client": ("AsyncClient",),
    "client": ("Client",),
    "contract.answer": ("BatchAnswer", "PriceBatchAnswer", "PriceQuote", "Quote"),
    "contract.changes": (
        "RateChange",
        "RevisionChanges",
        "Revisions",
        "SavedChanges",
        "SavedRate",
        "StoredRevision",
    ),
    "contract.calibration": ("Calibration", "CalibrationRequest"),
    "contract.channel": ("Aim",),
    "contract.compared": ("Comparison", "ComparisonRun"),
    "contract.comparison": ("Alternative", "ComparisonRequest", "Outlay", "PieceChange"),
    "contract.hours": ("StaffedHours",),
    "contract.lead_time": ("LeadTime", "PriceLeadTime"),
    "contract.problem": ("Fault", "Problem"),
    "contract.listing": ("Listing", "ListingRow", "ProductEntry", "ProductRow", "Variant"),
    "contract.prices": ("PriceItem", "Prices"),
    "contract.services": ("OfferedMaterial", "OpenService", "OpenServices"),
    "contract.repricing": ("Applied", "Repricing", "RepricingLine", "RepricingLines", "Repricings"),
    "contract.stored_listing": (
        "PriceHistory",
        "RowOutcome",
        "RowOutcomes",
        "StoredListing",
        "StoredListings",
        "StoredProduct",
        "StoredProducts",
    ),
    "contract.product": ("ComponentUse", "DesignFee", "Feed", "Piece", "Product", "Work"),
    "contract.rates": ("RateOverrides", "RateSheet"),
    "contract.request": (
        "ListedItem",
        "ListedRequest",
        "MeasuredItem",
        "MeasuredRequest",
        "QuoteItem",
        "QuoteRequest",
    ),
    "contract.seals": ("PublicKeys", "SealVerdict", "SealedOffer"),
    "contract.stored": ("StoredKind", "StoredRate", "StoredSheet"),
    "contract.workload": ("StoredWorkload", "Workload"),
    "errors": (
        "GramhourError",
        "NotCompared",
        "NotFinished",
        "Refusal",
        "RepricingBrokenOff",
        "RepricingFailed",
        "StillRunning",
        "UnexpectedAnswer",
        "Unreachable",
    ),
    "faults": ("beside",),
    "contract.health": ("Health",),
    "contract.measurement": ("Measurement",),
    "contract.toolpath_measurement": ("ToolpathMeasurement",),
    "resume": ("Resume",),
    "retries": ("Retries",),
    "timeouts": ("Timeouts",),
}
_ROOM_OF = {name: room for room, names in _ROOMS.items() for name in names}


def __getattr__(name: str) -> object:
    """Import what is asked for from the module that has it."""
    if name not in _ROOM_OF:
        raise AttributeError(f"module 'gramhour' has no attribute {name!r}")
    found = getattr(import_module(f"gramhour.{_ROOM_OF[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return [*globals(), *__all__]
