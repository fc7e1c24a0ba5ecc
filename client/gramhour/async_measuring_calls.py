"""What the asynchronous client asks about files and own parts: the calls of ``measuring_calls``."""

from collections.abc import AsyncGenerator
from datetime import date
from typing import TypeVar, Unpack

from gramhour import calls_of_measurements as calls
from gramhour.calls import Call
from gramhour.calls_of_measurements import AboutMesh, Materials, MeshType
from gramhour.contract.measurement import Measurement
from gramhour.contract.services import OpenService, OpenServices
from gramhour.contract.toolpath_measurement import ToolpathMeasurement
from gramhour.paging import LARGEST, each_of_async

T = TypeVar("T")


class AsyncMeasuringCalls:
    """The part of ``AsyncClient`` that has files measured, and says who makes own parts."""

    async def measure(
        self, content: bytes, *, media_type: MeshType, **about: Unpack[AboutMesh]
    ) -> Measurement:
        """Say what a mesh file holds: see ``Client.measure``."""
        return await self._ask(calls.measure(content, media_type, about))

    async def measure_toolpath(
        self,
        content: bytes,
        *,
        machine: str,
        material: Materials,
        rates_revision: int | None = None,
        rates_on: date | None = None,
    ) -> ToolpathMeasurement:
        """Say what a toolpath makes a machine do: see ``Client.measure_toolpath``."""
        return await self._ask(
            calls.measure_toolpath(content, machine, material, rates_revision, rates_on)
        )

    async def services(
        self, *, limit: int | None = None, cursor: str | None = None
    ) -> OpenServices:
        """Read which services make own parts for you: see ``Client.services``."""
        return await self._ask(calls.services(limit, cursor))

    def all_services(self) -> AsyncGenerator[OpenService, None]:
        """Read all services that make own parts for you: see ``Client.all_services``."""
        return each_of_async(lambda cursor: self.services(limit=LARGEST, cursor=cursor))

    async def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
