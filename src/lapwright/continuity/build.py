"""From pieces, laps and surfaces to walls, and all edges of a job."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.compatible import Bonds
from lapwright.continuity.edges import judge
from lapwright.continuity.heads import Around, Rim, all_rules, bare_parts
from lapwright.continuity.model import DropRules, Edge, Over, Sheet
from lapwright.continuity.turned import folds_of
from lapwright.continuity.verdict import filled, told
from lapwright.continuity.wall import Wall
from lapwright.details.base import Lap, Piece
from lapwright.details.bays import Outlined, attachment_shape
from lapwright.findings import Finding
from lapwright.geometry import box, merged
from lapwright.survey.model import Attachment, Face, Survey

ROOFS = ("roof", "porch_roof", "roof_return", "eave")
LEVEL_M = 0.05  # a roof line that falls less than this is level; own choice
ROOM_M = 0.1  # this much wall above a head carries a flashing; own choice
WATER_LAYERS = frozenset({"barrier", "strip", "film", "tape", "flashing", "unit", "existing"})


def eave_of(face: Face, moved_m: float = 0.0) -> float:
    """Return how far the roof hangs out past the new face, metres, 0 when the survey does not say.

    It shades the wall as far down as it hangs out: rain driven at 45 degrees, which is common practice for strong wind.
    moved_m: how far the new skin comes out from the old face, from which the overhang was taped.
    """
    return max(0.0, max((n.away_m for n in face.nearby if n.kind == "overhang"), default=0.0) - moved_m)


def walls(
    survey: Survey,
    pieces: Sequence[Piece],
    laps: Iterable[Lap],
    bonds: Bonds | None = None,
    moved: Mapping[str, float] | None = None,
) -> list[Wall]:
    """Return one wall per surface that carries sheets, in walking order.

    bonds: what is known of tape on what it lies on; moved: how far each face comes out, metres.
    """
    by_surface: dict[str, list[Piece]] = defaultdict(list)
    by_cut: dict[str, list[Piece]] = defaultdict(list)
    for piece in pieces:
        if piece.cut is not None:
            by_cut[piece.cut].append(piece)
        # tape on the outside of foam, a flange on a buck: not in the plane that water drains along
        if piece.plane == "face" and piece.layer in WATER_LAYERS and not piece.facts.get("on"):
            by_surface[piece.surface].append(piece)
    panned = {  # a strip or pan on the sill; round a free shape the film that goes into the reveal
        p.place
        for p in pieces
        if (p.plane == "sill" and p.role in ("sill-strip", "sill-pan")) or p.claim.endswith("/reveal-film")
    }
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
                    Sheet(
                        *(p.id, p.surface, p.polygon, p.layer, p.role, p.installed, p.held, p.product),
                        facts=p.facts,
                        place=p.place,
                        step=p.step,
                    )
                    for p in mine
                ],
                orders[face.id],
                folds=folds_of(mine, by_cut, openings, face.width_m, bodies),
                bodies=bodies,
                holes=openings,
                kept=kept,
                roofs=merged(attachment_shape(a, face) for a in face.attachments if a.kind in ROOFS),
                pours=[p for a in face.attachments if (p := pour_of(a, face)) is not None],
                bonds=bonds,
                eave_m=eave_of(face, (moved or {}).get(face.id, 0.0)),
                pans=merged(o.polygon for o in face.openings if f"{face.id}/{o.id}" in panned),
            )
        )
    return out


def pour_of(roof: Attachment, face: Outlined) -> tuple[float, float, float] | None:
    """Return where a sloping roof against the wall ends and pours, and how many m2 drain to it: its own plan (line by
    projection) and the wall above its line; None for a level roof (it sheds at its far edge) and one that ends in a wall."""
    (x0, y0), (x1, y1) = roof.start, roof.end
    if roof.kind not in ROOFS or abs(y1 - y0) < LEVEL_M:
        return None
    (x, y), end = (roof.start, roof.ends[0]) if y0 < y1 else (roof.end, roof.ends[1])
    if end == "wall":
        return None
    top = face.outline.bounds[3] + 1
    above = Polygon([(x0, y0), (x1, y1), (x1, top), (x0, top)]).intersection(face.outline).area
    return x, y, abs(x1 - x0) * (roof.projection_m or 0.0) + float(above)


@dataclass(frozen=True)
class DropTest:
    """All edges of a job, judged, and what is wrong with them."""

    edges: tuple[Edge, ...]
    findings: tuple[Finding, ...]


def surroundings(survey: Survey, pieces: Sequence[Piece], found: Sequence[Wall]) -> dict[str, Around]:
    """Return per surface what the rules on openings and movement need: rims with what turns in, lines that move."""
    by_surface = {w.surface: w for w in found}
    faced = {p.cut for p in pieces if p.plane == "face" and p.cut is not None}
    reveals: dict[str, set[str]] = defaultdict(set)
    for p in pieces:  # a pan or strip that lies in the reveal alone, where there is no wall to carry it onto
        if p.plane in ("head", "sill", "jamb") and p.layer == "strip" and p.cut not in faced:
            reveals[p.place].add(p.plane)
    floors = [s for s in survey.storeys if s.floor_m is not None]
    out: dict[str, Around] = {}
    for face in survey.faces:
        wall = by_surface.get(face.id)
        if wall is None:
            continue
        turned: BaseGeometry = merged(wall.folds.values())
        rims = []
        for o in face.openings:
            if wall.kept.intersection(o.polygon).area > 0.5 * o.polygon.area:
                continue
            x0, _, x1, head = o.box
            above = box(x0, head, x1, head + ROOM_M)
            room = above.difference(face.outline).union(above.intersection(wall.kept)).area < 1e-4
            clear = not any(p.id != o.id and p.polygon.intersects(above) for p in face.openings)
            bare = bare_parts(o.polygon, turned, reveals[f"{face.id}/{o.id}"])
            rims.append(
                Rim(o.id, o.polygon, o.state in ("before", "after"), bare, room and clear, o.shape in ("rectangle", "arch"))
            )
        moving = [
            (f"the floor line of {s.id}", LineString([(0.0, s.floor_m), (face.width_m, s.floor_m)])) for s in floors[1:]
        ]
        for zone in face.zones:
            if zone.decision == "keep":
                edge = zone.polygon.boundary.difference(face.outline.boundary.buffer(1e-3))
                moving += [(f"the joint at {zone.id}", line) for line in straight(edge)]
        out[face.id] = Around(tuple(rims), tuple(moving))
    return out


def straight(lines: BaseGeometry) -> list[LineString]:
    """Return the straight sides that lines are made of."""
    found: list[LineString] = []
    for part in getattr(lines, "geoms", [lines]):
        found += [LineString([p, q]) for p, q in itertools.pairwise(part.coords)]
    return found


def drop_test(
    found: Sequence[Wall], rules: DropRules | None = None, around: dict[str, Around] | None = None
) -> DropTest:
    """Put water anywhere on any layer of these walls: return every edge with its role and state, and the findings.

    around: openings and lines that move, per surface, where they are known (`surroundings`).
    """
    rules = rules or DropRules()
    edges = [edge for wall in found for edge in filled(wall, judge(wall, rules), rules)]
    return DropTest(tuple(edges), (*told(found, edges, rules), *all_rules(found, around or {})))
