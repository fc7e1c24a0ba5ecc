"""The workload: how long each machine is promised to other orders. It moves all day."""

from typing import Annotated

from msgspec import UNSET, Meta, UnsetType

from gramhour.contract.members import Answered, Code, Moment, QueueHours, Sent, member

MachineCode = Annotated[Code, Meta(extra={"refers_to": "machines"})]


class MachineQueue(Sent, frozen=True, kw_only=True):
    """What the equal machines of one code are promised for."""

    queue_h: Annotated[
        Annotated[list[QueueHours], Meta(max_length=1_000)],
        member(
            "hours, one entry a machine, those not named are free; on the wall where the machine "
            "runs unattended, else staffed ones"
        ),
    ]


class Workload(Sent, frozen=True, kw_only=True):
    """The hours that machines are already promised for; one that is not named is free."""

    machines: Annotated[dict[MachineCode, MachineQueue], member("queues by machine code")]


class StoredWorkload(Answered, frozen=True, kw_only=True):
    """The workload as it was put last, when and by whom; at first there is none."""

    version: int
    changed_at: Moment | UnsetType = UNSET
    changed_by: str | UnsetType = UNSET
    machines: dict[str, MachineQueue]

    @property
    def tag(self) -> str:
        """Its ``ETag``: who sends it as ``If-Match`` has seen this workload."""
        return f'"w{self.version}"'
