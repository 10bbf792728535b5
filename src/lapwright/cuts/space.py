"""Free room on stock as the largest free rectangles, kept up to date while pieces are laid.

Whole tenths of a millimetre (see `shapes`). Rectangles overlap one another; each is as large as it can be.
Plain lists: a stretch of stock has a dozen of them, too few for arrays to pay.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lapwright.cuts.shapes import Rect, Shape


@dataclass(frozen=True)
class Lie:
    """One shape laid down: lower-left corner of its turned bounding box at (x, y)."""

    shape: Shape
    x: int
    y: int
    degrees: int

    @property
    def box(self) -> Rect:
        """The bounding box with kerf."""
        w, h = self.shape.size(self.degrees)
        return (self.x, self.y, self.x + w, self.y + h)

    @property
    def solids(self) -> list[Rect]:
        """The rectangles that cover the flat, with kerf."""
        return self.shape.solids_at(self.x, self.y, self.degrees)

    def moved(self, dx: int) -> Lie:
        """The same, farther along."""
        return Lie(self.shape, self.x + dx, self.y, self.degrees)


def take(free: Sequence[Rect], used: Rect, least: int = 1) -> tuple[list[Rect], list[Rect]]:
    """Take `used` out of the largest free rectangles; return those untouched and the new ones.

    New ones that take no `least` x `least` square are dropped.

    >>> take([(0, 0, 10, 10)], (0, 0, 4, 10))
    ([], [(4, 0, 10, 10)])
    """
    x0, y0, x1, y1 = used
    kept: list[Rect] = []
    parts: list[Rect] = []
    for r in free:
        a, b, c, d = r
        if x0 >= c or x1 <= a or y0 >= d or y1 <= b:
            kept.append(r)
            continue
        if x0 - a >= least:
            parts.append((a, b, x0, d))
        if c - x1 >= least:
            parts.append((x1, b, c, d))
        if y0 - b >= least:
            parts.append((a, b, c, y0))
        if d - y1 >= least:
            parts.append((a, y1, c, d))
    return kept, _largest(parts, kept)


def take_all(free: Sequence[Rect], used: Iterable[Rect], least: int = 1) -> list[Rect]:
    """Take several rectangles out; return what is left."""
    left = list(free)
    for rect in used:
        kept, new = take(left, rect, least)
        left = kept + new
    return left


def _largest(parts: list[Rect], kept: Sequence[Rect]) -> list[Rect]:
    """Drop the parts that lie in another one or in one that was kept."""
    out: list[Rect] = []
    for i, (a, b, c, d) in enumerate(parts):
        for j, (p, q, r, s) in enumerate(parts):
            if p <= a and q <= b and r >= c and s >= d and i != j and (parts[j] != parts[i] or j < i):
                break
        else:
            if not any(p <= a and q <= b and r >= c and s >= d for p, q, r, s in kept):
                out.append((a, b, c, d))
    return out
