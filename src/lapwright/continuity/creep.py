"""Inside a lap: water that crept in at a side runs down behind the outer sheet, and must come out again.

A side lap passes when the sheet behind it reaches farther than water creeps. That holds only as long as what lands on
the sheet behind also leaves it in the open: not where that sheet ends on the bare wall behind the outer one, and not
where something is stuck over the foot of the lap.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lapwright.continuity.drops import ROUNDING_M, follow, stack_at, thin
from lapwright.continuity.edges import HAIR_M
from lapwright.continuity.model import STICKS, DropRules, Edge, State
from lapwright.continuity.wall import Wall

GRID_M = 1e-3  # rims nearer to each other than this make one line; own choice, below any width that is cut
BIN_M = 0.1  # width of the columns in which places where water could stay are looked up; speed only


@dataclass(frozen=True)
class _Lap:
    """One side at which water may creep in, behind sheet `over`, between two plumb lines. stuck: whether glue keeps it out."""

    over: int
    left: float
    right: float
    stuck: bool


class _Spots:
    """Where water could stay: the lowest and the highest such place per column of the wall."""

    def __init__(self, edges: Sequence[Edge]) -> None:
        self.low: dict[int, float] = {}
        self.high: dict[int, float] = {}
        for e in edges:
            (ax, ay), (bx, by) = e.segment
            for k in range(math.floor(min(ax, bx) / BIN_M), math.floor(max(ax, bx) / BIN_M) + 1):
                self.low[k] = min(self.low.get(k, math.inf), ay, by)
                self.high[k] = max(self.high.get(k, -math.inf), ay, by)

    def below(self, left: float, right: float, y: float) -> bool:
        """Return whether one may lie below y between two plumb lines."""
        return any(self.low.get(k, math.inf) < y for k in _bins(left, right))

    def above(self, left: float, right: float, y: float) -> bool:
        """Return whether one may lie above y between two plumb lines."""
        return any(self.high.get(k, -math.inf) > y for k in _bins(left, right))


def _bins(left: float, right: float) -> range:
    return range(math.floor(left / BIN_M), math.floor(right / BIN_M) + 1)


def traps(wall: Wall, edges: Sequence[Edge], rules: DropRules) -> list[Edge]:
    """Return the edges, those sides weak that were shingled but let water creep to where it stays.

    Such a side relies on glue when that keeps the water out, else it is open; `spot` is where a drop got behind it,
    `by` the sheet it landed on, `trapped` the piece it stays behind.
    """
    blind = _Spots([e for e in edges if e.blind])
    feet = (e for e in edges if e.role == "drain" and e.by and not e.blind)
    sealed = _Spots([e for e in feet if wall.sheets[wall.index[e.by]].held in STICKS])
    asked = []
    for at, e in enumerate(edges):
        if e.role != "side" or e.state != "shingled" or not e.by:
            continue
        x, top = e.segment[0][0], max(e.segment[0][1], e.segment[1][1])
        reach = (x - rules.creep_m, x + rules.creep_m, top)
        # who is held by glue himself is asked only with the glue gone; a cover's own laps may be looser
        loose = wall.sheets[wall.index[e.piece]].held not in STICKS or wall.sheets[wall.index[e.by]].held not in STICKS
        if blind.below(*reach) or (loose and sealed.below(*reach)):
            asked.append(at)
    if not asked:
        return list(edges)
    mid = np.array([[sum(p[0] for p in edges[i].segment) / 2, sum(p[1] for p in edges[i].segment) / 2] for i in asked])
    out = np.array([_out(edges[i]) for i in asked])
    right, left = (wall.sheets_at(mid + np.array([[side * HAIR_M, 0.0]])) for side in (1, -1))
    rims = np.unique(np.round(np.concatenate([wall.sides.a[:, 0], wall.sides.b[:, 0]]) / GRID_M)) * GRID_M
    found = list(edges)
    for i, to, here, beyond in zip(asked, out.tolist(), left, right, strict=True):
        inside, outside = (here, beyond) if to > 0 else (beyond, here)
        lap = _lap(wall, edges[i], rules, inside, outside)
        if lap is not None:
            found[i] = _weak(wall, edges[i], lap, blind, sealed, rims)
    return found


def _out(e: Edge) -> int:
    """Return 1 for a side that faces to the right, -1 for one to the left: rings run with the sheet on their left."""
    return 1 if e.segment[1][1] > e.segment[0][1] else -1


def _weak(wall: Wall, e: Edge, lap: _Lap, blind: _Spots, sealed: _Spots, rims: NDArray[np.float64]) -> Edge:
    low, high = sorted((e.segment[0][1], e.segment[1][1]))
    state: State = "relies_on_glue" if lap.stuck else "open"
    for glue, spots in ((False, blind),) if lap.stuck else ((False, blind), (True, sealed)):
        if not spots.below(lap.left, lap.right, high):
            continue
        heights = (low + 2 * HAIR_M, high - 2 * HAIR_M) if spots.above(lap.left, lap.right, low) else (low + 2 * HAIR_M,)
        for x, y in itertools.product(_lines(lap, rims), heights):
            if thin(wall, x, y):  # a slit has no width: what is asked lies below it
                y -= 2 * ROUNDING_M
                if y <= low or thin(wall, x, y):
                    continue
            stack = stack_at(wall, x, y)
            at = stack.index(lap.over) if lap.over in stack else 0
            if at == 0:
                continue
            path = follow(wall, x, y, stack[at - 1], glue)
            if path.ends == "trapped":
                on = wall.sheets[stack[at - 1]].id
                return replace(e, state=state, spot=(x, y), by=on, trapped=path.piece or "the bare wall", crept=True)
    return e


def _lap(wall: Wall, e: Edge, rules: DropRules, inside: Sequence[int], outside: Sequence[int]) -> _Lap | None:
    """Return how water may creep past this side: behind its own sheet, or past it behind what covers it.

    inside, outside: the sheets a hair to either side of it.
    """
    n, out = wall.index[e.piece], _out(e)
    x, y = (e.segment[0][0] + e.segment[1][0]) / 2, (e.segment[0][1] + e.segment[1][1]) / 2
    stack = wall.stacked(inside, x - out * HAIR_M, y)
    at = stack.index(n) if n in stack else 0
    under = [k for k in stack[:at] if k in outside]
    covers = [k for k in stack[at + 1 :] if k in outside]
    if not under:
        return None
    if covers:  # from the near side of what covers it, over its own face
        over, to, from_x = covers[0], out, x + out * HAIR_M
        reach = rules.creep_m - wall.exit(over, x - out * HAIR_M, y, -out, 0.0)
        stuck = wall.stuck(over, n, x, y)
    else:
        over, to, from_x, reach = n, -out, x - out * HAIR_M, rules.creep_m
        stuck = wall.stuck(n, under[-1], x, y)
    reach = min(reach, wall.exit(over, from_x, y, to, 0.0)) if reach > GRID_M else 0.0
    left, right = sorted((x, x + to * reach))
    return _Lap(over, left, right, stuck) if reach > GRID_M else None


def _lines(lap: _Lap, rims: NDArray[np.float64]) -> Iterator[float]:
    """Yield one plumb line between each two rims within reach."""
    a, b = np.searchsorted(rims, (lap.left + GRID_M, lap.right - GRID_M))
    for low, high in itertools.pairwise([lap.left, *rims[a:b].tolist(), lap.right]):
        yield (low + high) / 2
