"""From pieces, laps and surfaces to walls, and all edges of a job."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from shapely import LineString
from shapely.geometry import polygon
from shapely.geometry.base import BaseGeometry

from lapwright.continuity.edges import judge
from lapwright.continuity.model import DropRules, Edge, Over, Sheet
from lapwright.continuity.verdict import filled, told
from lapwright.continuity.wall import Wall
from lapwright.details.base import Lap, Piece
from lapwright.details.bays import attachment_shape
from lapwright.findings import Finding
from lapwright.geometry import merged
from lapwright.survey.model import Survey

ROOFS = ("roof", "porch_roof", "roof_return", "eave")
WATER_LAYERS = frozenset({"barrier", "strip", "film", "tape", "flashing", "unit", "existing"})


def walls(survey: Survey, pieces: Sequence[Piece], laps: Iterable[Lap]) -> list[Wall]:
    """Return one wall per surface that carries sheets, in walking order."""
    by_surface: dict[str, list[Piece]] = defaultdict(list)
    by_cut: dict[str, list[Piece]] = defaultdict(list)
    for piece in pieces:
        if piece.cut is not None:
            by_cut[piece.cut].append(piece)
        # tape on the outside of foam is not in the plane that water drains along
        if piece.plane == "face" and piece.layer in WATER_LAYERS and piece.facts.get("on") != "insulation":
            by_surface[piece.surface].append(piece)
    orders: dict[str, list[Over]] = defaultdict(list)
    for lap in laps:
        orders[lap.surface].append(Over(lap.over, lap.under, lap.surface, lap.polygon, lap.held, lap.asked_m))
    out = []
    for face in survey.faces:
        mine = by_surface.get(face.id)
        if not mine:
            continue
        openings = merged(o.polygon for o in face.openings)
        bodies = merged(
            [p.polygon.buffer(1e-3) for p in face.penetrations]
            + [attachment_shape(a, face) for a in face.attachments if a.kind in ("chimney", "deck_ledger")]
        )
        kept = merged(z.polygon for z in face.zones if z.decision == "keep")
        out.append(
            Wall(
                face.id,
                face.outline,
                [
                    Sheet(p.id, p.surface, p.polygon, p.layer, p.role, p.installed, p.held, p.product, False, p.facts)
                    for p in mine
                ],
                orders[face.id],
                folds=_folds(mine, by_cut, openings, face.width_m, bodies),
                bodies=bodies,
                holes=openings,
                kept=kept,
                roofs=merged(attachment_shape(a, face) for a in face.attachments if a.kind in ROOFS),
            )
        )
    return out


def _foot(piece: Piece) -> BaseGeometry:
    """Return the lower rim of a piece, where a leg turns out: the sides of its ring that face down."""
    pts = list(polygon.orient(piece.polygon).exterior.coords)
    return merged(LineString([p, q]) for p, q in itertools.pairwise(pts) if q[0] - p[0] > abs(q[1] - p[1]) * 0.2 + 1e-6)


def _folds(
    mine: Sequence[Piece],
    by_cut: Mapping[str, Sequence[Piece]],
    openings: BaseGeometry,
    width_m: float,
    bodies: BaseGeometry,
) -> dict[str, BaseGeometry]:
    """Return for each piece the lines along which its sheet turns off the face: into an opening, round a corner."""
    rim = openings.boundary.buffer(1e-4) if not openings.is_empty else None
    near_bodies = bodies.buffer(1e-4)
    ends = [LineString([(x, -1e3), (x, 1e3)]).buffer(1e-4) for x in (0.0, width_m)]
    out: dict[str, BaseGeometry] = {}
    for piece in mine:
        if piece.layer == "film" and rim is not None:  # liquid runs on into the reveal
            out[piece.id] = piece.polygon.boundary.intersection(rim)
        if piece.cut is None:
            continue
        lines: list[BaseGeometry] = []
        for other in by_cut[piece.cut]:
            if other.id == piece.id:
                continue
            if other.plane != "face" and rim is not None:
                lines.append(piece.polygon.boundary.intersection(rim))
            if other.plane == "under" and piece.layer in ("strip", "flashing"):
                lines.append(
                    _foot(piece)
                    if "drain" not in piece.facts
                    else piece.polygon.boundary.intersection(near_bodies)
                )
            if other.surface != piece.surface:
                lines += [piece.polygon.boundary.intersection(end) for end in ends]
        if lines:
            out[piece.id] = merged(lines)
    return out


@dataclass(frozen=True)
class DropTest:
    """All edges of a job, judged, and what is wrong with them."""

    edges: tuple[Edge, ...]
    findings: tuple[Finding, ...]


def drop_test(found: Sequence[Wall], rules: DropRules | None = None) -> DropTest:
    """Put water anywhere on any layer of these walls: return every edge with its role and state, and the findings."""
    rules = rules or DropRules()
    edges = [edge for wall in found for edge in filled(wall, judge(wall, rules), rules)]
    return DropTest(tuple(edges), tuple(told(found, edges, rules)))
