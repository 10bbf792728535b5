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
ROUNDING_M = 1e-3  # what the grid of 0.1 mm can do along a slope, generously


@dataclass(frozen=True)
class Path:
    """How a drop ended: `out` at the foot of the wall or on an outer face again (below which piece), or `trapped`
    (behind which piece, "" = on the bare wall). y: where."""

    ends: str  # out | trapped
    piece: str
    y: float


class Column:
    """The sheets along one vertical line: rims from the top, and the stack between two rims, worked out when asked."""

    def __init__(self, wall: Wall, x: float) -> None:
        self.wall, self.x = wall, x
        _, y0, _, y1 = wall.outline.bounds
        owner, lows, highs = wall.sides.heights_at(x)
        thick = highs - lows > STEP_M
        self.spans = list(zip(lows[thick].tolist(), highs[thick].tolist(), owner[thick].tolist(), strict=True))
        heights = np.concatenate([lows[thick], highs[thick]])
        self.rims = sorted({*np.round(heights, 6).tolist(), y0, y1}, reverse=True)
        self._stacks: dict[float, list[int]] = {}

    def stack(self, top: float, y: float) -> list[int]:
        """Return the sheets at height y, from the wall outwards; top: the rim above, where the stack is remembered."""
        if top not in self._stacks:
            self._stacks[top] = self.wall.stacked((k for a, b, k in self.spans if a < y < b), self.x, y)
        return self._stacks[top]


def _column(wall: Wall, x: float) -> Column:
    found = wall.columns.get(x)
    if found is None:
        found = wall.columns[x] = Column(wall, x)
    return found


def _free(wall: Wall, x: float, y: float) -> bool:
    """Return whether a drop is out at a spot: off the wall, on a roof, or on what stands out from the wall."""
    return not shapely.intersects_xy(wall.outline, x, y) or any(
        shapely.intersects_xy(area, x, y) for area in (wall.roofs, wall.bodies)
    )


def stack_at(wall: Wall, x: float, y: float) -> list[int]:
    """Return the sheets at a spot, from the wall outwards."""
    rims = _column(wall, x).rims
    below = next((i for i, rim in enumerate(rims) if rim < y), 0)
    return _column(wall, x).stack(rims[below - 1], (rims[below - 1] + rims[below]) / 2) if below else []


def thin(wall: Wall, x: float, y: float) -> bool:
    """Return whether a spot lies between two rims nearer than the drawings are true: in the drawn width of a slit."""
    rims = _column(wall, x).rims
    below = next((i for i, rim in enumerate(rims) if rim < y), 0)
    return below > 0 and rims[below - 1] - rims[below] <= ROUNDING_M + 1e-6


def follow(wall: Wall, x: float, y: float, on: int | None, glue: bool = False) -> Path:
    """Follow a drop from (x, y) down, running on the outer face of sheet `on` (None: on the bare wall).

    glue: whether what is stuck holds; else all of it has let go. Returns where the drop comes out: at the foot of the
    wall, or as soon as it runs on an outermost face again.
    """
    column = _column(wall, x)
    foot = wall.outline.bounds[1]
    last = wall.sheets[on].id if on is not None else ""
    before: list[int] = []
    for top, low in itertools.pairwise(column.rims):
        if low >= y - 1e-9 or top - low < 1e-6:
            continue
        here = min(y, top)
        middle = (top + low) / 2
        stack = column.stack(top, middle)
        if glue and before and on in before:
            nearest = before[before.index(on) + 1 :][:1]
            if nearest and nearest[0] not in stack and wall.stuck(nearest[0], on, x, here + STEP_M):
                return Path("trapped", wall.sheets[nearest[0]].id, here)  # the foot of what it runs behind is stuck down
        if on is not None and on not in stack:  # its sheet ended: it falls to what lay beneath
            below = [k for k in stack if wall.over(on, k, x, here + STEP_M)]
            on = below[-1] if below else None
        if on is None:
            if stack and shapely.intersects_xy(wall.pans, x, middle):
                return Path("out", wall.sheets[stack[-1]].id, middle)  # out over the pan
            # down to a roof or off the wall within the rounding of the drawings: sheets that end there are no trap
            near = _free(wall, x, low - ROUNDING_M)
            if stack and near and middle - low < ROUNDING_M:
                return Path("out", wall.sheets[stack[-1]].id, middle)
            if stack:
                return Path("trapped", wall.sheets[stack[-1]].id, middle)
            if _free(wall, x, middle):
                return Path("out", "", middle)
            continue
        if glue and before:
            for k in stack[stack.index(on) + 1 :]:  # over the top of what begins here and is stuck onto its face
                if k in before or not wall.stuck(k, on, x, middle):
                    break
                on = k
        last = wall.sheets[on].id
        if stack and stack[-1] == on and here < y - 1e-9:
            return Path("out", last, here)
        if top - low >= ROUNDING_M:  # what begins and ends within the rounding of the drawings changes nothing
            before = stack
    return Path("out", last, foot)
