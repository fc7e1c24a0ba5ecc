"""Writes the contract's document: ``python -m gramhour_service.http > openapi/openapi.json``."""

import sys

from gramhour_service.http.app import HANDLERS
from gramhour_service.http.document import document_of

sys.stdout.buffer.write(document_of(HANDLERS))
