"""How much of the wall drains to an edge: the strip of wall above it, less what a roof keeps off, and what a roof pours.

Nothing is taken to soak up: wall sheds all, as glass and metal do.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from lapwright.continuity.model import DropRules
from lapwright.continuity.wall import Wall

POUR_M = 0.3  # a pour spreads a foot to each side; common practice


def drained(
    wall: Wall, ends: NDArray[np.float64], side: NDArray[np.bool_], rules: DropRules
) -> NDArray[np.float64]:
    """Return the area (m2) whose water passes each edge. ends: (n, 4) as x, y, x, y; side: which of them are sides,
    along which water comes from as far as it creeps."""
    mid = (ends[:, :2] + ends[:, 2:]) / 2
    width = np.where(side, rules.creep_m, np.abs(ends[:, 2] - ends[:, 0]))
    top = _top_over(wall, mid[:, 0]) - wall.eave_m  # an eave shades as far down as it hangs out, see build.eave_of
    area = width * np.maximum(_under_roofs(wall, mid, top) - mid[:, 1], 0.0)
    low, high = np.minimum(ends[:, 0], ends[:, 2]), np.maximum(ends[:, 0], ends[:, 2])
    for x, y, poured in wall.pours:  # all of it, on each edge that it passes
        area = area + np.where((low <= x + POUR_M) & (high >= x - POUR_M) & (mid[:, 1] < y), poured, 0.0)
    return area


def _under_roofs(
    wall: Wall, mid: NDArray[np.float64], tops: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return up to which height the wall drains to each edge: to its top, or to the roof against it that is in the way."""
    if wall.roofs.is_empty:
        return tops
    up = shapely.linestrings(np.stack([mid, np.column_stack([mid[:, 0], np.maximum(tops, mid[:, 1] + 1e-3)])], axis=1))
    low = shapely.bounds(shapely.intersection(up, wall.roofs))[:, 1]
    return np.where(np.isnan(low), tops, np.maximum(low, mid[:, 1]))


def _top_over(
    wall: Wall, xs: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the height of the wall's top over each x (the highest rim of its outline there)."""
    pts = np.array(wall.outline.exterior.coords)
    best = np.full(len(xs), -np.inf)
    for (x0, y0), (x1, y1) in zip(pts[:-1, :2], pts[1:, :2], strict=True):
        low, high = min(x0, x1), max(x0, x1)
        inside = (xs >= low - 1e-9) & (xs <= high + 1e-9)
        if high - low < 1e-9:
            best[inside] = np.maximum(best[inside], max(y0, y1))
        else:
            best[inside] = np.maximum(best[inside], y0 + (y1 - y0) * (xs[inside] - x0) / (x1 - x0))
    return best
