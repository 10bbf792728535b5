"""Where a drop goes: straight down through the stack of sheets, from the face it runs on.

The path is followed along one vertical line. Between two rims the stack does not change; at each rim a sheet
begins or ends, and the drop stays on the face it runs on, passes behind what begins over it, falls to the
sheet beneath when its own ends.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import shapely

from lapwright.continuity.wall import Wall

STEP_M = 2e-4


@dataclass(frozen=True)
class Path:
    """How a drop ended: `out` at the foot of the wall or on an outer face again (below which piece), or `trapped`
    (behind which piece, "" = on the bare wall). y: where."""

    ends: str  # out | trapped
    piece: str
    y: float


def rims_on(wall: Wall, x: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return the heights at which sheets' rims cross the vertical line at x, from the top down."""
    _x0, y0, _x1, y1 = wall.outline.bounds
    line = shapely.LineString([(x, y0 - 1), (x, y1 + 1)])
    near = wall.tree.query(line)
    ys: list[float] = [y1, y0]
    for n in near.tolist():
        hit = shapely.intersection(wall.shapes[n].boundary, line)
        if not hit.is_empty:
            ys += shapely.get_coordinates(hit)[:, 1].tolist()
    return np.unique(np.round(np.array(ys), 6))[::-1]


def follow(wall: Wall, x: float, y: float, on: int | None) -> Path:
    """Follow a drop from (x, y) down, running on the outer face of sheet `on` (None: on the bare wall).

    Returns where it comes out: at the foot of the wall, or as soon as it runs on an outermost face again.
    """
    rims = rims_on(wall, x)
    foot = wall.outline.bounds[1]
    last = wall.sheets[on].id if on is not None else ""
    for top, low in itertools.pairwise(rims):
        if low >= y - 1e-9 or top - low < 1e-6:
            continue
        here = min(y, float(top))
        middle = (here + float(low)) / 2
        found = wall.sheets_at(np.array([[x, middle]]))[0]
        stack = wall.stacked(found, x, middle)
        if on is not None and on not in stack:  # its sheet ended: it falls to what lay beneath
            below = [k for k in stack if wall.over(on, k, x, here + STEP_M)] if stack else []
            on = below[-1] if below else None
        if on is None:
            if not stack:
                if not wall.outline.buffer(1e-6).covers(shapely.Point(x, middle)):
                    return Path("out", "", middle)
                continue
            return Path("trapped", wall.sheets[stack[-1]].id, middle)
        last = wall.sheets[on].id
        if stack and stack[-1] == on and here < y - 1e-9:
            return Path("out", last, here)
    return Path("out", last, foot)
