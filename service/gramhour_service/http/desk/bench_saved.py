"""What the bench loads from the shop and saves to it, with the tag of what was seen."""

from collections.abc import Mapping
from typing import Any, NamedTuple
from urllib.parse import quote

import msgspec

from gramhour.contract.listing import ProductEntry
from gramhour.contract.problem import Problem
from gramhour_service.http.desk.api import Told, ask
from gramhour_service.http.desk.serving import Form
from gramhour_service.http.desk.sheet import Sheet
from gramhour_service.http.wire import Asked
from gramhour_service.listings.variants import variants_of
from gramhour_service.pages.desk.words import A_CODE, A_SKU

OF_THE_LISTING = ("channel", "aim", "breaks")
NOTHING: Mapping[str, Any] = {}


class Saved(NamedTuple):
    """What came of saving: what it says, at which field if that is at fault, or why it is refused.

    ``goes_on`` says what to do next, if there is anything; ``cautions`` what to look at twice.
    """

    says: str = ""
    problem: Problem | None = None
    at: str = ""
    is_done: bool = False
    goes_on: str = ""
    cautions: tuple[Mapping[str, str], ...] = ()


NAMES = {
    "code": Saved(A_CODE, at="product-code"),
    "sku": Saved(A_SKU, at="sku"),
}
"""What is wrong with a name that is refused, in place of the pattern that it does not match."""


class Loaded(NamedTuple):
    """What stands on the bench: a product, perhaps as a listing sells it, and the tags seen."""

    code: str = ""
    product_tag: str = ""
    sku: str = ""
    listing_tag: str = ""
    variant: str = ""
    price: Mapping[str, Any] = NOTHING
    says: str = ""
    known: tuple[str, ...] = ("", "")

    @property
    def title(self) -> str:
        """Name it."""
        return self.sku or self.code


def loaded_from(form: Form) -> Loaded:
    """Read what was loaded from the form; tags hold for the names that they were read of."""
    code, sku = form.one("product-code"), form.one("sku")
    known_code, known_sku = form.one("known-code"), form.one("known-sku")
    return Loaded(
        code,
        form.one("product-tag") if code == known_code else "",
        sku,
        form.one("listing-tag") if sku == known_sku else "",
        form.one("variant"),
        known=(known_code, known_sku),
    )


async def load(request: Asked, sheet: Sheet, name: str) -> tuple[dict[str, Any], Loaded]:
    """Load a product by its code or a listing by its sku, as a request for one unit."""
    empty = _request(sheet, {"pieces": [{"feed": [{}]}], "work": {}})
    if not name:
        return empty, Loaded()
    product = await ask(request, "GET", f"/v1/products/{quote(name, safe='')}")
    if product.problem is None:
        entry = product.document["entry"]
        return _request(sheet, entry["product"]), Loaded(name, product.tag, known=(name, ""))
    listing = await ask(request, "GET", f"/v1/listings/{quote(name, safe='')}")
    if listing.problem is not None:
        says = f"There is no product and no listing called {name}; choose one of those offered."
        return empty, Loaded(says=says)
    return await _listed(request, sheet, name, listing)


async def _listed(
    request: Asked, sheet: Sheet, sku: str, listing: Told
) -> tuple[dict[str, Any], Loaded]:
    """Load a product as a listing sells it: in its variant's filaments, on its channel."""
    stored, sold = listing.document, listing.document["listing"]
    code, variant = sold["product"], sold.get("variant", "")
    product = await ask(request, "GET", f"/v1/products/{code}")
    assert product.document is not None, product.problem
    entry = product.document["entry"]
    described = _in_variant(entry, variant)
    document = {
        **_request(sheet, described),
        **{name: sold[name] for name in OF_THE_LISTING if name in sold},
    }
    price = stored.get("price", NOTHING)
    loaded = Loaded(code, product.tag, sku, listing.tag, variant, price, known=(code, sku))
    return document, loaded


def _request(sheet: Sheet, product: Mapping[str, Any]) -> dict[str, Any]:
    channel = next(iter(sheet.rates.get("channels", {})), "")
    return {"quantity": 1, "channel": channel, "product": dict(product)}


def _in_variant(entry: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    """Describe a stored product in a variant's filaments, by the rule that listings have."""
    stored = msgspec.convert(entry, ProductEntry)
    in_variant = variants_of(stored).get(name, stored.product)
    described: Mapping[str, Any] = msgspec.to_builtins(in_variant)
    return described


async def save_product(
    request: Asked, loaded: Loaded, document: Mapping[str, Any]
) -> tuple[Loaded, Saved]:
    """Put what is described in place of a stored product, or add it."""
    if not loaded.code:
        return loaded, Saved("Give the product a code first.", at="product-code")
    place = f"/v1/products/{quote(loaded.code, safe='')}"
    stored = await ask(request, "GET", place)
    entry = {} if stored.document is None else stored.document["entry"]
    if entry and loaded.variant and _in_variant(entry, loaded.variant) != entry["product"]:
        says = (
            f"These are the filaments of the variant {loaded.variant}; load {loaded.code} "
            "itself to change the product of all its variants."
        )
        return loaded, Saved(says)
    sent = {**entry, "product": document.get("product", {})}
    done = await ask(request, "PUT", place, sent=sent, headers=_seen(loaded.product_tag))
    if done.problem is not None:
        return loaded, _refused(done.problem)
    saved = f"Product {loaded.code} is saved."
    known = (loaded.code, loaded.known[1])
    return loaded._replace(product_tag=done.tag, known=known), Saved(
        saved, is_done=True, cautions=_cautions(done)
    )


async def save_listing(
    request: Asked, loaded: Loaded, document: Mapping[str, Any]
) -> tuple[Loaded, Saved]:
    """Put channel, aim and breaks in place of a listing's, or add one of the product."""
    if not loaded.sku or not loaded.code:
        says = "Give the listing a sku, and the code of a product that is saved."
        return loaded, Saved(says, at="sku" if loaded.code else "product-code")
    place = f"/v1/listings/{quote(loaded.sku, safe='')}"
    stored = await ask(request, "GET", place)
    before = {} if stored.document is None else stored.document["listing"]
    kept = {name: value for name, value in before.items() if name not in OF_THE_LISTING}
    sent = {
        **kept,
        "product": loaded.code,
        **({"variant": loaded.variant} if loaded.variant else {}),
        **{name: document[name] for name in OF_THE_LISTING if name in document},
    }
    done = await ask(request, "PUT", place, sent=sent, headers=_seen(loaded.listing_tag))
    if done.problem is not None:
        return loaded, _refused(done.problem)
    says = f"Listing {loaded.sku} is saved; its price changes when a repricing is applied."
    known = (loaded.known[0], loaded.sku)
    saved = Saved(says, is_done=True, goes_on="Reprice what is listed.", cautions=_cautions(done))
    return loaded._replace(listing_tag=done.tag, known=known), saved


def _cautions(done: Told) -> tuple[Mapping[str, str], ...]:
    return tuple(done.document.get("cautions", ()))


def _refused(problem: Problem) -> Saved:
    """Tell why something is not saved: at its field, if it is a name."""
    found = (NAMES.get(str(fault.parameter)) for fault in problem.errors)
    return next((saved for saved in found if saved is not None), Saved(problem=problem))


def _seen(tag: str) -> dict[str, str]:
    return {"if-match": tag} if tag else {"if-none-match": "*"}
