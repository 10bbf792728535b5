"""The walk round the house: from the plans of outer walls to faces in walking order, with their openings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry import polygon

from lapwright.findings import Finding, Where
from lapwright.geometry import polygons
from lapwright.ifc.model import Hole, Level, Model, WallBody

GAP_M = 0.03  # gaps between walls up to twice this are closed: drawing tolerance, own choice
JOG_M = 0.02  # smaller jogs are smoothed: less than any tape sees
SAME_M = 0.05  # rings of two storeys this near are one
NEAR_M = 0.6  # an opening belongs to a face no farther than this from its middle: thicker walls are rare
STEP_M = 0.25  # an opening that nothing fills is a doorway when its sill is lower than a step: own choice
SMALL_M = 0.05  # smaller openings are bolt holes


@dataclass(frozen=True)
class Cut:
    """An opening on a face: metres from its left end, heights in the model. filled: whether a door or window is in it."""

    id: int
    left: float
    right: float
    sill: float
    head: float
    kind: str
    filled: bool = True


@dataclass(frozen=True)
class Side:
    """One face: its ends seen from above, left to right from outside, its heights, its openings, the walls it is made of."""

    start: tuple[float, float]
    end: tuple[float, float]
    low: float
    high: float
    cuts: tuple[Cut, ...] = ()
    walls: tuple[int, ...] = ()

    @property
    def width(self) -> float:
        """Width in metres."""
        return math.dist(self.start, self.end)

    @property
    def heading(self) -> float:
        """Direction of the walk, degrees counter-clockwise from +x."""
        return math.degrees(math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0]))


@dataclass(frozen=True)
class Walk:
    """A closed ring of sides, or one wall alone (`closed` False)."""

    sides: tuple[Side, ...]
    closed: bool
    levels: tuple[Level, ...] = field(default=())


def walks(model: Model) -> tuple[list[Walk], list[Finding]]:
    """Return the walks of a model, lowest first, and what was left out.

    Walls that say they are outer ones count (IsExternal); when none says so, all do. On each storey the outer rim of
    their plans is the ring; rings of neighboring storeys that agree become one. Walls that close no ring stand alone.
    """
    found: list[Finding] = []
    outer = [w for w in model.walls if w.external]
    if not outer and model.walls:
        outer = [w for w in model.walls if w.external is None]
        found.append(_note("ifc.outer_not_said", model, "No wall says whether it is an outer wall; all are taken.", "The rim of them all is the walk."))
    inner = sum(w.external is False for w in model.walls)
    if inner:
        found.append(_note("ifc.inner", model, f"{inner} walls inside the house are not taken over.", "Only the skin is planned."))
    for wall in model.walls:
        if wall.external is None and wall not in outer:
            what = f"Wall #{wall.id} does not say whether it is an outer wall, as others do; it is not taken over."
            found.append(_note("ifc.left_out", model, what, "A wall that is missing opens the ring of its story.", f"#{wall.id}"))
    by_level: dict[int, list[WallBody]] = {}
    for wall in outer:
        by_level.setdefault(wall.storey, []).append(wall)
    order = [level.id for level in model.levels] + [0]
    closed: list[Walk] = []
    alone: list[Walk] = []
    for storey in sorted(by_level, key=order.index):
        level = tuple(x for x in model.levels if x.id == storey)
        for group in _groups(by_level[storey]):
            rest = list(group)
            for ring in _rings(group):
                mine = [w for w in group if w.plan.intersects(ring.buffer(GAP_M))]
                _add(closed, Walk(_sides(ring, mine), True, level))
                rest = [w for w in rest if w not in mine]
            alone += [Walk((_alone(w),), False, level) for w in rest]
    out = [*closed, *alone]
    placed: set[int] = set()
    out = [_with_cuts(w, outer, placed) for w in out]
    for wall in outer:
        for hole in wall.holes:
            if hole.id not in placed:
                what = f"Opening #{hole.id} in wall #{wall.id} lies on no face, or over another opening."
                found.append(_note("ifc.left_out", model, what, "It may face a room, or be part of another opening.", f"#{hole.id}"))
    for cut in (c for w in out for s in w.sides for c in s.cuts if not c.filled):
        what = f"Opening #{cut.id}: neither door nor window is in it; it is written as a {cut.kind}, for the size of the hole alone."
        found.append(_note("ifc.unfilled", model, what, "A passage, a niche or a unit left out of the model.", f"#{cut.id}"))
    if alone:
        what = f"{len(alone)} walls close no ring; each stands as a face of its own, seen from the left of its line."
        found.append(_note("ifc.open", model, what, "Which side is outside cannot be told."))
    return out, found


def _note(code: str, model: Model, what: str, why: str, thing: str | None = None) -> Finding:
    line = model.lines.get(int(thing[1:])) if thing else None
    return Finding(code, "note", what, why, "Check it against the house.", Where(model.file, line, thing=thing))


def _groups(walls: Sequence[WallBody]) -> list[list[WallBody]]:
    """Return the walls that hang together, in the order of their ids."""
    whole = polygons(shapely.union_all([w.plan.buffer(GAP_M, join_style="mitre") for w in walls]))
    return [[w for w in walls if part.intersects(w.plan)] for part in whole]


def _rings(group: Sequence[WallBody]) -> list[Polygon]:
    """Return the outer rims of walls that go all the way round something: none when they do not, more than one where houses
    touch at a point alone."""
    # rooms are looked for in the grown shape: shrunk back, walls that meet in a point alone could part again
    parts = polygons(shapely.union_all([w.plan.buffer(GAP_M, join_style="mitre") for w in group]))
    if not parts:
        return []
    biggest = max(parts, key=lambda p: Polygon(p.exterior).area)
    rooms = [r for r in map(Polygon, biggest.interiors) if r.area > 1.0]  # a wall has no room inside
    rims = polygons(Polygon(biggest.exterior).buffer(-GAP_M, join_style="mitre").simplify(JOG_M))
    return [polygon.orient(_straight(rim)) for rim in rims if any(rim.intersects(room) for room in rooms)]


def _straight(rim: Polygon) -> Polygon:
    """Return a ring without corners that turn by less than half a degree."""
    points = list(polygon.orient(rim).exterior.coords)[:-1]
    kept = []
    for n, p in enumerate(points):
        a, b = points[n - 1], points[(n + 1) % len(points)]
        one, two = math.atan2(p[1] - a[1], p[0] - a[0]), math.atan2(b[1] - p[1], b[0] - p[0])
        if abs((two - one + math.pi) % (2 * math.pi) - math.pi) > math.radians(0.5):
            kept.append(p)
    return Polygon(kept)


def _sides(ring: Polygon, group: Sequence[WallBody]) -> tuple[Side, ...]:
    points = [(float(x), float(y)) for x, y, *_ in ring.exterior.coords]
    # begin at the lowest left corner, so that the walk does not depend on how the model was drawn
    first = min(range(len(points) - 1), key=lambda n: (round(points[n][1], 3), round(points[n][0], 3)))
    points = points[first:-1] + points[: first + 1]
    out = []
    for a, b in pairwise(points):
        line = LineString([a, b])
        mine = [w for w in group if w.plan.buffer(0.02).intersection(line).length > 0.3 * min(line.length, 1.0)] or list(group)
        out.append(
            Side(a, b, min(w.low for w in mine), max(w.high for w in mine), walls=tuple(w.id for w in mine))
        )
    return tuple(out)


def _alone(wall: WallBody) -> Side:
    """Return one wall as a face: the long side of its smallest box."""
    corners = list(wall.plan.minimum_rotated_rectangle.exterior.coords)
    pairs = sorted(pairwise(corners), key=lambda s: (-round(math.dist(*s), 4), round(s[0][1] + s[1][1], 4)))
    a, b = pairs[0]
    middle = wall.plan.centroid
    if (b[0] - a[0]) * (middle.y - a[1]) - (b[1] - a[1]) * (middle.x - a[0]) < 0:  # the wall lies to the left of the walk
        a, b = b, a
    return Side((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), wall.low, wall.high, walls=(wall.id,))


def _add(rings: list[Walk], new: Walk) -> None:
    """Put a storey's ring on the one below when they agree, else beside it."""
    for n, old in enumerate(rings):
        if len(old.sides) == len(new.sides) and all(
            math.dist(a.start, b.start) < SAME_M for a, b in zip(old.sides, new.sides, strict=True)
        ):
            sides = tuple(
                replace(a, low=min(a.low, b.low), high=max(a.high, b.high), walls=(*a.walls, *b.walls))
                for a, b in zip(old.sides, new.sides, strict=True)
            )
            rings[n] = Walk(sides, True, (*old.levels, *new.levels))
            return
    rings.append(new)


def _with_cuts(walk: Walk, walls: Sequence[WallBody], placed: set[int]) -> Walk:
    sides = []
    for side in walk.sides:
        cuts: list[Cut] = []
        for wall in walls:
            if wall.id in side.walls:
                for hole in wall.holes:
                    cut = _cut(side, hole) if hole.id not in placed else None
                    if cut is not None and not any(_overlap(cut, c) for c in cuts):
                        cuts.append(cut)
                        placed.add(hole.id)
        sides.append(replace(side, cuts=tuple(sorted(cuts, key=lambda c: (c.left, c.sill, c.id)))))
    return replace(walk, sides=tuple(sides))


def _cut(side: Side, hole: Hole) -> Cut | None:
    """Return an opening on a face, or None when it is not one of this face's."""
    (ax, ay), (bx, by) = side.start, side.end
    ux, uy = (bx - ax) / side.width, (by - ay) / side.width
    middle = hole.points.mean(axis=0)
    if LineString([side.start, side.end]).distance(Point(middle[0], middle[1])) > NEAR_M:
        return None
    along = (hole.points[:, 0] - ax) * ux + (hole.points[:, 1] - ay) * uy
    across = (hole.points[:, 0] - ax) * -uy + (hole.points[:, 1] - ay) * ux
    if float(np.ptp(along)) < float(np.ptp(across)) * 0.2:  # seen from its end: it belongs to a crossing wall
        return None
    left, right = float(along.min()), float(along.max())
    low, high = max(float(hole.points[:, 2].min()), side.low), min(float(hole.points[:, 2].max()), side.high)
    left, right = max(left, 0.0), min(right, side.width)
    if right - left < SMALL_M or high - low < SMALL_M:
        return None
    kind = hole.fill or ("door" if low < side.low + STEP_M else "window")
    return Cut(hole.id, left, right, low, high, kind, bool(hole.fill))


def _overlap(a: Cut, b: Cut) -> bool:
    return min(a.right, b.right) - max(a.left, b.left) > -1e-3 and min(a.head, b.head) - max(a.sill, b.sill) > -1e-3
