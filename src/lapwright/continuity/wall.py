"""One surface as the drop test sees it: sheets, who lies over whom at a point, and vertical cuts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cmp_to_key

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.continuity.model import Over, Sheet

FAR_M = 1e3  # stands for "as far as you like"


@dataclass
class Wall:
    """Sheets of one surface and their laps.

    outline: where the wall is; folds: per sheet the lines along which it turns off the face (no free edge there);
    holes: openings; kept: areas that cannot be looked behind; bodies: what comes through the wall or
    is fixed to it; roofs: where roofs meet it (with the rooms below them).
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

    def __post_init__(self) -> None:
        self.index = {s.id: n for n, s in enumerate(self.sheets)}
        self.shapes = np.array([s.polygon for s in self.sheets], dtype=object)
        shapely.prepare(self.shapes)
        self.tree = shapely.STRtree(self.shapes)
        self._over: dict[tuple[int, int], list[BaseGeometry]] = defaultdict(list)
        for lap in self.laps:
            a, b = self.index.get(lap.over), self.index.get(lap.under)
            if a is not None and b is not None:
                self._over[a, b].append(lap.polygon)
        for areas in self._over.values():
            shapely.prepare(np.array(areas, dtype=object))
        self.conflicts: set[tuple[int, int]] = set()

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
        one, two = self._over.get((a, b)), self._over.get((b, a))
        if one and not two:
            return True
        if two and not one:
            return False
        if one and two:
            near_a = min(_distance(g, x, y) for g in one)
            near_b = min(_distance(g, x, y) for g in two)
            if near_a != near_b:
                return near_a < near_b
            self.conflicts.add((min(a, b), max(a, b)))
        sa, sb = self.sheets[a], self.sheets[b]
        return (sa.order, sa.id) > (sb.order, sb.id)

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


def exit_distance(poly: Polygon, x: float, y: float, dx: float, dy: float) -> float:
    """Return how far one can go from (x, y) inside a polygon in the direction (dx, dy) (a unit vector) before leaving it.

    0 when the point is not inside. Exact for polygons: edges of all rings are intersected with the ray.
    """
    if not shapely.intersects_xy(poly, x, y):
        return 0.0
    best = FAR_M
    for ring in (poly.exterior, *poly.interiors):
        pts = shapely.get_coordinates(ring)
        p, q = pts[:-1], pts[1:]
        ex, ey = q[:, 0] - p[:, 0], q[:, 1] - p[:, 1]
        det = dx * ey - dy * ex
        with np.errstate(divide="ignore", invalid="ignore"):
            wx, wy = p[:, 0] - x, p[:, 1] - y
            t = (wx * ey - wy * ex) / det
            s = (wx * dy - wy * dx) / det
        hit = t[(np.abs(det) > 1e-12) & (s >= -1e-9) & (s <= 1 + 1e-9) & (t > 1e-9)]
        if len(hit):
            best = min(best, float(hit.min()))
    return best
