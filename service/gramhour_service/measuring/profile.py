"""The profile: how a shop prints, as far as an estimate needs to know it."""

from decimal import Decimal
from typing import NamedTuple


class Profile(NamedTuple):
    """How layers are laid; members are called as in a rate sheet.

    ``support_angle_deg`` is how far a surface may lean over from the upright before it is
    supported: a ceiling leans over by 90, so at 90 nothing is supported.
    """

    layer_mm: Decimal
    bead_width_mm: Decimal
    outlines: int
    solid_layers: int
    fill_pct: Decimal
    support_angle_deg: Decimal
    speed_mm_s: Decimal
    layer_change_s: Decimal
