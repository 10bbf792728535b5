"""Where a drop goes: straight down through the stack of sheets, from the face it runs on.

The path is followed along one vertical line. Between two rims the stack does not change; at each rim a sheet
begins or ends, and the drop stays on the face it runs on, passes behind what begins over it, falls to the
sheet beneath when its own ends.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import shapely

from lapwright.continuity.wall import Wall

STEP_M = 2e-4
ROUNDING_M = 1e-3  # what the grid of 0.1 mm can do along a slope, generously


@dataclass(frozen=True)
class Path:
    """How a drop ended: `out` at the foot of the wall or on an outer face again (below which piece), or `trapped`
    (behind which piece, "" = on the bare wall). y: where."""

    ends: str  # out | trapped
    piece: str
    y: float


def spans_on(wall: Wall, x: float) -> tuple[list[tuple[float, float, int]], list[float]]:
    """Return (low, high, sheet) of every stretch of the vertical line at x that a sheet covers, and all rims, from the top."""
    _, y0, _, y1 = wall.outline.bounds
    owner, lows, highs = wall.sides.heights_at(x)
    spans = [
        (low, high, k)
        for k, low, high in zip(owner.tolist(), lows.tolist(), highs.tolist(), strict=True)
        if high - low > STEP_M
    ]
    rims = {round(v, 6) for low, high, _ in spans for v in (low, high)} | {y0, y1}
    return spans, sorted(rims, reverse=True)


def follow(wall: Wall, x: float, y: float, on: int | None) -> Path:
    """Follow a drop from (x, y) down, running on the outer face of sheet `on` (None: on the bare wall).

    Returns where it comes out: at the foot of the wall, or as soon as it runs on an outermost face again.
    """
    spans, rims = spans_on(wall, x)
    foot = wall.outline.bounds[1]
    last = wall.sheets[on].id if on is not None else ""
    for top, low in itertools.pairwise(rims):
        if low >= y - 1e-9 or top - low < 1e-6:
            continue
        here = min(y, top)
        middle = (here + low) / 2
        stack = wall.stacked((k for a, b, k in spans if a < middle < b), x, middle)
        if on is not None and on not in stack:  # its sheet ended: it falls to what lay beneath
            below = [k for k in stack if wall.over(on, k, x, here + STEP_M)]
            on = below[-1] if below else None
        if on is None:
            if stack and shapely.intersects_xy(wall.pans, x, middle):
                return Path("out", wall.sheets[stack[-1]].id, middle)  # out over the pan
            # down to a roof or off the wall within the rounding of the drawings: sheets that end there are no trap
            near = shapely.intersects_xy(wall.roofs, x, low - ROUNDING_M) or not shapely.intersects_xy(wall.outline, x, low - ROUNDING_M)
            if stack and near and middle - low < ROUNDING_M:
                return Path("out", wall.sheets[stack[-1]].id, middle)
            if stack:
                return Path("trapped", wall.sheets[stack[-1]].id, middle)
            if not shapely.intersects_xy(wall.outline, x, middle) or shapely.intersects_xy(wall.roofs, x, middle):
                return Path("out", "", middle)
            continue
        last = wall.sheets[on].id
        if stack and stack[-1] == on and here < y - 1e-9:
            return Path("out", last, here)
    return Path("out", last, foot)
