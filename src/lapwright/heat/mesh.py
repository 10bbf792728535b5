"""Grids for sections: lines at every edge of every block, finer towards the edges, where heat bends."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from lapwright.heat.section import Air, Block, Section

SAME_M = 1e-7  # edges nearer than this are one line


def lines(edges: Iterable[float], first_m: float, growth: float, most_m: float) -> NDArray[np.float64]:
    """Return grid lines through `edges`, graded.

    edges: coordinates in metres, at least two different ones. Beside each edge the cells are `first_m` wide or
    narrower, grow by `growth` (at least 1) from one to the next, and stay under `most_m`.

    >>> [round(float(x), 3) for x in lines([0.0, 1.0], 0.1, 2.0, 1.0)]
    [0.0, 0.1, 0.3, 0.7, 0.9, 1.0]
    """
    known = sorted(edges)
    marks = [known[0]]
    for e in known[1:]:
        if e - marks[-1] > SAME_M:
            marks.append(e)
    if len(marks) < 2:
        raise ValueError("a grid needs two different edges")
    out = [np.array(marks[:1])]
    for a, b in pairwise(marks):
        steps = _steps(b - a, first_m, growth, most_m)
        out.append(a + np.cumsum(steps))
        out[-1][-1] = b
    return np.concatenate(out)


def _steps(length: float, first: float, growth: float, most: float) -> NDArray[np.float64]:
    """Return widths that fill `length`, small at both ends: a geometric series from each end to the middle."""
    half, size, total = [], min(first, most), 0.0
    while total < length / 2:
        half.append(size)
        total += size
        size = min(size * growth, most)
    over = total - length / 2
    if over >= half[-1] / 2 and len(half) > 1:  # one cell in the middle instead of two
        middle = 2 * (half[-1] - over)
        sides = half[:-1]
        steps = np.array([*sides, middle, *reversed(sides)])
    else:
        steps = np.array([*half, *reversed(half)])
    steps = np.asarray(steps * (length / steps.sum()), dtype=np.float64)
    return steps


def grid(section: Section, first_m: float, growth: float = 1.4, most_m: float = 0.05) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the grid lines of a section along x and along y, metres."""
    boxes: list[Block | Air] = [*section.blocks, *section.airs]
    xs = lines([v for b in boxes for v in (b.x0, b.x1)], first_m, growth, most_m)
    ys = lines([v for b in boxes for v in (b.y0, b.y1)], first_m, growth, most_m)
    return xs, ys


def halved(at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the lines with one more in the middle of every cell."""
    out = np.empty(2 * len(at) - 1)
    out[::2] = at
    out[1::2] = (at[1:] + at[:-1]) / 2
    return out


def sized(section: Section, cells: int, growth: float = 1.4) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the finest grid of a family (first cell from 32 mm down by thirds) with no more than `cells` cells.

    The coarsest grid is returned where even that has more.
    """
    first = 0.032
    best = grid(section, first, growth)
    for _ in range(40):
        first /= 2 ** (1 / 3)
        finer = grid(section, first, growth)
        if (len(finer[0]) - 1) * (len(finer[1]) - 1) > cells or math.isclose(first, 0.0):
            return best
        best = finer
    return best
