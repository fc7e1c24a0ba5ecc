"""What callers may send of rows and names of rates; commands look before they send."""

import re

from gramhour.contract.rates import KINDS

MOST_ROWS = 10_000
"""Rows sent at once."""

DONE_LINE = re.compile(rb'\{"done":\s?([0-9]{1,9})\}')
"""The last line of rows that are whole, with their number."""

RATE_USED = re.compile(rf"({'|'.join(KINDS)})/([a-z0-9][a-z0-9-]{{0,62}})")
"""A kind of rate and a code."""
