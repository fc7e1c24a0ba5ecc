"""Shapes for the tests, as files: by the second mesh library's primitives, or written by hand."""

import io
import zipfile
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import numpy as np
import trimesh

from gramhour_service.measuring.bounds import Limits
from gramhour_service.measuring.measurement import Found, measure, read_mesh
from gramhour_service.measuring.mesh import Surface
from gramhour_service.measuring.profile import Profile
from gramhour_service.measuring.size import Measured

STL, THREEMF = "model/stl", "model/3mf"
LIMITS = Limits()

USUAL = Profile(
    layer_mm=Decimal("0.2"),
    bead_width_mm=Decimal("0.45"),
    outlines=3,
    solid_layers=4,
    fill_pct=Decimal(20),
    support_angle_deg=Decimal(45),
    speed_mm_s=Decimal(60),
    layer_change_s=Decimal(1),
)


def stl_of(mesh: Any) -> bytes:
    """Write a shape as binary STL."""
    written: bytes = mesh.export(file_type="stl")
    return written


def found(content: bytes, media_type: str = STL, limits: Limits = LIMITS) -> Found:
    return measure(read_mesh(content, media_type, limits))


def measured(content: bytes, media_type: str = STL, limits: Limits = LIMITS) -> Measured:
    return found(content, media_type, limits).measured


def solid(*meshes: Any) -> Surface:
    """Read shapes together, each a body of its own, and give their surface."""
    solids = found(stl_of(trimesh.util.concatenate(list(meshes)))).solids
    assert solids is not None
    return solids.surface


def block(*sizes: float, at: Sequence[float] = (0, 0, 0)) -> Any:
    """Make a block of a size, its lowest corner at a place."""
    mesh = trimesh.creation.box(sizes)
    mesh.apply_translation(np.array(at) + np.array(sizes) / 2)
    return mesh


def package(model: str, **more: bytes) -> bytes:
    """Write a 3MF package around a model document."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as written:
        written.writestr("[Content_Types].xml", CONTENT_TYPES)
        written.writestr("_rels/.rels", RELATIONS)
        written.writestr("3D/3dmodel.model", model)
        for name, content in more.items():
            written.writestr(name, content)
    return target.getvalue()


CONTENT_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" '
    'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" '
    'ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"


def model(objects: str, items: str, unit: str = "millimeter", before: str = "") -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{before}<model unit="{unit}" xml:lang="en-US" '
        f'xmlns="{CORE}"><resources>{objects}</resources><build>{items}</build></model>'
    )


def mesh_object(number: int, mesh: Any, kind: str = "model") -> str:
    vertices = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in mesh.vertices.tolist())
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.faces.tolist())
    return (
        f'<object id="{number}" type="{kind}"><mesh><vertices>{vertices}</vertices>'
        f"<triangles>{faces}</triangles></mesh></object>"
    )
