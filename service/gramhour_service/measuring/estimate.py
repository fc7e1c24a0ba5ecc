"""Estimates: from what is laid down to grams and minutes.

Decimal from here on, so that two programs agree in every digit; what comes of a mesh is rounded
to 3 decimals of a mm³ when it enters.
"""

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from gramhour_service.calculation.arithmetic import half_even
from gramhour_service.calculation.rules import rule
from gramhour_service.calculation.worked import computed, followed
from gramhour_service.measuring.profile import Profile

MM3_OF_CM3 = 1000
SECONDS_OF_MINUTE = 60
WHOLE = Decimal(1)


class Laid(NamedTuple):
    """What one piece takes: the volume laid down in mm³, support included, and its layers."""

    volume_mm3: Decimal
    support_mm3: Decimal
    layers: int


@rule
def bead_area(width_mm: Decimal, layer_mm: Decimal) -> Decimal:
    """A bead is a rectangle with semicircular sides: (w − h)·h + π·h²/4, in mm², to 6 decimals.

    Form as in Comminal et al., Additive Manufacturing 20 (2018) 68. Raises ``ValueError`` for a
    bead that is higher than wide: such a one is not laid flat.
    """
    if width_mm < layer_mm:
        raise ValueError(
            f"a bead of {width_mm} mm cannot be laid in layers of {layer_mm} mm: "
            "it must be at least as wide as it is high"
        )
    sides = Decimal(repr(math.pi / 4 * float(layer_mm) ** 2))
    told = computed(sides, "pi / 4 * {}^2", layer_mm)
    return followed(half_even((width_mm - layer_mm) * layer_mm + told, 6))


@rule
def flow_mm3_s(profile: Profile, flow_limit_mm3_s: Decimal | None) -> Decimal:
    """The flow is the bead's area times the speed, or what nozzle and material allow if less."""
    wanted = bead_area(profile.bead_width_mm, profile.layer_mm) * profile.speed_mm_s
    return wanted if flow_limit_mm3_s is None else min(wanted, flow_limit_mm3_s)


@rule
def printing_minutes(
    volume_mm3: Decimal,
    layers: int | Decimal,
    flow: Decimal,
    pace: Decimal,
    layer_change_s: Decimal,
) -> Decimal:
    """A build takes its volume over the flow at its pace, and the change of each layer.

    ``volume_mm3`` is of the whole build, whose layers are counted once.
    """
    # Multiplied first and divided once: (V/(Q · pace) + layers · change) / 60.
    seconds_by_flow = volume_mm3 + layers * layer_change_s * flow * pace
    return seconds_by_flow / (flow * pace * SECONDS_OF_MINUTE)


@rule
def layer_change_minutes(layers: Decimal, layer_change_s: Decimal) -> Decimal:
    """A build changes layers as often as it has any, however full it is."""
    return layers * layer_change_s / SECONDS_OF_MINUTE


@rule
def grams_of(volume_mm3: Decimal, density_g_cm3: Decimal) -> Decimal:
    """Grams are the volume laid down times the density."""
    return volume_mm3 * density_g_cm3 / MM3_OF_CM3


@rule
def shell_form(
    volume_mm3: Decimal, area_mm2: Decimal, height_mm: Decimal, profile: Profile
) -> Laid:
    """Of typed geometry the surface is taken as a shell of all outlines, the rest as filled.

    It overstates compact bodies, whose shell shrinks towards the inside, and knows no support.
    """
    shell = min(volume_mm3, area_mm2 * profile.outlines * profile.bead_width_mm)
    used = shell + (volume_mm3 - shell) * profile.fill_pct / 100
    return Laid(used, Decimal(0), layers_of(height_mm, profile.layer_mm))


def layers_of(height_mm: Decimal, layer_mm: Decimal) -> int:
    """A layer is laid where its middle lies within the height: rounded half up, at least 1.

    The number is rounded to 6 decimals before.
    """
    layers = half_even(height_mm / layer_mm, 6)
    return max(1, int(layers.quantize(WHOLE, ROUND_HALF_UP)))
