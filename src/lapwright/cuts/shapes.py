"""Flats as the packer sees them: whole tenths of a millimetre, turned copies, and the free rectangles inside.

The packer works on the grid of the contract (0.1 mm), so that what `plan.json` says is exactly what was
packed. Lengths here are integers in that unit (`UNIT_M`) unless a name ends in `_m`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import rotate, translate

from lapwright.details.base import Cut
from lapwright.geometry import TOL_M, polygons

UNIT_M = TOL_M  # the resolution of the contract, 0.1 mm
SLOPE_STEPS = 6  # grid lines laid across a sloped or curved edge when looking for rectangles beside it

Rect = tuple[int, int, int, int]  # x0, y0, x1, y1


def units(length_m: float) -> int:
    """Return a length in whole tenths of a millimetre, nearest.

    >>> units(1.524)
    15240
    """
    return round(length_m / UNIT_M)


def on_grid(flat: Polygon) -> Polygon:
    """Return the flat with every corner on the 0.1 mm grid of the contract (corners move 0.05 mm at most)."""
    rounded = shapely.transform(flat, lambda xy: np.round(xy, 4) + 0.0)
    if rounded.is_valid:
        return rounded
    whole = polygons(shapely.set_precision(flat, UNIT_M))
    return max(whole, key=lambda p: p.area) if whole else flat


def turned(flat: Polygon, degrees: int) -> Polygon:
    """Return the flat turned counter-clockwise by 0, 90, 180 or 270 degrees, lower-left corner at (0, 0)."""
    out = rotate(flat, degrees, origin=(0.0, 0.0)) if degrees else flat
    x0, y0, _, _ = out.bounds
    moved = translate(out, -x0, -y0) if x0 or y0 else out
    return shapely.transform(moved, lambda xy: np.round(xy, 4) + 0.0)


@dataclass(frozen=True)
class Shape:
    """One cut on the grid. `poly`: turned 0, lower-left corner at (0, 0), metres.

    A saw takes `kerf` off the right and upper edge: sizes below hold it, and the stock is taken one kerf
    larger, so that the last cut needs none.
    """

    index: int
    cut: Cut
    poly: Polygon
    kerf: int = 0
    angles: tuple[int, ...] = (0, 90, 180, 270)

    @cached_property
    def w(self) -> int:
        """Length along the stock at turn 0, with one kerf."""
        return units(self.poly.bounds[2]) + self.kerf

    @cached_property
    def h(self) -> int:
        """Width across the stock at turn 0, with one kerf."""
        return units(self.poly.bounds[3]) + self.kerf

    @cached_property
    def full(self) -> bool:
        """True when the flat fills its bounding box."""
        _, _, x, y = self.poly.bounds
        return bool(self.poly.area > x * y - 1e-7)

    @cached_property
    def free(self) -> tuple[Rect, ...]:
        """Rectangles inside the bounding box at turn 0 that the flat leaves free, largest first."""
        return () if self.full else free_rectangles(self.poly)

    def size(self, degrees: int) -> tuple[int, int]:
        """(along, across) of the bounding box after turning, with kerf."""
        return (self.w, self.h) if degrees % 180 == 0 else (self.h, self.w)

    def free_turned(self, degrees: int) -> list[Rect]:
        """`free` after turning, less the kerf that its edges need."""
        k = self.kerf
        w, h = self.w - k, self.h - k
        tw, th = (w, h) if degrees % 180 == 0 else (h, w)
        out = []
        for rect in self.free:
            x0, y0, x1, y1 = turn_rect(rect, w, h, degrees)
            r = (
                x0 + k if x0 else 0,
                y0 + k if y0 else 0,
                x1 + k if x1 == tw else x1,
                y1 + k if y1 == th else y1,
            )
            if r[2] > r[0] and r[3] > r[1]:
                out.append(r)
        return out

    def placed(self, x: int, y: int, degrees: int) -> Polygon:
        """Return the flat in stock coordinates, metres."""
        return translate(turned(self.poly, degrees), x * UNIT_M, y * UNIT_M)


ANGLES: dict[str, tuple[int, ...]] = {"any": (0, 90, 180, 270), "half": (0, 180), "none": (0,)}


def shape_of(index: int, cut: Cut, kerf: int = 0, turn: str = "any") -> Shape:
    """Return the packer's view of a cut. turn: "any" | "half" | "none", how the flat may lie on its stock."""
    return Shape(index, cut, turned(on_grid(cut.flat), 0), kerf, ANGLES[turn])


def angle(shape: Shape, width: int) -> int:
    """Return the first turn at which the shape is no wider than `width` (0 = no limit: long side along)."""
    if not width:
        return 90 if 90 in shape.angles and shape.h > shape.w else 0
    return next((a for a in shape.angles if shape.size(a)[1] - shape.kerf <= width), 0)


def along(shape: Shape, width: int) -> int:
    """Return the length along the stock at that turn, with kerf."""
    return shape.size(angle(shape, width))[0]


def turn_rect(rect: Rect, w: int, h: int, degrees: int) -> Rect:
    """Return a rectangle of a w x h box after the box is turned counter-clockwise and set back to (0, 0).

    >>> turn_rect((0, 0, 1, 1), 3, 2, 90)
    (1, 0, 2, 1)
    """
    x0, y0, x1, y1 = rect
    if degrees == 90:
        return (h - y1, x0, h - y0, x1)
    if degrees == 180:
        return (w - x1, h - y1, w - x0, h - y0)
    if degrees == 270:
        return (y0, w - x1, y1, w - x0)
    return rect


def free_rectangles(poly: Polygon) -> tuple[Rect, ...]:
    """Return the largest free rectangles between a flat (lower-left at (0, 0)) and its bounding box.

    Exact where the free part has level and upright edges; a staircase of `SLOPE_STEPS` beside the others.
    """
    gap = shapely.difference(shapely.box(*poly.bounds), poly)
    found: list[Rect] = []
    for part in polygons(gap):
        found += inscribed(part)
    return tuple(largest(found))


def inscribed(part: Polygon) -> list[Rect]:
    """Return the largest level rectangles inside one free area, on the 0.1 mm grid."""
    xs, ys = _lines(part)
    if len(xs) < 2 or len(ys) < 2:
        return []
    # A cell counts as free only when it lies wholly inside; shrunk by 1 um against rounding of the overlay.
    x0, y0 = np.meshgrid(np.array(xs[:-1]), np.array(ys[:-1]))
    x1, y1 = np.meshgrid(np.array(xs[1:]), np.array(ys[1:]))
    eps = 1e-6
    cells = shapely.box(x0 * UNIT_M + eps, y0 * UNIT_M + eps, x1 * UNIT_M - eps, y1 * UNIT_M - eps)
    shapely.prepare(part)
    inside = shapely.covers(part, cells)
    return [(xs[a], ys[c], xs[b], ys[d]) for a, c, b, d in _blocks(np.asarray(inside, dtype=bool))]


def _lines(part: Polygon) -> tuple[list[int], list[int]]:
    """Grid lines through every corner of the part, and some more across sloped edges."""
    xs: set[int] = set()
    ys: set[int] = set()
    for ring in [part.exterior, *part.interiors]:
        points = np.asarray(ring.coords)
        xs.update(np.floor(points[:, 0] / UNIT_M + 0.01).astype(int).tolist())
        ys.update(np.floor(points[:, 1] / UNIT_M + 0.01).astype(int).tolist())
        dx, dy = np.abs(np.diff(points[:, 0])), np.abs(np.diff(points[:, 1]))
        for k in np.nonzero((dx > UNIT_M) & (dy > UNIT_M))[0]:
            a, b = points[k], points[k + 1]
            for t in np.linspace(0, 1, SLOPE_STEPS + 1)[1:-1]:
                xs.add(int((a[0] + t * (b[0] - a[0])) / UNIT_M))
                ys.add(int((a[1] + t * (b[1] - a[1])) / UNIT_M))
    limit = 40  # an arch has a corner per chord: thin the lines so that the search stays small
    return _thin(sorted(xs), limit), _thin(sorted(ys), limit)


def _thin(values: list[int], limit: int) -> list[int]:
    if len(values) <= limit:
        return values
    return [values[round(k * (len(values) - 1) / (limit - 1))] for k in range(limit)]


def _blocks(inside: np.ndarray) -> list[tuple[int, int, int, int]]:
    """Return maximal all-true blocks (col0, row0, col1, row1) of a small table, ends exclusive."""
    rows, cols = inside.shape
    found: set[tuple[int, int, int, int]] = set()
    for top in range(rows):
        run = np.ones(cols, dtype=bool)
        for bottom in range(top, rows):
            run = run & inside[bottom]
            if not run.any():
                break
            edges = np.flatnonzero(np.diff(np.concatenate(([0], run.astype(int), [0]))))
            for a, b in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
                below = bottom + 1 < rows and inside[bottom + 1, a:b].all()
                above = top > 0 and inside[top - 1, a:b].all()
                if not below and not above:
                    found.add((a, top, b, bottom + 1))
    return sorted(found)


def largest(rects: Iterable[Rect]) -> list[Rect]:
    """Return the rectangles that lie in no other, largest area first, ties by position."""
    ordered = sorted(set(rects), key=lambda r: (-(r[2] - r[0]) * (r[3] - r[1]), r))
    kept: list[Rect] = []
    for r in ordered:
        if not any(k[0] <= r[0] and k[1] <= r[1] and k[2] >= r[2] and k[3] >= r[3] for k in kept):
            kept.append(r)
    return kept


def take(free: Iterable[Rect], used: Rect) -> list[Rect]:
    """Return the largest free rectangles that are left when `used` is taken out of them."""
    ux0, uy0, ux1, uy1 = used
    left: list[Rect] = []
    for x0, y0, x1, y1 in free:
        if ux0 >= x1 or ux1 <= x0 or uy0 >= y1 or uy1 <= y0:
            left.append((x0, y0, x1, y1))
            continue
        if ux0 > x0:
            left.append((x0, y0, ux0, y1))
        if ux1 < x1:
            left.append((ux1, y0, x1, y1))
        if uy0 > y0:
            left.append((x0, y0, x1, uy0))
        if uy1 < y1:
            left.append((x0, uy1, x1, y1))
    return largest(left)
