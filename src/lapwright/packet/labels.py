"""Finds room for words on a drawing: inside a shape, beside it, or at the end of a leader.

All places that a word could take are tried at once, as arrays: a drawing has hundreds of words.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from lapwright.packet.canvas import SOFT, XY, Box, Canvas, box_at, ring_offsets, text_width

GRID = 9  # places tried along each side of a shape
RINGS = 12  # of places tried round the foot of a leader
NEAREST = 16  # places tried before all others
SMALLER = 0.85  # of the usual size, where a word does not fit otherwise


class Labels:
    """Sets words on a canvas so that no two overlap. `size` is the usual size of a word, `least` the smallest."""

    def __init__(self, canvas: Canvas, size: float, least: float = 0.0) -> None:
        self.canvas, self.size, self.least = canvas, size, least
        self.small = max(least, size * SMALLER)
        self._pieces = shapely.STRtree([])
        self._foreign = shapely.STRtree([])

    def keep_clear(self, pieces: Sequence[BaseGeometry], foreign: Sequence[BaseGeometry]) -> None:
        """Name what a leader's word would rather not lie on: pieces, and what must not seem to bear the word."""
        self._pieces, self._foreign = shapely.STRtree(pieces), shapely.STRtree(foreign)

    def at(self, at: XY, text: str, size: float, *, up: bool = False) -> None:
        """Set a bold word at a place, if nothing is set there yet."""
        wide, high = text_width(text, size, True), size * 0.95
        box = box_at(at, high, wide) if up else box_at(at, wide, high)
        if self.canvas.free(box):
            self.canvas.text(at, text, size, bold=True, up=up)
            self.canvas.take(box)

    def inside(self, area: BaseGeometry, text: str, *, bold: bool = False) -> bool:
        """Set a word inside the area, as near its middle as there is room; upright if it must be.

        Returns False, and sets nothing, when it does not fit.
        """
        if area.is_empty:
            return False
        x0, y0, x1, y1 = area.bounds
        for size in dict.fromkeys((self.size, self.small)):
            wide, high = text_width(text, size, bold) + 1, size * 0.95
            for up, w, h in ((False, wide, high), (True, high, wide)):
                if x1 - x0 < w or y1 - y0 < h:
                    continue
                at = self._room(area, w, h)
                if at:
                    self.canvas.text(at, text, size, bold=bold, up=up)
                    self.canvas.take(box_at(at, w, h))
                    return True
        return False

    def stacked(self, area: BaseGeometry, lines: list[tuple[str, float, bool]]) -> None:
        """Set lines of (text, size, bold) in the middle of an area; lines too wide for it are left out,

        except the first, which is set smaller.
        """
        x0, y0, x1, y1 = area.bounds
        first, size, bold = lines[0]
        while text_width(first, size, bold) > (x1 - x0) and size > max(self.least, self.size * 0.6):
            size = max(self.least, size * 0.9)
        kept = [(first, size, bold)]
        kept += [line for line in lines[1:] if text_width(*line) < (x1 - x0) - 3]
        if sum(s for _, s, _ in kept) * 1.1 > y1 - y0:
            kept = kept[:1]
        high = sum(s for _, s, _ in kept) * 1.1
        y = (y0 + y1) / 2 - high / 2
        for text, s, b in kept:
            at = ((x0 + x1) / 2, y + s * 0.55)
            self.canvas.text(at, text, s, bold=b)
            self.canvas.take(box_at(at, text_width(text, s, b), s))
            y += s * 1.1

    def beside(self, area: BaseGeometry, text: str, *, bold: bool = False) -> None:
        """Set a word next to a small shape: right, left, above or below, else at a leader."""
        x0, y0, x1, y1 = area.bounds
        wide, high = text_width(text, self.size, bold), self.size
        middle = (x0 + x1) / 2, (y0 + y1) / 2
        self.canvas.take((x0, y0, x1, y1))
        places = [
            (x1 + wide / 2 + 3, middle[1]),
            (x0 - wide / 2 - 3, middle[1]),
            (middle[0], y0 - high / 2 - 2),
            (middle[0], y1 + high / 2 + 2),
        ]
        boxes = _boxes(np.array(places), wide, high)
        for i in self._open(boxes, (self._foreign,), np.flatnonzero(self.canvas.free_of(boxes))):
            self.canvas.text(places[i], text, self.size, bold=bold)
            self.canvas.take(box_at(places[i], wide, high))
            return
        self.leader(area, text, bold=bold)

    def leader(self, area: BaseGeometry, text: str, *, bold: bool = False, within: Box = (0, 0, 1e9, 1e9)) -> None:
        """Set a word in free room near the area and tie it to the area with a line."""
        foot = self._foot(area)
        size = max(self.least, self.size * 0.92)
        small = max(self.least, size * SMALLER)
        wide, high = text_width(text, size, bold) + 2, size
        offsets = ring_offsets(size * 1.4, size * 0.8, RINGS)
        sides = np.where(offsets[:, 0] > 1, 1.0, np.where(offsets[:, 0] < -1, -1.0, 0.0))
        spots = offsets + foot
        spots[:, 0] += sides * wide / 2
        both, foreign = (self._pieces, self._foreign), (self._foreign,)
        found: dict[float, tuple[NDArray[np.float64], NDArray[np.intp]]] = {}
        for avoid, set_in in ((both, size), (both, small), (foreign, small), ((), small)):
            if set_in not in found:
                grow = set_in / size
                boxes = _boxes(spots, wide * grow, high * grow)
                inner = (boxes[:, :2] >= within[:2]).all(axis=1) & (boxes[:, 2:] <= within[2:]).all(axis=1)
                found[set_in] = boxes, np.flatnonzero(inner & self.canvas.free_of(boxes))
            boxes, free = found[set_in]
            for i in self._open(boxes, avoid, free):
                box, side = boxes[i], sides[i]
                at = (float(spots[i, 0]), float(spots[i, 1]))
                if side:
                    end = (float(box[0] if side > 0 else box[2]), at[1])
                else:
                    end = (at[0], float(box[3] if offsets[i, 1] < 0 else box[1]))
                self.canvas.line(foot, end, width=0.45, stroke=SOFT)
                self.canvas.dot(foot)
                self.canvas.text(at, text, set_in, bold=bold)
                self.canvas.take((float(box[0]), float(box[1]), float(box[2]), float(box[3])))
                return

    def _open(
        self, boxes: NDArray[np.float64], avoid: Sequence[shapely.STRtree], among: NDArray[np.intp]
    ) -> NDArray[np.intp]:
        """Return the first of those boxes that meets nothing in the trees, or none; `among` in order of liking."""
        for some in (among[:NEAREST], among[NEAREST:]):  # the nearest places mostly do: do not try all at once
            shapes = shapely.box(*boxes[some].T)
            hidden = np.zeros(len(some), dtype=bool)
            for tree in avoid:
                hidden[tree.query(shapes, predicate="intersects")[0]] = True
                if hidden.all():
                    break
            if not hidden.all():
                return some[~hidden][:1]
        return among[:0]

    def _room(self, area: BaseGeometry, wide: float, high: float) -> XY | None:
        """Return the place nearest the middle of the area where a box of that size lies inside it and is free."""
        x0, y0, x1, y1 = area.bounds
        # most pieces are rectangles, and need no geometry
        plain = shapely.get_num_coordinates(area) == 5 and area.area > (x1 - x0) * (y1 - y0) * (1 - 1e-12)
        if plain:
            mx, my = (x0 + x1) / 2, (y0 + y1) / 2
        else:
            middle = area.centroid
            if not area.contains(middle):
                middle = area.point_on_surface()
            mx, my = middle.x, middle.y
        best = box_at((mx, my), wide, high)
        if self.canvas.free(best) and (plain or area.contains(shapely.box(*best))):
            return mx, my
        steps = np.arange(GRID)
        xs = np.append(x0 + wide / 2 + (x1 - x0 - wide) * steps / (GRID - 1), mx)
        ys = np.append(y0 + high / 2 + (y1 - y0 - high) * steps / (GRID - 1), my)
        spots = np.stack([np.repeat(xs, len(ys)), np.tile(ys, len(xs))], axis=1)
        boxes = _boxes(spots, wide, high)
        far = np.round(np.abs(spots[:, 0] - mx) + np.abs(spots[:, 1] - my), 3)
        order = np.lexsort((spots[:, 1], spots[:, 0], far))
        fits = order[self.canvas.free_of(boxes)[order]]
        if not plain and len(fits):
            shapely.prepare(area)
            fits = fits[shapely.contains(area, shapely.box(*boxes[fits].T))]
        return (float(spots[fits[0], 0]), float(spots[fits[0], 1])) if len(fits) else None

    def _foot(self, area: BaseGeometry) -> XY:
        point = area.point_on_surface()
        return point.x, point.y


def _boxes(spots: NDArray[np.float64], wide: float, high: float) -> NDArray[np.float64]:
    """Return the boxes of one size round many places, as rows of left, top, right, bottom."""
    half = np.array([wide / 2, high / 2])
    return np.concatenate([spots - half, spots + half], axis=1)
