"""The stored workload, and what a quote depends on outside of its request and rates."""

from collections.abc import Callable
from datetime import datetime
from functools import lru_cache

import msgspec
from msgspec import UNSET
from sqlite_utils import Database

from gramhour.contract.workload import MachineQueue, StoredWorkload, Workload
from gramhour_service.resolve.lead_time import NO_QUEUES, Outside
from gramhour_service.sheets.asked import Asked
from gramhour_service.store.workload import Put, latest_workload

MACHINES = msgspec.json.Decoder(dict[str, MachineQueue])


@lru_cache(maxsize=16)
def told_workload(put: Put | None) -> StoredWorkload:
    """Tell a workload as it was put last; before that there is an empty one."""
    if put is None:
        return StoredWorkload(version=0, machines={})
    return StoredWorkload(
        version=put.version,
        changed_at=datetime.fromisoformat(put.changed_at),
        changed_by=put.changed_by,
        machines=MACHINES.decode(put.machines),
    )


def stored_workload(store: Database) -> Workload:
    """Read the workload that lead times begin behind."""
    return Workload(machines=told_workload(latest_workload(store)).machines)


def outside_of(asked: Asked, now: datetime, read: Callable[[], Workload | None]) -> Outside:
    """Say what a request depends on outside; the workload is read where a lead time needs it."""
    request, sheet = asked.request, asked.sheet
    overrides = request.rate_overrides
    is_staffed = sheet is not None and (
        sheet.staffed_hours is not UNSET
        or (overrides is not UNSET and overrides.staffed_hours is not UNSET)
    )
    is_needed = is_staffed and request.rates is UNSET and request.workload is UNSET
    return Outside(now, (read() if is_needed else None) or NO_QUEUES)
