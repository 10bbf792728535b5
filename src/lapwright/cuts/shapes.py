"""Flats as the packer sees them: whole tenths of a millimetre, turned copies, and the rectangles they fill.

The packer works on the grid of the contract (0.1 mm), so that what `plan.json` says is exactly what was
packed. Lengths here are integers in that unit (`UNIT_M`) unless a name ends in `_m`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import rotate, translate

from lapwright.cuts.sections import Sections, rectangle, sections
from lapwright.details.base import Cut
from lapwright.geometry import TOL_M, polygons

UNIT_M = TOL_M  # the resolution of the contract, 0.1 mm
ANGLES: dict[str, tuple[int, ...]] = {"any": (0, 90, 180, 270), "half": (0, 180), "none": (0,)}

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
    angles: tuple[int, ...] = ANGLES["any"]

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
    def sections(self) -> Sections:
        """The flat sliced across its length at turn 0."""
        _, _, x, y = self.poly.bounds
        return rectangle(x, y) if self.full else sections(self.poly)

    @cached_property
    def sections_turned(self) -> Sections:
        """The flat sliced across its length at turn 90."""
        _, _, x, y = self.poly.bounds
        return rectangle(y, x) if self.full else sections(self.poly, across=True)

    @cached_property
    def solids(self) -> tuple[Rect, ...]:
        """Rectangles that together cover the flat at turn 0, left to right, with kerf."""
        if self.full:
            return ((0, 0, self.w, self.h),)
        out: list[Rect] = []
        x = 0.0
        for s in self.sections.slices:
            x0, x1 = math.floor(x / UNIT_M + 0.01), math.ceil((x + s.length_m) / UNIT_M - 0.01)
            for low, high in s.bands:
                y0, y1 = math.floor(low / UNIT_M + 0.01), math.ceil(high / UNIT_M - 0.01)
                out.append((x0, y0, x1 + self.kerf, y1 + self.kerf))
            x += s.length_m
        return tuple(out)

    def size(self, degrees: int) -> tuple[int, int]:
        """(along, across) of the bounding box after turning, with kerf."""
        return (self.w, self.h) if degrees % 180 == 0 else (self.h, self.w)

    def solids_at(self, x: int, y: int, degrees: int) -> list[Rect]:
        """`solids` after turning, with the lower-left corner of the bounding box at (x, y)."""
        k = self.kerf
        out = []
        for x0, y0, x1, y1 in self.solids:
            a, b, c, d = turn_rect((x0, y0, x1 - k, y1 - k), self.w - k, self.h - k, degrees)
            out.append((a + x, b + y, c + x + k, d + y + k))
        return out

    def placed(self, x: int, y: int, degrees: int) -> Polygon:
        """Return the flat in stock coordinates, metres."""
        return translate(turned(self.poly, degrees), x * UNIT_M, y * UNIT_M)


def shape_of(index: int, cut: Cut, kerf: int = 0, turn: str = "any") -> Shape:
    """Return the packer's view of a cut. turn: "any" | "half" | "none", how the flat may lie on its stock."""
    return Shape(index, cut, turned(on_grid(cut.flat), 0), kerf, ANGLES[turn])


def fitting(shape: Shape, length: int, width: int) -> tuple[int, ...]:
    """Return the turns (0, 90 before 180, 270) at which the bounding box fits a length and a width, with kerf."""
    return tuple(a for a in shape.angles if shape.size(a)[0] <= length and shape.size(a)[1] <= width)


def across(shape: Shape) -> int:
    """Return the width a shape takes when it lies lengthwise, as far as it may be turned; without kerf."""
    return min(shape.size(a)[1] for a in shape.angles) - shape.kerf


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
