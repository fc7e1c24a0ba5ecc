"""Something listed: a planter in two filaments, its first price, and the repricing that made it."""

from typing import Any

from gramhour import Client, Repricing
from tests.client.demand import PLANTER

PRODUCT: dict[str, Any] = {
    "product": PLANTER["product"],
    "variants": [{"name": "chalk", "materials": {"asa-green": "pla-chalk"}}],
}
LISTING: dict[str, Any] = {
    "product": "herb-planter",
    "channel": "own-shop",
    "aim": {"margin_pct": 40},
    "breaks": [1, 10],
}


def listed(client: Client, *skus: str) -> Repricing:
    """Put the product, list it under each sku, and apply what that is to cost."""
    client.put_product("herb-planter", PRODUCT, new=True)
    client.put_listings([{"sku": sku, **LISTING} for sku in skus or ("HP-1",)])
    first = client.wait_for(client.reprice().id)
    client.apply(first.id, note="first prices")
    return first
