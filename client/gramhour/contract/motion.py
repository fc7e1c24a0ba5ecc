"""What a machine's drives can do: the rates by which the minutes of a toolpath are estimated."""

from decimal import Decimal
from typing import Annotated

from gramhour.contract.members import Sent, amount, member

Speed = Annotated[Decimal, amount("mm/s", above=0, most=10_000)]
SpeedChange = Annotated[Decimal, amount("mm/s", above=0, most=1_000)]
Acceleration = Annotated[Decimal, amount("mm/s2", above=0, most=1_000_000)]
Retraction = Annotated[Decimal, amount("mm", most=1_000)]
Seconds = Annotated[Decimal, amount("s", most=3_600)]


class Motion(Sent, frozen=True, kw_only=True):
    """How a machine moves, for the minutes of a toolpath: from its settings, or as it was timed."""

    speed_mm_s: Annotated[Speed, member("the most along the path, whatever the file asks for")]
    acceleration_mm_s2: Annotated[Acceleration, member("how fast the speed along the path rises")]
    deceleration_mm_s2: Annotated[Acceleration, member("how fast it falls")]
    corner_speed_change_mm_s: Annotated[
        SpeedChange, member("by how much the velocity may change at once at a corner")
    ]
    vertical_speed_mm_s: Annotated[Speed, member("the most of the vertical axis")]
    vertical_acceleration_mm_s2: Annotated[Acceleration, member("of the vertical axis")]
    filament_speed_mm_s: Annotated[Speed, member("the most that filament is fed or drawn back at")]
    filament_acceleration_mm_s2: Annotated[
        Acceleration, member("of filament that moves while the nozzle does not")
    ]
    retraction_mm: Annotated[
        Retraction, member("what the machine draws back by itself where a file only says G10")
    ]
    tool_change_s: Annotated[Seconds, member("what each change of tool takes")]
