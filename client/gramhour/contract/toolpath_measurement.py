"""The answer to a toolpath that was measured: filament by tool, estimated minutes, layers.

Physical amounts are numbers, like all in answers.
"""

from datetime import date

from msgspec import UNSET, UnsetType

from gramhour.contract.members import Answered


class FedTool(Answered, frozen=True, kw_only=True):
    """What a tool was fed with in all; a retraction and its return cancel out."""

    tool: int
    material: str
    filament_mm: float
    volume_mm3: float
    mass_g: float


class Corner(Answered, frozen=True, kw_only=True):
    """A place in the machine's coordinates."""

    x_mm: float
    y_mm: float
    z_mm: float


class LaidBox(Answered, frozen=True, kw_only=True):
    """How far the nozzle's tip reaches while it lays material: centres of beads, not edges."""

    low: Corner
    high: Corner


class CodeNotRead(Answered, frozen=True, kw_only=True):
    """A code of the file that is not carried out, and how often it stands there."""

    code: str
    times: int


class ToolpathMeasurement(Answered, frozen=True, kw_only=True):
    """What a toolpath makes a machine do.

    ``digest`` is the SHA-256 of the file. ``basis`` says in words what the amounts rest on; the
    minutes, without warm-up and homing, are an estimate. ``laying_min`` are those in which the
    nozzle travels and lays. ``layers`` are the heights at which material is laid on the level;
    moves that lay while they climb are counted in ``climbing_moves``. The flows are of moves that
    travel and lay. ``unfed_moves`` were made before the file named a feed, at the machine's most.
    ``not_read`` are codes that were passed over: look at those that you know to take time or
    filament.
    """

    media_type: str
    digest: str
    basis: str
    machine: str
    rates_revision: int | UnsetType = UNSET
    rates_on: date | UnsetType = UNSET
    tools: list[FedTool]
    print_min: float
    laying_min: float
    layers: int
    box: LaidBox
    mean_flow_mm3_s: float
    peak_flow_mm3_s: float
    lines: int
    moves: int
    climbing_moves: int
    unfed_moves: int
    not_read: list[CodeNotRead]
