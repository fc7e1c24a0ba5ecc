"""The HTTP layer: says who asks, fetches the sheet, calls, and picks the view.

It never calculates a cost or a price. ``create_app(settings)`` in ``app`` is where things are
wired; each route's module says in its ``Operation`` what the contract's document tells of it.
"""
