"""Every call of the client, with as little to ask for as it takes."""

from collections.abc import Callable

from gramhour import Client


def every_call(client: Client) -> dict[str, Callable[[], object]]:
    """Give each call by its name."""
    return {
        "quote": lambda: client.quote({}),
        "quote_price": lambda: client.quote_price({}),
        "compare": lambda: client.compare({}),
        "comparison": lambda: client.comparison("x"),
        "quote_many": lambda: next(client.quote_many([{}])),
        "quote_price_many": lambda: next(client.quote_price_many([{}])),
        "unit_price": lambda: client.unit_price(quantity=1),
        "rates": client.rates,
        "rates_kind": lambda: client.rates_kind("shop"),
        "rate": lambda: client.rate("shop", "x"),
        "measure": lambda: client.measure(b"", media_type="model/stl"),
        "measure_toolpath": lambda: client.measure_toolpath(b"", machine="m", material="x"),
        "health": client.health,
        "put_rate": lambda: client.put_rate("shop", "x", 1, new=True),
        "delete_rate": lambda: client.delete_rate("shop", "x", if_match='"r1@2026-12-01"'),
        "workload": client.workload,
        "put_workload": lambda: client.put_workload({}, if_match='"w0"'),
        "revisions": client.revisions,
        "all_revisions": lambda: next(client.all_revisions()),
        "revision": lambda: client.revision(1),
        "revision_changes": lambda: client.revision_changes(1),
        "change_rates": lambda: client.change_rates([], based_on_revision=1),
        "products": client.products,
        "all_products": lambda: next(client.all_products()),
        "product": lambda: client.product("x"),
        "put_product": lambda: client.put_product("x", {}, new=True),
        "delete_product": lambda: client.delete_product("x", if_match='"v1"'),
        "put_products": lambda: client.put_products([{}]),
        "listings": client.listings,
        "all_listings": lambda: next(client.all_listings()),
        "listings_csv": client.listings_csv,
        "listing": lambda: client.listing("X"),
        "put_listing": lambda: client.put_listing("X", {}, new=True),
        "delete_listing": lambda: client.delete_listing("X", if_match='"v1"'),
        "put_listings": lambda: client.put_listings([{}]),
        "listing_prices": lambda: client.listing_prices("X"),
        "all_listing_prices": lambda: next(client.all_listing_prices("X")),
        "prices": client.prices,
        "all_prices": lambda: next(client.all_prices()),
        "verify_seal": lambda: client.verify_seal("x"),
        "seal_keys": client.seal_keys,
        "reprice": client.reprice,
        "repricing": lambda: client.repricing("x"),
        "repricings": client.repricings,
        "wait_for": lambda: client.wait_for("x"),
        "repricing_lines": lambda: client.repricing_lines("x"),
        "all_repricing_lines": lambda: next(client.all_repricing_lines("x")),
        "apply": lambda: client.apply("x"),
    }
