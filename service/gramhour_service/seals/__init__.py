"""Sealed prices: what a seal promises, which prices are sealed, and whether one shown counts.

A seal is a bearer promise: whoever shows it may have the price until it expires. So only what
the shop itself would offer is sealed. The moment is handed in; there is no clock here.
"""
