"""3MF by the core specification: units, objects, components with transforms, build items.

Read with lib3mf, the format's reference implementation. What it would not stop is checked before
(a package that unpacks to gigabytes) and around it (components that multiply each other).
"""

from typing import Any, NamedTuple

import lib3mf
import numpy as np
from lib3mf import Lib3MF

from gramhour_service.measuring.bounds import Limits, too_many_triangles, unreadable
from gramhour_service.measuring.mesh import FileRead, Surface, checked_coordinates
from gramhour_service.measuring.package import (
    MOST_INSTANCES,
    check_package,
    too_many_instances,
)
from gramhour_service.measuring.size import Warned

MM_OF_UNIT = {0: 0.001, 1: 1.0, 2: 10.0, 3: 25.4, 4: 304.8, 5: 1000.0}
"""Micron, millimetre, centimetre, inch, foot, metre, as the library numbers them."""

SUPPORTS = (2, 4)
"""Object types of structures that another program planned to print beside the part."""

IDENTITY = np.eye(4)[:, :3]


class Placed(NamedTuple):
    """An object somewhere in the build: its number and where, ``transform`` as rows (4, 3)."""

    number: int
    transform: np.ndarray


def read_threemf(content: bytes, limits: Limits) -> FileRead:
    """Read what the build of a 3MF package holds, in mm. Raises ``Refused``."""
    check_package(content, limits)
    model = lib3mf.get_wrapper().CreateModel()
    try:
        model.QueryReader("3mf").ReadFromBuffer(content)
        return _read_build(model, limits)
    except Lib3MF.ELib3MFException as error:
        raise unreadable(f"the file is no sound 3MF package: {error}") from error


def _read_build(model: Any, limits: Limits) -> FileRead:
    objects = _objects_of(model)
    build = list(_build_items(model))
    warnings = []
    printed = [item for item in build if objects[item.number].GetType() not in SUPPORTS]
    if len(printed) < len(build):
        warnings.append(
            Warned("supports_left_out", "the file holds objects that only support others; left out")
        )
    placed: list[Placed] = []
    for item in printed:
        _place(item, objects, placed)
    numbers = {each.number for each in placed}
    triangles = {number: int(objects[number].GetTriangleCount()) for number in numbers}
    placed = [each for each in placed if triangles[each.number]]
    if not placed:
        raise unreadable("the build of the 3MF package holds nothing to print")
    in_all = sum(triangles[each.number] for each in placed)
    if in_all > limits.triangles:
        raise too_many_triangles(in_all, limits)
    unit = MM_OF_UNIT[int(model.GetUnit())]
    meshes = {number: _mesh_of(objects[number], unit) for number in numbers if triangles[number]}
    scale = np.array([[1.0], [1.0], [1.0], [unit]])
    surfaces = tuple(_surface(meshes[each.number], each.transform * scale) for each in placed)
    return FileRead(surfaces, has_unit=True, warnings=tuple(warnings))


def _objects_of(model: Any) -> dict[int, Any]:
    found, objects = {}, model.GetObjects()
    while objects.MoveNext():
        each = objects.GetCurrentObject()
        found[int(each.GetUniqueResourceID())] = each
    meshes = model.GetMeshObjects()
    while meshes.MoveNext():
        mesh = meshes.GetCurrentMeshObject()
        found[int(mesh.GetUniqueResourceID())] = mesh
    composed = model.GetComponentsObjects()
    while composed.MoveNext():
        components = composed.GetCurrentComponentsObject()
        found[int(components.GetUniqueResourceID())] = components
    return found


def _build_items(model: Any) -> Any:
    items = model.GetBuildItems()
    while items.MoveNext():
        item = items.GetCurrent()
        transform = _matrix(item.GetObjectTransform()) if item.HasObjectTransform() else IDENTITY
        yield Placed(int(item.GetObjectResource().GetUniqueResourceID()), transform)


def _place(item: Placed, objects: dict[int, Any], placed: list[Placed]) -> None:
    """Follow components down to meshes, transforms multiplied on the way; none is built yet."""
    waiting, steps = [item], 0
    while waiting:
        each, steps = waiting.pop(), steps + 1
        thing = objects[each.number]
        if thing.IsMeshObject():
            placed.append(each)
        else:
            for index in range(thing.GetComponentCount()):
                component = thing.GetComponent(index)
                own = _matrix(component.GetTransform()) if component.HasTransform() else IDENTITY
                number = int(component.GetObjectResource().GetUniqueResourceID())
                waiting.append(Placed(number, _after(own, each.transform)))
        if len(placed) + len(waiting) > MOST_INSTANCES or steps > MOST_INSTANCES:
            raise too_many_instances()


def _matrix(transform: Any) -> np.ndarray:
    return np.array([list(row) for row in transform.Fields], dtype=np.float64)


def _after(first: np.ndarray, then: np.ndarray) -> np.ndarray:
    """Give the transform that does one and then the other (row vectors, as in the format)."""
    return np.vstack([first[:3] @ then[:3], first[3] @ then[:3] + then[3]])


def _mesh_of(mesh: Any, unit: float) -> Surface:
    vertices = np.frombuffer(b"".join(map(bytes, mesh.GetVertices())), "<f4").reshape(-1, 3)
    faces = np.frombuffer(b"".join(map(bytes, mesh.GetTriangleIndices())), "<u4").reshape(-1, 3)
    in_mm = vertices.astype(np.float64) * unit
    return Surface(checked_coordinates(in_mm, "vertices"), faces.astype(np.int64))


def _surface(mesh: Surface, transform: np.ndarray) -> Surface:
    """Put a mesh where the build has it; a mirrored one keeps its outside outside."""
    if not np.isfinite(transform).all() or not (turn := np.linalg.det(transform[:3])):
        raise unreadable("a transform in the 3MF package flattens an object to nothing")
    vertices = mesh.vertices @ transform[:3] + transform[3]
    faces = mesh.faces[:, ::-1] if turn < 0 else mesh.faces
    return Surface(checked_coordinates(vertices, "vertices"), faces)
