"""What a model holds, as plain records in metres. The only module that knows ifcopenshell."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.findings import BadJob, Finding, Where

BIGGEST = 500_000_000  # bytes; a whole hospital is smaller
THIN_M2 = 1e-4
MOST_TURN_DEG = 30.0  # a chord of a drawn curve turns by less; corners of walls by more: own choice
LEAST_TURNS = 3  # so many soft corners in a row are a curve: own choice


@dataclass(frozen=True)
class Hole:
    """An opening in a wall: its points (n, 3), and what fills it: door | window | "" (nothing)."""

    id: int
    points: NDArray[np.float64]
    fill: str


@dataclass(frozen=True)
class WallBody:
    """One wall: its plan seen from above, its lowest and highest point, storey, whether it is an outer wall (None: not said)."""

    id: int
    plan: BaseGeometry
    low: float
    high: float
    storey: int
    external: bool | None
    holes: tuple[Hole, ...]


@dataclass(frozen=True)
class Level:
    """One storey: entity id, name as the model has it, elevation."""

    id: int
    name: str
    elevation: float


@dataclass
class Model:
    """A model as read. north_deg: how far true north lies clockwise of the model's +y; None when not given. lines: where
    each entity stands in the file."""

    file: str
    walls: list[WallBody] = field(default_factory=list)
    levels: list[Level] = field(default_factory=list)
    north_deg: float | None = None
    lines: dict[int, int] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)


class NeedsExtra(ModuleNotFoundError):
    """ifcopenshell is not installed."""


def read_model(path: Path) -> Model:
    """Return the walls, storeys, openings and north of an IFC file.

    Raises NeedsExtra without ifcopenshell, BadJob when the file is missing, too big, or no IFC model.
    """
    try:
        import ifcopenshell
        import ifcopenshell.geom
        import ifcopenshell.util.element as element
        import ifcopenshell.util.unit as unit
    except ImportError as missing:
        raise NeedsExtra("ifcopenshell") from missing
    lines = _lines(path)
    try:
        source: Any = ifcopenshell.open(str(path))
        storeys = source.by_type("IfcBuildingStorey")
        scale = float(unit.calculate_unit_scale(source))
    except Exception as exc:  # the reader raises whatever its parser meets
        raise BadJob([_broken(path, f"It cannot be read: {_short(exc)}.")]) from exc
    lost = sorted(set(lines) - {e.id() for e in source})
    if lost:
        why = f"{len(lines)} entities stand in it, {len(lost)} of them cannot be made out; the first is #{lost[0]}."
        raise BadJob([_broken(path, why, lines[lost[0]])])
    if not source.by_type("IfcProject"):
        raise BadJob([_broken(path, "It holds no project.")])
    out = Model(path.name, north_deg=_north(source), lines=lines)
    for s in storeys:
        out.levels.append(Level(s.id(), s.Name or f"#{s.id()}", float(s.Elevation or 0.0) * scale))
    out.levels.sort(key=lambda level: (level.elevation, level.id))
    geom: Any = ifcopenshell.geom
    settings = geom.settings()
    settings.set("use-world-coords", True)
    settings.set("disable-opening-subtractions", True)

    def mesh(thing: Any) -> tuple[NDArray[np.float64], NDArray[np.int64]] | None:
        try:
            shape = geom.create_shape(settings, thing)
        except Exception:  # no body, or one that the geometry kernel cannot make
            return None
        points = np.array(shape.geometry.verts, dtype=np.float64).reshape(-1, 3)
        faces = np.array(shape.geometry.faces, dtype=np.int64).reshape(-1, 3)
        return (points, faces) if len(points) and len(faces) else None

    for wall in sorted(source.by_type("IfcWall"), key=lambda w: w.id()):
        where = Where(path.name, lines.get(wall.id()), thing=f"#{wall.id()}")
        body = mesh(wall)
        if body is None:
            out.findings.append(_left(f"Wall #{wall.id()} has no body that can be made.", where))
            continue
        points, faces = body
        plan = shapely.union_all([p for p in _triangles(points, faces) if p.area > 1e-9])
        if plan.area < THIN_M2:
            out.findings.append(_left(f"Wall #{wall.id()} has no area seen from above.", where))
            continue
        if curved(plan):
            out.findings.append(_left(f"Wall #{wall.id()} is curved: its face comes as short straight ones.", where))
        container: Any = element.get_container(wall)
        storey = container.id() if container is not None and container.is_a("IfcBuildingStorey") else 0
        external = (element.get_pset(wall, "Pset_WallCommon") or {}).get("IsExternal")
        holes = []
        for relation in wall.HasOpenings or ():
            opening = relation.RelatedOpeningElement
            found = mesh(opening)
            if found is None:
                said = Where(path.name, lines.get(opening.id()), thing=f"#{opening.id()}")
                out.findings.append(_left(f"Opening #{opening.id()} has no body that can be made.", said))
                continue
            fills: list[Any] = [r.RelatedBuildingElement for r in opening.HasFillings or ()]
            kind = next((k for f in fills for k in ("door", "window") if f.is_a(f"Ifc{k.title()}")), "")
            holes.append(Hole(opening.id(), found[0], kind))
        out.walls.append(
            WallBody(
                wall.id(), plan, float(points[:, 2].min()), float(points[:, 2].max()), storey,
                external if isinstance(external, bool) else None, tuple(holes),
            )
        )  # fmt: skip
    out.findings += _not_walls(source, path, lines)
    return out


def curved(plan: BaseGeometry) -> bool:
    """Return whether a wall seen from above is bent: some corners in a row that turn a little, the same way.

    >>> curved(shapely.box(0, 0, 4, 0.3)), curved(shapely.Point(0, 0).buffer(3).difference(shapely.Point(0, 0).buffer(2.7)))
    (False, True)
    """
    for part in getattr(plan, "geoms", [plan]):
        points = np.array(shapely.get_coordinates(part.simplify(1e-3).exterior))[:-1]
        along = np.roll(points, -1, axis=0) - points
        turns = np.degrees(np.diff(np.arctan2(along[:, 1], along[:, 0]), append=np.arctan2(*along[0, ::-1])))
        turns = (turns + 180.0) % 360.0 - 180.0
        soft = [int(np.sign(t)) if 1.0 < abs(t) < MOST_TURN_DEG else 0 for t in (*turns, *turns[:LEAST_TURNS])]
        if any(abs(sum(soft[n : n + LEAST_TURNS])) == LEAST_TURNS for n in range(len(turns))):
            return True
    return False


def _triangles(points: NDArray[np.float64], faces: NDArray[np.int64]) -> Iterator[Polygon]:
    for a, b, c in faces:
        yield Polygon([points[a, :2], points[b, :2], points[c, :2]])


def _lines(path: Path) -> dict[int, int]:
    """Return {entity id: line} of the file, and refuse what cannot be a model."""
    try:
        if path.stat().st_size > BIGGEST:
            raise BadJob([_broken(path, "It is bigger than 500 MB.")])
        text = path.read_text(encoding="latin-1")
    except OSError as exc:
        raise BadJob([_broken(path, f"It cannot be opened: {exc.strerror}.")]) from exc
    if not text.lstrip().startswith("ISO-10303-21"):
        raise BadJob([_broken(path, "Its first words are not those of a STEP file (ISO-10303-21).")])
    out: dict[int, int] = {}
    for number, line in enumerate(text.splitlines(), 1):
        found = re.match(r"\s*#(\d+)\s*=", line)
        if found:
            out[int(found[1])] = number
    if not out or "ENDSEC" not in text or "END-ISO-10303-21" not in text:
        raise BadJob([_broken(path, "It stops before its end.", len(text.splitlines()) or None)])
    return out


def _north(source: Any) -> float | None:
    for context in source.by_type("IfcGeometricRepresentationContext", include_subtypes=False):
        if context.TrueNorth is not None:
            x, y = (float(v) for v in context.TrueNorth.DirectionRatios[:2])
            return math.degrees(math.atan2(x, y))
    return None


def _not_walls(source: Any, path: Path, lines: dict[int, int]) -> list[Finding]:
    """Say what else of a house's shell is in the model, and is not taken over."""
    out = []
    for kind, word in (
        ("IfcCurtainWall", "curtain wall"), ("IfcRoof", "roof"), ("IfcSlab", "slab"), ("IfcCovering", "covering"),
    ):  # fmt: skip
        found = source.by_type(kind)
        if found:
            first = min(e.id() for e in found)
            more = f" and {len(found) - 1} more" if len(found) > 1 else ""
            out.append(
                _left(f"The {word} #{first}{more} {'are' if more else 'is'} not taken over.", Where(path.name, lines.get(first), thing=f"#{first}"))
            )
    return out


def _left(what: str, where: Where) -> Finding:
    return Finding("ifc.left_out", "note", what, "Only outer walls, storeys, openings and units are read.", "Tape it and write it in house.yaml.", where)  # fmt: skip


def _broken(path: Path, why: str, line: int | None = None) -> Finding:
    return Finding("ifc.broken", "stop", f"{path.name} is no IFC model that can be read.", why, "Write it out again as IFC (STEP, .ifc).", Where(path.name, line))  # fmt: skip


def _short(exc: Exception) -> str:
    return (str(exc).splitlines() or [type(exc).__name__])[0][:120].rstrip(".")
