"""Gramhour's service: the calculation, and everything that asks it."""
