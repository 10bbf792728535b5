"""What is left of opened sheets while boards are cut from them: rectangles in whole micrometres, along and across the sheet.

A board comes from the smallest rectangle that gives it, else from a new sheet; what is left of that rectangle is cut
straight through (guillotine), so that the count is one that a saw can reach. Packing may do better, never worse in
what it proves: this count only steers where joints fall.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

Rect = tuple[int, int]  # along the sheet, across it
# What part of an off-cut's area is used later: of one as high as the sheet, and of lower ones; times the square root of
# its length in sheets, for short ones find no use. Tuned on random walls.
WORTH, WORTH_LOW = 0.85, 0.4


class Stack:
    """Opened sheets and their off-cuts, never changed: `cut` gives a new one."""

    __slots__ = ("free", "opened", "size", "smallest")

    def __init__(self, size: Rect, smallest: int, opened: int = 0, free: tuple[Rect, ...] = ()) -> None:
        self.size, self.smallest, self.opened, self.free = size, smallest, opened, free

    def cut(self, boards: Iterable[tuple[Rect, tuple[Rect, ...]]]) -> Stack:
        """Return the stack after cutting boards (along, across), each with the hollows it leaves in its rectangle."""
        free, opened = list(self.free), self.opened
        long, high = self.size
        for (w, h), hollows in boards:
            if w <= 0 or h <= 0:
                continue
            best, best_way = None, (0, 0)
            least = 0
            for i, (a, b) in enumerate(free):
                # the lowest strip first, then the shortest; a turned board only where no other way is left
                if w <= a and h <= b:
                    loss = (b - h) * 4 * a + (a - w)
                    if best is None or loss < least:
                        best, best_way, least = i, (w, h), loss
                elif h <= a and w <= b:
                    loss = (b - w) * 4 * a + (a - h) + long
                    if best is None or loss < least:
                        best, best_way, least = i, (h, w), loss
            if best is None:
                opened += 1
                a, b = long, high
                w0, h0 = (w, h) if w <= a and h <= b else (h, w)
            else:
                a, b = free.pop(best)
                w0, h0 = best_way
            free += self._left(a, b, w0, h0)
            free += [r for r in hollows if min(r) >= self.smallest]
        free.sort()
        return Stack(self.size, self.smallest, opened, tuple(free))

    def _left(self, a: int, b: int, w: int, h: int) -> list[Rect]:
        """Return what a board w x h leaves of a x b: the cut that keeps the larger rectangle whole."""
        right, top = a - w, b - h
        out = ((right, b), (w, top)) if right * b >= a * top else ((right, h), (a, top))
        return [r for r in out if min(r) >= self.smallest]

    def worth(self) -> float:
        """Return what the off-cuts may still give, in sheets."""
        long, high = self.size
        area = 0.0
        for a, b in self.free:
            area += a * b * math.sqrt(a / long) * (WORTH if b >= high * 0.99 else WORTH_LOW)
        return area / (long * high)


def least_sheets(boards: Sequence[tuple[Rect, tuple[Rect, ...]]], size: Rect, smallest: int) -> int:
    """Return how many sheets the boards take when they are cut in the order of their height, then length.

    >>> least_sheets([((10, 4), ()), ((6, 4), ()), ((4, 4), ())], (10, 4), 1)
    2
    """
    order = sorted(boards, key=lambda b: (-b[0][1], -b[0][0], b[1]))
    return Stack(size, smallest).cut(order).opened
