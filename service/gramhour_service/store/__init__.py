"""The store: keeps rates, revisions and keys in one SQLite file, and reads them back.

It never calculates, has no clock, and does not know what a rate means: values go in and come out
as JSON texts. History is only ever added to; triggers refuse anything else.
"""

import sys

if "numpy" not in sys.modules:
    # sqlite-utils loads numpy wherever it is installed, for arrays, which no store of ours takes.
    # It would be an eighth of the time in which a service starts, and 20 MB of each process.
    sys.modules["numpy"] = None  # type: ignore[assignment]
    try:
        import sqlite_utils  # noqa: F401
    finally:
        del sys.modules["numpy"]
