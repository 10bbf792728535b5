"""One surface as the drop test sees it: sheets, who lies over whom at a point, and vertical cuts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cmp_to_key
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.compatible import Bonds
from lapwright.continuity.model import STICKS, Over, Sheet

if TYPE_CHECKING:
    from lapwright.continuity.drops import Column  # a wall remembers the lines that were looked at

COATINGS = frozenset({"film", "sealant"})  # liquid that bonds as a coat has no free edge
FAR_M = 1e3  # stands for "as far as you like"
TOUCH_M = 1e-7  # a corner this near to a side lies on it: far below the 0.1 mm of the contract


@dataclass(frozen=True)
class Sides:
    """The sides of many polygons, ring by ring: ends `a`, `b` (n, 2) and the polygon's number `owner` (n,)."""

    a: NDArray[np.float64]
    b: NDArray[np.float64]
    owner: NDArray[np.int64]

    def heights_at(self, x: float) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
        """Return (owner, low, high) of each stretch of the upright line at x that a polygon covers.

        A side counts from its left end up to, not at, its right end, so that the crossings of a ring come in pairs.
        """
        ax, bx = self.a[:, 0], self.b[:, 0]
        hit = np.flatnonzero((ax <= x) != (bx <= x))
        at = self.a[hit, 1] + (self.b[hit, 1] - self.a[hit, 1]) * ((x - ax[hit]) / (bx[hit] - ax[hit]))
        order = np.lexsort((at, self.owner[hit]))
        owner, at = self.owner[hit][order], at[order]
        return owner[::2], at[::2], at[1::2]

    def marks(self) -> list[set[float]]:
        """Return for each side how far from its start the sides of other polygons cross, touch or begin on it.

        Distances in metres, strictly inside the side; sides that lie along each other count by their ends.
        """
        along = self.b - self.a
        length = np.hypot(along[:, 0], along[:, 1])
        unit = along / np.where(length > 0, length, 1.0)[:, None]
        lines = shapely.linestrings(np.stack([self.a, self.b], axis=1))
        i, j = shapely.STRtree(lines).query(lines)
        other = self.owner[i] != self.owner[j]
        i, j = i[other], j[other]
        out: list[set[float]] = [set() for _ in range(len(self.a))]
        # how far the ends of j lie beside the line of i, and how far along it
        sa, sb = ((p[j] - self.a[i]) for p in (self.a, self.b))
        off_a, off_b = (unit[i, 0] * s[:, 1] - unit[i, 1] * s[:, 0] for s in (sa, sb))
        at_a, at_b = (unit[i, 0] * s[:, 0] + unit[i, 1] * s[:, 1] for s in (sa, sb))
        span = np.where(off_a == off_b, 1.0, off_a - off_b)
        cross = ((off_a > TOUCH_M) & (off_b < -TOUCH_M)) | ((off_a < -TOUCH_M) & (off_b > TOUCH_M))
        found = (
            (cross, at_a + (at_b - at_a) * off_a / span),
            (np.abs(off_a) <= TOUCH_M, at_a),
            (np.abs(off_b) <= TOUCH_M, at_b),
        )
        for mask, at in found:
            good = np.flatnonzero(mask & (at > 0) & (at < length[i]))
            for k, t in zip(i[good].tolist(), at[good].tolist(), strict=True):
                out[k].add(t)
        return out


def sides_of(shapes: NDArray[np.object_]) -> Sides:
    """Return the sides of polygons, rings turned so that the polygon lies to the left of each."""
    a, b, owner = [], [], []
    for n, shape in enumerate(shapes):
        poly = shapely.geometry.polygon.orient(shape)
        for ring in (poly.exterior, *poly.interiors):
            points = shapely.get_coordinates(ring)
            a.append(points[:-1])
            b.append(points[1:])
            owner.append(np.full(len(points) - 1, n))
    if not a:
        return Sides(np.empty((0, 2)), np.empty((0, 2)), np.empty(0, dtype=np.int64))
    return Sides(np.concatenate(a), np.concatenate(b), np.concatenate(owner))


@dataclass
class Wall:
    """Sheets of one surface and their laps.

    outline: where the wall is; folds: per sheet the lines along which it turns off the face (no free edge there);
    holes: openings; kept: areas that cannot be looked behind; bodies: what comes through the wall or
    is fixed to it; roofs: where roofs meet it (with the rooms below them); pans: openings with a
    pan or strip on their sill, open in front: what gets in there runs out over it; pours: (x, y, m2) where
    a roof against the wall lets go what it gathered; bonds: who answers whether tape holds on what it lies on (None: it
    is taken to); eave_m: how far the roof hangs out past the new face, 0 when the survey does not say.
    """

    surface: str
    outline: Polygon
    sheets: list[Sheet]
    laps: Sequence[Over]
    folds: dict[str, BaseGeometry] = field(default_factory=dict)
    holes: BaseGeometry = field(default_factory=Polygon)
    kept: BaseGeometry = field(default_factory=Polygon)
    bodies: BaseGeometry = field(default_factory=Polygon)
    roofs: BaseGeometry = field(default_factory=Polygon)
    pans: BaseGeometry = field(default_factory=Polygon)
    pours: Sequence[tuple[float, float, float]] = ()
    bonds: Bonds | None = None
    eave_m: float = 0.0

    def __post_init__(self) -> None:
        self.index = {s.id: n for n, s in enumerate(self.sheets)}
        self.shapes = np.array([s.polygon for s in self.sheets], dtype=object)
        shapely.prepare(self.shapes)
        self.tree = shapely.STRtree(self.shapes)
        self.rings = [rings_of(s.polygon) for s in self.sheets]
        bounds, areas = shapely.bounds(self.shapes), shapely.area(self.shapes)
        square = np.abs((bounds[:, 2] - bounds[:, 0]) * (bounds[:, 3] - bounds[:, 1]) - areas) < 1e-9
        self.boxes: list[list[float] | None] = [b if sq else None for b, sq in zip(bounds.tolist(), square.tolist(), strict=True)]
        self.outline_rings = rings_of(self.outline)
        self.sides = sides_of(self.shapes)
        self.columns: dict[float, Column] = {}
        self._over: dict[tuple[int, int], list[BaseGeometry]] = defaultdict(list)
        self._held: dict[tuple[int, int], list[str]] = defaultdict(list)
        for lap in self.laps:
            a, b = self.index.get(lap.over), self.index.get(lap.under)
            if a is not None and b is not None:
                self._over[a, b].append(lap.polygon)
                self._held[a, b].append(lap.held)
        both = [(a, b) for a, b in self._over if (b, a) in self._over]
        # who lies over whom: True, False, or None when it depends on where
        self._told: dict[tuple[int, int], bool | None] = {(b, a): False for a, b in self._over}
        self._told |= dict.fromkeys(self._over, True) | dict.fromkeys(both)
        for areas in self._over.values():
            shapely.prepare(np.array(areas, dtype=object))
        self.conflicts: set[tuple[int, int]] = set()

    def exit(self, n: int, x: float, y: float, dx: float, dy: float) -> float:
        """Return how far one can go inside sheet n from (x, y) in a direction: `exit_distance`, at once for a box."""
        box = self.boxes[n]
        if box is None or (dx and dy):
            return exit_distance(self.rings[n], x, y, dx, dy)
        if not (box[0] < x < box[2] and box[1] < y < box[3]):
            return 0.0
        return (box[2] - x if dx > 0 else x - box[0]) if dx else (box[3] - y if dy > 0 else y - box[1])

    def sheets_at(self, points: NDArray[np.float64]) -> list[list[int]]:
        """Return for each point (n, 2) the sheets that cover it, in no order."""
        out: list[list[int]] = [[] for _ in range(len(points))]
        if len(points) == 0 or len(self.sheets) == 0:
            return out
        spots, found = self.tree.query(shapely.points(points), predicate="intersects")
        for k, n in zip(spots.tolist(), found.tolist(), strict=True):
            out[k].append(n)
        return out

    def over(self, a: int, b: int, x: float, y: float) -> bool:
        """Return whether sheet a lies over sheet b at a point where both are."""
        told = self._told.get((a, b))
        if told is not None:
            return told
        if (a, b) in self._told:  # each lies over the other somewhere: the lap nearest to the point counts
            one, two = self._over[a, b], self._over[b, a]
            in_a, in_b = (any(shapely.intersects_xy(g, x, y) for g in areas) for areas in (one, two))
            if in_a != in_b:
                return in_a
            near_a, near_b = (min(_distance(g, x, y) for g in areas) for areas in (one, two))
            if near_a != near_b:
                return near_a < near_b
            self.conflicts.add((min(a, b), max(a, b)))
        sa, sb = self.sheets[a], self.sheets[b]
        return (sa.order, sa.id) > (sb.order, sb.id)

    def stuck(self, a: int, b: int | None, x: float, y: float) -> bool:
        """Return whether nothing gets between sheet a and what it lies over (b, None: the bare wall) while the glue holds."""
        sheet = self.sheets[a]
        if sheet.layer in COATINGS:
            return True  # a liquid that bonds as a coat has no edge to get behind
        held = self._held.get((a, b)) if b is not None else None
        if b is None or not held:
            return sheet.held in STICKS
        if len(held) == 1:
            return held[0] in STICKS
        areas = self._over[a, b]
        return held[min(range(len(held)), key=lambda i: _distance(areas[i], x, y))] in STICKS

    def stacked(self, found: Iterable[int], x: float, y: float) -> list[int]:
        """Return the sheets at a point from the wall outwards."""
        items: list[int] = sorted(found)
        if len(items) < 2:
            return items

        def order(a: int, b: int) -> int:
            return 1 if self.over(a, b, x, y) else -1

        key = cmp_to_key(order)
        out = sorted(items, key=key)
        # a comparison that is no order (a ring of laps) cannot be sorted: bubble once more and keep what is stable
        for i in range(len(out) - 1):
            if self.over(out[i], out[i + 1], x, y):
                out[i], out[i + 1] = out[i + 1], out[i]
        return out


def _distance(geom: BaseGeometry, x: float, y: float) -> float:
    return 0.0 if shapely.intersects_xy(geom, x, y) else float(geom.distance(shapely.Point(x, y)))


def rings_of(poly: Polygon) -> list[list[tuple[float, float]]]:
    """Return the rings of a polygon as lists of points, for `exit_distance`."""
    return [[(x, y) for x, y in shapely.get_coordinates(r).tolist()] for r in (poly.exterior, *poly.interiors)]


def exit_distance(rings: list[list[tuple[float, float]]], x: float, y: float, dx: float, dy: float) -> float:
    """Return how far one can go from (x, y) inside a polygon in the direction (dx, dy) (a unit vector) before leaving it.

    rings: from `rings_of`. 0 when the point is not inside (an even number of rims lies ahead). Exact for
    polygons: every side that crosses the ray is asked.

    >>> exit_distance([[(0, 0), (2, 0), (2, 1), (0, 1), (0, 0)]], 0.5, 0.5, 1.0, 0.0)
    1.5
    """
    if not dx:  # straight up or down, as most are asked: the same sums with what is nothing left out
        return _exit_upright(rings, x, y, dy)
    best, count = FAR_M, 0
    for ring in rings:
        px, py = ring[0]
        before = dx * (py - y) - dy * (px - x)  # which side of the ray a point lies on
        for qx, qy in ring[1:]:
            after = dx * (qy - y) - dy * (qx - x)
            if (before > 0) != (after > 0):
                t = before / (before - after)
                ahead = dx * (px + (qx - px) * t - x) + dy * (py + (qy - py) * t - y)
                if ahead > 1e-9:
                    count += 1
                    best = min(best, ahead)
            px, py, before = qx, qy, after
    return best if count % 2 else 0.0


def _exit_upright(rings: list[list[tuple[float, float]]], x: float, y: float, dy: float) -> float:
    best, count = FAR_M, 0
    for ring in rings:
        px, py = ring[0]
        before = px - x
        for qx, qy in ring[1:]:
            after = qx - x
            if (before < 0) != (after < 0) if dy > 0 else (before > 0) != (after > 0):
                ahead = dy * (py + (qy - py) * (before / (before - after)) - y)
                if ahead > 1e-9:
                    count += 1
                    if ahead < best:
                        best = ahead
            py, before = qy, after
    return best if count % 2 else 0.0
