"""The calls about files and own parts, described once for both clients."""

from collections.abc import Mapping
from datetime import date
from typing import Literal, TypeAlias, TypedDict

import msgspec

from gramhour.calls import Call, given
from gramhour.contract.measurement import Measurement
from gramhour.contract.services import OpenServices
from gramhour.contract.toolpath_measurement import ToolpathMeasurement

MeshType: TypeAlias = Literal["model/stl", "model/3mf"]
ToolpathType: TypeAlias = Literal["text/x.gcode"]
Materials: TypeAlias = str | Mapping[int, str]
"""The code of what is printed; of several tools, by their numbers."""


class AboutMesh(TypedDict, total=False):
    """What a mesh is for: a ``service``, or a ``profile`` with codes of what goes with it."""

    service: str
    profile: str
    machine: str
    nozzle: str
    material: str


def measure(content: bytes, media_type: MeshType, about: AboutMesh) -> Call[Measurement]:
    """Ask what a mesh file holds, and takes."""
    return Call(
        method="POST",
        path="/v1/measurements",
        params={name: str(code) for name, code in about.items()},
        body=content,
        media_type=media_type,
        decode=msgspec.json.Decoder(Measurement).decode,
        is_file=True,
    )


def measure_toolpath(
    content: bytes,
    machine: str,
    material: Materials,
    rates_revision: int | None,
    rates_on: date | None,
) -> Call[ToolpathMeasurement]:
    """Ask what a toolpath makes a machine do."""
    by_tool = {0: material} if isinstance(material, str) else material
    materials = ",".join(f"{tool}:{code}" for tool, code in by_tool.items())
    media_type: ToolpathType = "text/x.gcode"
    return Call(
        method="POST",
        path="/v1/measurements",
        params={
            "machine": machine,
            "material": materials,
            **given(rates_revision=rates_revision, rates_on=rates_on),
        },
        body=content,
        media_type=media_type,
        decode=msgspec.json.Decoder(ToolpathMeasurement).decode,
        is_file=True,
    )


def services(limit: int | None, cursor: str | None) -> Call[OpenServices]:
    """Ask for a page of the services that make own parts."""
    return Call(
        method="GET",
        path="/v1/services",
        params=given(limit=limit, cursor=cursor),
        decode=msgspec.json.Decoder(OpenServices).decode,
    )
