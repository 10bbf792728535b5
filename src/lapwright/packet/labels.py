"""Finds room for words on a drawing: inside a shape, beside it, or at the end of a leader."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from lapwright.packet.canvas import SOFT, XY, Box, Canvas, box_at, ring_offsets, text_width

GRID = 9  # places tried along each side of a shape


class Labels:
    """Sets words on a canvas so that no two overlap. `size` is the usual size of a word."""

    def __init__(self, canvas: Canvas, size: float) -> None:
        self.canvas, self.size = canvas, size
        self._pieces = shapely.STRtree([])
        self._foreign = shapely.STRtree([])

    def keep_clear(self, pieces: list[BaseGeometry], foreign: list[BaseGeometry]) -> None:
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
        for size, up in (
            (self.size, False),
            (self.size, True),
            (self.size * 0.85, False),
            (self.size * 0.85, True),
        ):
            wide, high = text_width(text, size, bold) + 1, size * 0.95
            at = self._room(area, high if up else wide, wide if up else high)
            if at:
                self.canvas.text(at, text, size, bold=bold, up=up)
                self.canvas.take(box_at(at, high if up else wide, wide if up else high))
                return True
        return False

    def stacked(self, area: BaseGeometry, lines: list[tuple[str, float, bool]]) -> None:
        """Set lines of (text, size, bold) in the middle of an area; lines too wide for it are left out,

        except the first, which is set smaller.
        """
        x0, y0, x1, y1 = area.bounds
        first, size, bold = lines[0]
        while text_width(first, size, bold) > (x1 - x0) and size > self.size * 0.6:
            size *= 0.9
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
        for at in places:
            box = box_at(at, wide, high)
            if self.canvas.free(box) and not _hides(self._foreign, box):
                self.canvas.text(at, text, self.size, bold=bold)
                self.canvas.take(box)
                return
        self.leader(area, text, bold=bold)

    def leader(self, area: BaseGeometry, text: str, *, bold: bool = False, within: Box = (0, 0, 1e9, 1e9)) -> None:
        """Set a word in free room near the area and tie it to the area with a line."""
        foot = self._foot(area)
        size = self.size * 0.92
        wide, high = text_width(text, size, bold) + 2, size
        both, foreign = (self._pieces, self._foreign), (self._foreign,)
        for avoid, grow in ((both, 1.0), (both, 0.85), (foreign, 0.85), ((), 0.85)):
            for dx, dy in ring_offsets(size * 1.4, size * 0.8, 12):
                side = 1 if dx > 1 else -1 if dx < -1 else 0
                at = (foot[0] + dx + side * wide / 2, foot[1] + dy)
                box = box_at(at, wide * grow, high * grow)
                if box[0] < within[0] or box[1] < within[1] or box[2] > within[2] or box[3] > within[3]:
                    continue
                if not self.canvas.free(box) or any(_hides(tree, box) for tree in avoid):
                    continue
                if side:
                    end = (box[0] if side > 0 else box[2], at[1])
                else:
                    end = (at[0], box[3] if dy < 0 else box[1])
                self.canvas.line(foot, end, width=0.45, stroke=SOFT)
                self.canvas.dot(foot)
                self.canvas.text(at, text, size * grow, bold=bold)
                self.canvas.take(box)
                return

    def _room(self, area: BaseGeometry, wide: float, high: float) -> XY | None:
        x0, y0, x1, y1 = area.bounds
        if x1 - x0 < wide or y1 - y0 < high:
            return None
        middle = area.point_on_surface() if not area.contains(area.centroid) else area.centroid
        xs = [x0 + wide / 2 + (x1 - x0 - wide) * i / (GRID - 1) for i in range(GRID)] + [middle.x]
        ys = [y0 + high / 2 + (y1 - y0 - high) * i / (GRID - 1) for i in range(GRID)] + [middle.y]
        spots = sorted(
            ((x, y) for x in xs for y in ys),
            key=lambda p: (round(abs(p[0] - middle.x) + abs(p[1] - middle.y), 3), p),
        )
        boxes = [box_at(p, wide, high) for p in spots]
        shapely.prepare(area)
        fits = shapely.contains(area, shapely.box(*zip(*boxes, strict=True)))
        for spot, box, fit in zip(spots, boxes, fits, strict=True):
            if fit and self.canvas.free(box):
                return spot
        return None

    def _foot(self, area: BaseGeometry) -> XY:
        point = area.point_on_surface()
        return point.x, point.y


def _hides(shapes: shapely.STRtree, box: Box) -> bool:
    return bool(len(shapes.query(shapely.box(*box), predicate="intersects")))
