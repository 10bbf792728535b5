"""A small house as a building model, for the tests: L-shaped, two storeys, one window in each wall and one door."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ifcopenshell.api.aggregate
import ifcopenshell.api.context
import ifcopenshell.api.feature
import ifcopenshell.api.geometry
import ifcopenshell.api.project
import ifcopenshell.api.pset
import ifcopenshell.api.root
import ifcopenshell.api.spatial
import ifcopenshell.api.unit
import numpy as np

WALL = 0.3
L_SHAPE = [(0.0, 0.0), (9.0, 0.0), (9.0, 4.0), (5.0, 4.0), (5.0, 7.0), (0.0, 7.0)]
HEIGHT = 2.8


def placed(origin: Sequence[float], along: Sequence[float]) -> Any:
    ux, uy = along
    return np.array([[ux, -uy, 0, origin[0]], [uy, ux, 0, origin[1]], [0, 0, 1, origin[2]], [0, 0, 0, 1]], dtype=float)


def house(
    path: Path, turned_deg: float = 0.0, unit: str = "MILLIMETRE", external: bool | None = True, silent: bool = False,
    bare: bool = False,
) -> Path:
    """An L-shaped house of two storeys, walls drawn along the outer rim, one window in each wall, one door.

    bare: nothing fills the openings of the second wall.
    """
    f = ifcopenshell.api.project.create_file(version="IFC4")
    project = ifcopenshell.api.root.create_entity(f, ifc_class="IfcProject", name="p")
    k = 1000.0 if unit == "MILLIMETRE" else 1.0
    if unit == "FOOT":
        k = 1 / 0.3048
        length = ifcopenshell.api.unit.add_conversion_based_unit(f, name="foot")
    else:
        length = ifcopenshell.api.unit.add_si_unit(f, unit_type="LENGTHUNIT", prefix="MILLI" if k > 1 else None)
    ifcopenshell.api.unit.assign_unit(f, units=[length])
    model = ifcopenshell.api.context.add_context(f, context_type="Model")
    body = ifcopenshell.api.context.add_context(
        f, context_type="Model", context_identifier="Body", target_view="MODEL_VIEW", parent=model
    )
    building = ifcopenshell.api.root.create_entity(f, ifc_class="IfcBuilding", name="b")
    ifcopenshell.api.aggregate.assign_object(f, products=[building], relating_object=project)
    turn = math.radians(turned_deg)

    def at(x: float, y: float) -> tuple[float, float]:
        return x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)

    def solid(kind: str, origin: Sequence[float], along: Sequence[float], size: Sequence[float], name: str) -> Any:
        thing = ifcopenshell.api.root.create_entity(f, ifc_class=kind, name=name)
        shape = ifcopenshell.api.geometry.add_wall_representation(
            f, context=body, length=size[0], height=size[2], thickness=size[1]
        )
        ifcopenshell.api.geometry.assign_representation(f, product=thing, representation=shape)
        ifcopenshell.api.geometry.edit_object_placement(f, product=thing, matrix=placed(origin, along), is_si=True)
        return thing

    for level in range(2):
        storey = ifcopenshell.api.root.create_entity(f, ifc_class="IfcBuildingStorey", name=f"s{level}")
        storey.Elevation = level * HEIGHT * k
        ifcopenshell.api.aggregate.assign_object(f, products=[storey], relating_object=building)
        points = [at(*p) for p in L_SHAPE]
        for n, (a, b) in enumerate(zip(points, points[1:] + points[:1], strict=True)):
            long = math.dist(a, b)
            along = ((b[0] - a[0]) / long, (b[1] - a[1]) / long)
            wall = solid("IfcWall", (*a, level * HEIGHT), along, (long, WALL, HEIGHT), f"w{n}")
            ifcopenshell.api.spatial.assign_container(f, products=[wall], relating_structure=storey)
            if external is not None and not (silent and n == 2):
                pset = ifcopenshell.api.pset.add_pset(f, product=wall, name="Pset_WallCommon")
                ifcopenshell.api.pset.edit_pset(f, pset=pset, properties={"IsExternal": external})
            door = level == 0 and n == 0
            sill, high = (0.0, 2.1) if door else (0.9, 1.2)
            spot = (a[0] + along[0] * 1.0, a[1] + along[1] * 1.0, level * HEIGHT + sill)
            hole = solid("IfcOpeningElement", spot, along, (0.8, WALL, high), f"o{n}")
            ifcopenshell.api.feature.add_feature(f, feature=hole, element=wall)
            if bare and n == 1:
                continue
            unit_ = ifcopenshell.api.root.create_entity(f, ifc_class="IfcDoor" if door else "IfcWindow", name=f"u{n}")
            ifcopenshell.api.feature.add_filling(f, opening=hole, element=unit_)
    f.write(str(path))
    return path
