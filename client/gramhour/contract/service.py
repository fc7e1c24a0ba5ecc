"""A service: what the shop offers for customers' own parts, and what they are charged like."""

from typing import Annotated

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.channel import Packing
from gramhour.contract.members import Code, Name, Note, RejectShare, Sent, member
from gramhour.contract.size import Size
from gramhour.contract.work import Work

OfMaterials = Annotated[Code, Meta(extra={"refers_to": "materials"})]


class Service(Sent, frozen=True, kw_only=True):
    """How parts are printed that come as a file, and the work and packing that go with them."""

    name: Annotated[Name | UnsetType, member("what people call it")] = UNSET
    note: Annotated[Note | UnsetType, member("anything worth keeping")] = UNSET
    public: Annotated[
        bool | UnsetType,
        member("open to buyers without a key, if the service and the channel are", default=False),
    ] = UNSET
    profile: Annotated[Code, member("how it is printed", refers_to="profiles")]
    machine: Annotated[Code, member("the printer", refers_to="machines")]
    nozzle: Annotated[Code, member("the nozzle fitted for it", refers_to="nozzles")]
    materials: Annotated[
        Annotated[list[OfMaterials], Meta(min_length=1, max_length=100)],
        member("the filaments that a buyer may choose from"),
    ]
    channel: Annotated[Code, member("where it is sold", refers_to="channels")]
    work: Annotated[Work | UnsetType, member("people's minutes; none if absent")] = UNSET
    packing: Annotated[
        Annotated[list[Packing], Meta(max_length=50)] | UnsetType,
        member("what its orders are packed in, in place of the channel's packing"),
    ] = UNSET
    reject_pct: Annotated[
        RejectShare | UnsetType,
        member("of the units made: rejected, broken or returned, and made again", default="0"),
    ] = UNSET
    largest_box: Annotated[
        Size | UnsetType, member("the largest part that is taken; the machine's room if absent")
    ] = UNSET
