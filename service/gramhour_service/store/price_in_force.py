"""Which price of a sku counts on a day, as SQL: said once, for all who ask.

Of the changes with effective_from up to the day the one with the latest effective_from counts,
among equal ones the one with the highest number. A change without breaks withdraws: it ends all
changes of the sku on its channel that were made before it, planned ones too.
"""

ENDED_BY = """
    coalesce((SELECT max(change) FROM price_change w INDEXED BY price_change_withdrawn
        WHERE w.sku = {0}.sku AND +w.channel = {0}.channel AND w.breaks = '[]'
            AND w.effective_from <= {1}), 0)
"""
"""The last withdrawal by a day: it ends all changes before it, planned ones too.

Found by the sku, among withdrawals alone."""


def in_force(columns: str, sku: str, day: str) -> str:
    """Select what is told of the price of a sku on a day, both as SQL may write them."""
    return f"""
        SELECT {columns} FROM price_change p WHERE p.sku = {sku} AND p.effective_from <= {day}
            AND p.change >= {ENDED_BY.format("p", day)}
        ORDER BY p.effective_from DESC, p.change DESC LIMIT 1
    """  # noqa: S608 (our own names)
