"""The calls about the workload, for both clients, and the parts of the clients that ask them.

Like ``calls``, they know nothing of connections, keys or retries.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, TypeAlias, TypeVar

import msgspec

from gramhour.calls import Call
from gramhour.contract.workload import StoredWorkload, Workload

T = TypeVar("T")
Queues: TypeAlias = Workload | Mapping[str, Sequence[Decimal | int | str]]
"""A workload: a type of the contract, or by machine code the hours of each of its machines."""


def workload() -> Call[StoredWorkload]:
    """Ask for the workload."""
    return Call(
        method="GET", path="/v1/workload", decode=msgspec.json.Decoder(StoredWorkload).decode
    )


def put_workload(queues: Queues, if_match: str) -> Call[StoredWorkload]:
    """Ask for the workload to be put in place of what it is."""
    return Call(
        method="PUT",
        path="/v1/workload",
        headers={"If-Match": if_match},
        body=msgspec.json.encode(_sent(queues)),
        decode=msgspec.json.Decoder(StoredWorkload).decode,
    )


def _sent(queues: Queues) -> Any:
    if isinstance(queues, Workload):
        return queues
    return {"machines": {code: {"queue_h": list(hours)} for code, hours in queues.items()}}


class WorkloadCalls:
    """The part of ``Client`` that asks about the workload."""

    def workload(self) -> StoredWorkload:
        """Read what the machines are promised for; its ``tag`` is what ``put_workload`` takes.

        >>> workload = client.workload()
        >>> workload.tag == f'"w{workload.version}"'
        True
        """
        return self._ask(workload())

    def put_workload(self, queues: Queues, *, if_match: str) -> StoredWorkload:
        """Say, whole, what the machines are promised for: hours by machine, one entry each.

        Lead times begin behind it. ``if_match`` is the ``tag`` of what you read: if it has
        changed since, ``Refusal`` (``precondition-failed``) says how. A workload that is so
        already is answered as it is, whatever the tag. Needs a key with scope ``listings``.

        >>> before = client.workload()
        >>> client.put_workload({"large": ["4.5"]}, if_match=before.tag).version
        1
        """
        return self._ask(put_workload(queues, if_match))

    def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError


class AsyncWorkloadCalls:
    """The part of ``AsyncClient`` that asks about the workload."""

    async def workload(self) -> StoredWorkload:
        """Read what the machines are promised for: see ``Client.workload``."""
        return await self._ask(workload())

    async def put_workload(self, queues: Queues, *, if_match: str) -> StoredWorkload:
        """Say what the machines are promised for: see ``Client.put_workload``."""
        return await self._ask(put_workload(queues, if_match))

    async def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
