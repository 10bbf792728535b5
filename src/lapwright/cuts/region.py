"""Pieces side by side and one after another into as little length of stock as possible.

The skyline: always the lowest place, and there the piece that wastes least of the gap. What can still be put
beside a piece is looked up in a table of the heights that remain. The notches of a piece are filled at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.cuts.fill import Kinds, fill
from lapwright.cuts.shapes import Rect
from lapwright.cuts.space import Lie, take_all

GRAIN = 10  # the table of sums works in millimetres

Floats = NDArray[np.float64]


class Region:
    """What stays the same while kinds are laid again and again on stock of one width."""

    def __init__(self, kinds: Kinds, width: int) -> None:
        self.width = width
        self.w = kinds.w.astype(float)
        self.h = kinds.h.astype(float)
        self.beside = reachable(kinds.h.tolist(), width)
        self.notches = [_notches(kinds, row) for row in range(len(kinds.kind))]

    def skyline(self, kinds: Kinds, longest: int, rate: float, liking: Floats | None = None) -> list[Lie]:
        """Lay kinds from 0 on, up to `longest` along; return where they went. What does not fit stays.

        rate: how much the area of a piece counts against the room it wastes (about 0.2 to 1); liking: a factor
        on it for each row of kinds, to get another of the many packings.
        """
        liked = self.h * (rate if liking is None else rate * liking)
        line: list[tuple[int, int, int]] = [(0, 0, self.width)]  # (x reached, y0, y1), from low y to high
        laid: list[Lie] = []
        waiting = int(sum(len(w) for w in kinds.waiting))
        while len(laid) < waiting:
            k = min(range(len(line)), key=lambda i: (line[i][0], line[i][1]))
            x, y0, y1 = line[k]
            pick = self._pick(kinds, y1 - y0, longest - x, liked)
            if pick is None:
                sides = [line[i][0] for i in (k - 1, k + 1) if 0 <= i < len(line)]
                if not sides:
                    break
                line[k] = (min(sides), y0, y1)
            else:
                w, h = int(kinds.w[pick]), int(kinds.h[pick])
                # against the side that reaches farther, so that the rest of the gap stays open
                low = line[k - 1][0] if k else longest + 1
                high = line[k + 1][0] if k + 1 < len(line) else longest + 1
                y = y0 if low >= high else y1 - h
                laid.append(Lie(kinds.pop(pick), x, y, int(kinds.degrees[pick])))
                if self.notches[pick]:
                    free = [(a + x, b + y, c + x, d + y) for a, b, c, d in self.notches[pick]]
                    laid += fill([free], kinds)[0]
                new = [(x, y0, y), (x + w, y, y + h), (x, y + h, y1)]
                line[k : k + 1] = [s for s in new if s[2] > s[1]]
            line = _joined(line)
        return laid

    def _pick(self, kinds: Kinds, gap: int, room: int, liked: Floats) -> int | None:
        """Return the row of the piece that wastes least of a gap, for its size."""
        rest = gap - self.h
        cost = (rest - self.beside[np.maximum(rest, 0).astype(np.int64) // GRAIN] - liked) * self.w
        cost[(rest < 0) | (self.w > room) | (kinds.count == 0)] = np.inf
        pick = int(cost.argmin())
        return pick if cost[pick] < np.inf else None


def _notches(kinds: Kinds, row: int) -> list[Rect]:
    shape = kinds.waiting[kinds.kind[row]][-1]
    if shape.full:
        return []
    w, h = int(kinds.w[row]), int(kinds.h[row])
    return take_all([(0, 0, w, h)], shape.solids_at(0, 0, int(kinds.degrees[row])), kinds.least)


def reachable(heights: Iterable[int], width: int) -> Floats:
    """For every whole millimetre of gap: the largest sum of heights that fits, in units.

    >>> reachable([300], 1000)[[25, 95, 99]].tolist()
    [0.0, 900.0, 900.0]
    """
    top = width // GRAIN
    bits, mask = 1, (1 << (top + 1)) - 1
    for size in sorted({-(-h // GRAIN) for h in heights}):
        step = size
        while step <= top:  # one, two, four ... more of them
            bits |= bits << step & mask
            step *= 2
    made = np.array([bits >> c & 1 for c in range(top + 1)], dtype=bool)
    return np.maximum.accumulate(np.where(made, np.arange(top + 1) * float(GRAIN), 0.0))


def _joined(line: Sequence[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    out: list[tuple[int, int, int]] = []
    for x, y0, y1 in line:
        if out and out[-1][0] == x:
            out[-1] = (x, out[-1][1], y1)
        else:
            out.append((x, y0, y1))
    return out
