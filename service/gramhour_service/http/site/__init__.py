"""The routes of the pages: they ask as any caller does, and hand the answer to ``pages``."""

from gramhour_service.http.site import assets, front, own_part

PAGES = (
    assets.asset,
    front.front,
    front.quotation,
    own_part.own_part,
    own_part.own_part_asked,
    own_part.own_part_quotation,
)
"""Served beside the contract's routes; they stand in no contract."""
