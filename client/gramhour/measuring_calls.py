"""What the client asks about files and own parts: what they hold, and who makes them."""

from collections.abc import Generator
from datetime import date
from typing import TypeVar, Unpack

from gramhour import calls_of_measurements as calls
from gramhour.calls import Call
from gramhour.calls_of_measurements import AboutMesh, Materials, MeshType
from gramhour.contract.measurement import Measurement
from gramhour.contract.services import OpenService, OpenServices
from gramhour.contract.toolpath_measurement import ToolpathMeasurement
from gramhour.paging import LARGEST, each_of

T = TypeVar("T")


class MeasuringCalls:
    """The part of ``Client`` that has files measured, and says who makes own parts."""

    def measure(
        self, content: bytes, *, media_type: MeshType, **about: Unpack[AboutMesh]
    ) -> Measurement:
        """Say what a mesh file holds: volume, area, box, and what to look at.

        With a ``service`` the answer has a signed ``measurement``, to quote by that service. With
        a ``profile``, and a ``machine``, a ``nozzle`` and a ``material`` if named, it estimates
        grams and minutes; that needs a key with scope ``cost``.

        >>> client.measure(cube_stl, media_type="model/stl").volume_cm3
        8.0
        >>> part = client.measure(cube_stl, media_type="model/stl", service="own-parts")
        >>> client.quote_price({"measurement": part.measurement, "service": "own-parts",
        ...                     "material": "pla-chalk", "quantity": 4}).at_quantity.unit_price
        Decimal('10.90')
        """
        return self._ask(calls.measure(content, media_type, about))

    def measure_toolpath(
        self,
        content: bytes,
        *,
        machine: str,
        material: Materials,
        rates_revision: int | None = None,
        rates_on: date | None = None,
    ) -> ToolpathMeasurement:
        """Say what a toolpath (G-code) makes a machine do: filament, layers, estimated minutes.

        ``material`` is what tool 0 is fed with, or a material for each tool. The machine's
        ``motion`` and the materials are those of the rates. It needs a key with scope ``cost``.

        >>> client.measure_toolpath(cube_gcode, machine="large", material="asa-green").layers
        50
        """
        return self._ask(
            calls.measure_toolpath(content, machine, material, rates_revision, rates_on)
        )

    def services(self, *, limit: int | None = None, cursor: str | None = None) -> OpenServices:
        """Read which services make own parts for you, in which materials and how large.

        A key with scope ``price`` sees those of its channels.

        >>> [(each.service, each.materials[0].name) for each in client.services().items]
        [('own-parts', 'PLA, chalk white')]
        """
        return self._ask(calls.services(limit, cursor))

    def all_services(self) -> Generator[OpenService, None, None]:
        """Read all services that make own parts for you; pages are asked for as they are needed.

        >>> next(client.all_services()).largest_box.z_mm
        180.0
        """
        return each_of(lambda cursor: self.services(limit=LARGEST, cursor=cursor))

    def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
