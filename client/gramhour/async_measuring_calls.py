"""What the async client asks about files."""

from datetime import date
from typing import TypeVar, Unpack

from gramhour import calls_of_measurements as calls
from gramhour.calls import Call
from gramhour.calls_of_measurements import AboutMesh, Materials, MeshType
from gramhour.contract.measurement import Measurement
from gramhour.contract.toolpath_measurement import ToolpathMeasurement

T = TypeVar("T")


class AsyncMeasuringCalls:
    """The part of ``AsyncClient`` that has files measured."""

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

    async def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
