"""The shop's keys: which one signs, which are still known, made at first need, turned over.

Between the store, which keeps them, and what signs. The moment is handed in; there is no clock.
"""
