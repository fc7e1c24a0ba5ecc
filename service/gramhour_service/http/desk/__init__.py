"""The desk's routes: pages for whoever keeps the shop, signed in with a key that sees costs.

They ask the contract's own routes (``api``) and hand the answers to ``pages``; a sign-in opens
these routes and nothing else (``sign_in``).
"""

from gramhour_service.http.desk import (
    bench,
    compare,
    home,
    rate,
    rates,
    repricing,
    repricings,
    signing_in,
)

DESK = (
    signing_in.sign_in,
    signing_in.begin_sign_in,
    signing_in.sign_out,
    home.home,
    bench.bench,
    bench.quote_at_bench,
    compare.compare,
    compare.compare_ways,
    compare.comparison,
    rates.rates,
    rates.revision,
    rate.rate,
    rate.change_rate,
    repricings.repricings,
    repricings.start_repricing,
    repricing.repricing,
    repricing.apply_repricing,
)
"""Served beside the contract's routes; they stand in no contract."""
