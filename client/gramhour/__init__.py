"""Gramhour's client distribution: the contract's types that every caller shares."""

from importlib.metadata import version

__all__ = ["__version__"]

__version__ = version("gramhour")
