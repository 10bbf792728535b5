"""Plane geometry in metres: thin helpers over shapely with fixed rounding and order.

Everything that leaves the program is rounded to 0.1 mm; areas below `SLIVER_M2` are noise of the
overlay arithmetic, not material.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

TOL_M = 1e-4  # 0.1 mm, the resolution of the contract
SNAP_M = 1e-5  # overlays are worked out on this grid
SLIVER_M2 = 1e-6  # 1 mm2
CHORD_M = 1e-3  # curves become chords within 1 mm (contract)

Point = tuple[float, float]


def box(x0: float, y0: float, x1: float, y1: float) -> Polygon:
    """Return the axis-parallel rectangle between two corners, in metres, counter-clockwise.

    >>> box(0, 0, 2, 1).area
    2.0
    """
    return shapely.polygons(np.array(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), dtype=float))


def polygons(geom: BaseGeometry) -> list[Polygon]:
    """Return the polygons of any geometry, slivers dropped, ordered left to right then bottom to top."""
    if geom.is_empty:
        return []
    if isinstance(geom, Polygon):
        found = [geom]
    elif hasattr(geom, "geoms"):
        found = [p for g in geom.geoms for p in polygons(g)]
    else:
        return []
    found = [p for p in found if p.area > SLIVER_M2]
    if len(found) < 2:
        return found
    return sorted(found, key=lambda p: (round(p.bounds[0], 4), round(p.bounds[1], 4), round(p.area, 6)))


def merged(geoms: Iterable[BaseGeometry]) -> BaseGeometry:
    """Return the union of the geometries (empty polygon when there are none)."""
    items = [g for g in geoms if not g.is_empty]
    return unary_union(items) if items else Polygon()


def snap(geom: BaseGeometry, grid_m: float = SNAP_M) -> BaseGeometry:
    """Return the geometry on a grid of `grid_m`, valid, so that overlays give the same bytes every time."""
    try:
        return shapely.set_precision(geom, grid_m)
    except shapely.errors.GEOSException:  # edges that all but coincide (a zone's leftover with a hair of a neck)
        moved = shapely.make_valid(shapely.set_precision(geom, grid_m, mode="pointwise"))
        return as_multi(moved)


def rings(poly: Polygon) -> list[list[list[float]]]:
    """Return GeoJSON rings (shell first, then holes; first point = last), rounded to 0.1 mm, a valid polygon.

    A neck that rounding closes splits the polygon: then its largest part is returned.
    """
    out = _rounded(poly)
    if len(out[0]) > 3 and Polygon(out[0], out[1:]).is_valid:
        return out
    parts = polygons(snap(poly, TOL_M))
    return _rounded(max(parts, key=lambda p: p.area)) if parts else out


def _rounded(poly: Polygon) -> list[list[list[float]]]:
    def ring(coords: Sequence[Sequence[float]]) -> list[list[float]]:
        out: list[list[float]] = []
        for x, y, *_ in coords:
            point = [round(x, 4) + 0.0, round(y, 4) + 0.0]
            if not out or point != out[-1]:
                out.append(point)
        if out[0] != out[-1]:
            out.append(list(out[0]))
        return out

    oriented = shapely.geometry.polygon.orient(poly)
    return [ring(list(oriented.exterior.coords))] + [ring(list(r.coords)) for r in oriented.interiors]


def from_rings(rings_: Sequence[Sequence[Sequence[float]]]) -> Polygon:
    """Return the polygon of GeoJSON rings (the inverse of `rings`)."""
    return Polygon([tuple(p) for p in rings_[0]], [[tuple(p) for p in r] for r in rings_[1:]])


def arc(center: Point, radius: float, start_deg: float, end_deg: float) -> list[Point]:
    """Return points on an arc so that no chord is farther than 1 mm from it (ends included).

    radius in metres, > 0; angles counter-clockwise from +x in degrees.
    """
    sweep = math.radians(end_deg - start_deg)
    step = 2 * math.acos(max(0.0, 1 - CHORD_M / radius)) if radius > CHORD_M else math.pi / 2
    count = max(2, math.ceil(abs(sweep) / step))
    return [
        (
            center[0] + radius * math.cos(math.radians(start_deg) + sweep * i / count),
            center[1] + radius * math.sin(math.radians(start_deg) + sweep * i / count),
        )
        for i in range(count + 1)
    ]


def circle(center: Point, diameter: float) -> Polygon:
    """Return a circle as a polygon within 1 mm of the true curve."""
    return Polygon(arc(center, diameter / 2, 0, 360)[:-1])


def quad(start: Point, end: Point, low: float, high: float) -> Polygon:
    """Return the strip along start -> end, between the offsets `low` and `high` to its left, in metres."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy)
    nx, ny = -dy / length, dx / length
    corners = (
        (start[0] + nx * low, start[1] + ny * low),
        (end[0] + nx * low, end[1] + ny * low),
        (end[0] + nx * high, end[1] + ny * high),
        (start[0] + nx * high, start[1] + ny * high),
    )
    return shapely.polygons(np.array(corners, dtype=float))


def near(geom: BaseGeometry, others: Iterable[BaseGeometry]) -> list[BaseGeometry]:
    """Return those of the others whose boxes meet the geometry's; with the rest it has nothing in common.

    >>> [g.bounds[0] for g in near(box(0, 0, 1, 1), [box(2, 0, 3, 1), box(1, 0, 3, 1)])]
    [1.0]
    """
    x0, y0, x1, y1 = geom.bounds
    out = []
    for other in others:
        u0, v0, u1, v1 = other.bounds
        if not (x1 < u0 or u1 < x0 or y1 < v0 or v1 < y0):
            out.append(other)
    return out


def slit_polygon(line: LineString, width_m: float) -> Polygon:
    """Return the knife cut along a line as a thin polygon with flat ends, `width_m` wide."""
    return line.buffer(width_m / 2, cap_style="flat")


def as_multi(geom: BaseGeometry) -> MultiPolygon:
    """Return any area geometry as a MultiPolygon in the order of `polygons`."""
    return MultiPolygon(polygons(geom))


def point_list(value: Any) -> list[list[float]]:
    """Return a sequence of points as lists rounded to 0.1 mm."""
    return [[round(float(x), 4) + 0.0, round(float(y), 4) + 0.0] for x, y in value]
