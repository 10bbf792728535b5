"""Small job files for the tests of hazards: one low wall of a new house, and whatever a test changes of it."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import yaml

from lapwright import catalog
from lapwright.plan.graph import Plan
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

CATALOG, _ = catalog.load()
# A new house of one low wall (4 ft 6 in: no ladder), whose survey says everything and everything the mild way.
QUIET: dict[str, Any] = {
    "job": "Test House",
    "place": "North Fork",
    "year_built": 2004,
    "fuel_burning": ["none"],
    "services": {"power": "underground"},
    "wildfire": "no",
    "termites": "none",
}
FACE: dict[str, Any] = {"id": "a", "width": "20'", "height": "4' 6\"", "decision": "remove", "assembly": "skin", "lot_line": "40'"}
SKIN: list[dict[str, Any]] = [
    {"layer": "cladding", "product": "board-siding"},
    {"layer": "mat", "product": "mesh-mat"},
    {"layer": "barrier", "product": "self-adhered-sheet"},
    {"layer": "sheathing", "material": "plywood", "thickness": '15/32"', "existing": "yes"},
]


def window(**more: Any) -> dict[str, Any]:
    """A small window set before the barrier."""
    return {"id": "w1", "left": "4'", "sill": "1'", "width": "2'", "height": "2'", "state": "before", **more}


def pipe(through: str = "", kind: str = "pipe", **more: Any) -> dict[str, Any]:
    """A thing through the wall, four inches wide."""
    size: Any = ['12"', '12"'] if kind in ("meter", "box") else '4"'
    return {"id": "p1", "kind": kind, "at": ["12'", "2'"], "size": size, "through": through, **more}


def found(what: str, note: str = "") -> dict[str, Any]:
    """Something that came to light."""
    return {"id": "f1", "what": what, "at": ["3'", "2'"], "size": ["1'", "1'"], "note": note}


def job_text(face: dict[str, Any] | None = None, layers: list[dict[str, Any]] | None = None, **top: Any) -> str:
    """Return a job file: the quiet house with changes. A change to None takes the line out."""
    wall = {**FACE, **(face or {})}
    data = {**copy.deepcopy(QUIET), "faces": [wall], "assemblies": {"skin": layers or SKIN}, **top}
    for block in (data, wall):
        for name in [n for n, v in block.items() if v is None]:
            del block[name]
    return yaml.safe_dump(data, sort_keys=False, allow_unicode=True)


def house(face: dict[str, Any] | None = None, layers: list[dict[str, Any]] | None = None, **top: Any) -> Plan:
    """Return the plan of such a job file."""
    job = job_of(parse_yaml(job_text(face, layers, **top)), Path("house.yaml"), CATALOG)
    return Plan(job, CATALOG)


def with_layers(outside: list[dict[str, Any]] | None = None, inside: list[dict[str, Any]] | None = None) -> list[dict[str, Any]]:
    """Return the skin with layers between mat and barrier, and inside of the sheathing."""
    return [*SKIN[:2], *(outside or []), *SKIN[2:], *(inside or [])]
