"""Small jobs for the tests of compatibility: one wall, a window, things through it, and the sheets of the job in catalog.yaml."""

from __future__ import annotations

import copy
import tempfile
from pathlib import Path
from typing import Any

import yaml

from lapwright import catalog
from lapwright.plan.graph import Plan
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

BOARDS = {"layer": "sheathing", "material": "sheathing-board", "thickness": '3/4"', "existing": "yes"}
SKIN: list[dict[str, Any]] = [
    {"layer": "cladding", "product": "board-siding"},
    {"layer": "mat", "product": "mesh-mat"},
    {"layer": "barrier", "product": "self-adhered-sheet"},
]
FACE: dict[str, Any] = {
    "id": "a", "width": "20'", "height": "9'", "decision": "remove", "assembly": "skin",
    "framing": {"stud": "2x4", "spacing": '16"', "first": '3/4"'},
    "openings": [
        {"id": "w1", "left": "3'", "sill": "3'", "width": "3'", "height": "4'", "state": "before", "unit": "window-unit"},
        {"id": "w2", "left": "14'", "sill": "3'", "width": "3'", "height": "4'", "state": "after", "unit": "window-unit"},
    ],
    "penetrations": [
        {"id": "hose", "kind": "pipe", "at": ["9'", "2'"], "size": '1"', "through": "water"},
        {"id": "lamp", "kind": "box", "at": ["11'", "6'"], "size": ['4"', '4"'], "through": "power"},
    ],
}  # fmt: skip
JOB: dict[str, Any] = {
    "job": "Test House",
    "place": {"name": "North Fork", "climate_zone": "7"},
    "year_built": 2004,
    "fuel_burning": ["none"],
    "services": {"power": "underground"},
}


def layers(*inside: dict[str, Any], **products: str) -> list[dict[str, Any]]:
    """Return the make-up: the skin with other products by layer, and what is inside of the barrier."""
    skin = [{**y, "product": products.get(y["layer"], y["product"])} for y in SKIN]
    return [*skin, *(inside or (BOARDS,))]


def stands(material: str, layer: str = "sheathing") -> dict[str, Any]:
    """A layer that stands."""
    return {"layer": layer, "material": material, "existing": "yes"}


def house(
    sheets: dict[str, Any] | None = None, skin: list[dict[str, Any]] | None = None, face: dict[str, Any] | None = None, **top: Any
) -> Plan:  # fmt: skip
    """Return the plan of the job with changes. sheets: what stands in its catalog.yaml."""
    wall = {**FACE, **(face or {})}
    data = {**copy.deepcopy(JOB), "faces": [wall], "assemblies": {"skin": skin or layers()}, **top}
    with tempfile.TemporaryDirectory() as folder:
        if sheets:
            (Path(folder) / "catalog.yaml").write_text(yaml.safe_dump(sheets, sort_keys=False), encoding="utf-8")
        known, said = catalog.load(Path(folder))
    assert said == []
    job = job_of(parse_yaml(yaml.safe_dump(data, sort_keys=False)), Path("house.yaml"), known)
    return Plan(job, known)
