"""A profile: how the shop prints, as far as grams and minutes are estimated from it."""

from decimal import Decimal
from typing import Annotated

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.members import Code, Name, Note, Sent, Share, amount, member
from gramhour.contract.motion import Seconds, Speed

LayerHeight = Annotated[Decimal, amount("mm", above=0, most=10)]
BeadWidth = Annotated[Decimal, amount("mm", above=0, most=20)]
Outlines = Annotated[int, Meta(ge=0, le=100, extra={"unit": "outlines"})]
Layers = Annotated[int, Meta(ge=0, le=1_000, extra={"unit": "layers"})]
Lean = Annotated[Decimal, amount("degrees", most=90)]
Flow = Annotated[Decimal, amount("mm3/s", above=0, most=10_000)]


class FlowLimit(Sent, frozen=True, kw_only=True):
    """The most that a nozzle lets through of a material; of all that are met the least holds."""

    nozzle: Annotated[
        Code | UnsetType, member("with this nozzle; with any if absent", refers_to="nozzles")
    ] = UNSET
    material: Annotated[
        Code | UnsetType, member("of this material; of any if absent", refers_to="materials")
    ] = UNSET
    flow_mm3_s: Annotated[Flow, member("the most, as it was measured")]


class Profile(Sent, frozen=True, kw_only=True):
    """How layers are laid: heights, widths, what is solid and how fast the nozzle goes."""

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    note: Annotated[Note | UnsetType, member("anything worth keeping")] = UNSET
    layer_mm: Annotated[LayerHeight, member("height of a layer")]
    bead_width_mm: Annotated[BeadWidth, member("width of a bead, at least the layer's height")]
    outlines: Annotated[Outlines, member("beads side by side along each edge")]
    solid_layers: Annotated[Layers, member("layers without gaps below and above")]
    fill_pct: Annotated[Share, member("of what is inside of them, and of support")]
    support_angle_deg: Annotated[
        Lean | UnsetType,
        member(
            "how far a surface may lean over from the upright before it is supported; at 90 "
            "nothing is",
            default="90",
        ),
    ] = UNSET
    speed_mm_s: Annotated[Speed, member("of the nozzle while it lays")]
    layer_change_s: Annotated[
        Seconds | UnsetType, member("what each layer takes beside its beads", default="0")
    ] = UNSET
    flow_limits: Annotated[
        Annotated[list[FlowLimit], Meta(max_length=200)] | UnsetType,
        member("what nozzles let through; without one the speed alone decides"),
    ] = UNSET
