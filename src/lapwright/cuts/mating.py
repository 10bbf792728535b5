"""How much length wide pieces can save by reaching into one another, at most.

The bar relaxation lets the end of one wide piece lie in slices beside many others. In truth an end can mate with
one other end only. Why the sum below is a bound:

A wide piece has a *core*: from the first to the last place where one solid part is higher than half the stock.
Where two cores lie at the same place along the roll, two such parts would lie side by side, so cores never meet
and stand in a row. For every two pieces and every shift of one along the other it is looked up whether their
slices could lie beside one another; if no possible shift lets a piece reach past the whole core of the other
(`Reach.proper`), then pieces that overlap are neighbors in the row: whoever stands between them has a core that
ends beyond both, so that its core lies there too, and at most one core lies at one place. Every place thus has
as many pieces too many as there are pairs of neighbors that overlap there, and the length saved is at most the
sum of the overlaps of neighbors. Each end of a piece has one neighbor, so this is a matching of ends, and its
linear relaxation is no smaller.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from lapwright.cuts.sections import Sections
from lapwright.cuts.solver import quiet_highs

TINY_M = 1e-6
HAIR_M = 1e-5
THIN_M = 1e-3  # parts thinner than this are no material, see `bars`

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Profile:
    """A piece along the roll: edges of its slices, their largest solid part and largest free room, its core."""

    edges: Floats
    most: Floats
    room: Floats
    core: tuple[float, float] | None

    @property
    def length(self) -> float:
        """Length along the roll in metres."""
        return float(self.edges[-1])

    def turned(self) -> Profile:
        """The same, end for end."""
        core = None if self.core is None else (self.length - self.core[1], self.length - self.core[0])
        return Profile(self.length - self.edges[::-1], self.most[::-1], self.room[::-1], core)


def profile(way: Sections, width_m: float) -> Profile:
    """Return what of a flat matters beside another one on stock of a width."""
    edges = np.array([0.0, *accumulate(s.length_m for s in way.slices)])
    most = np.array([s.most for s in way.slices])
    room = np.array([max((width_m - s.extent_m, *s.gaps)) for s in way.slices])
    high = np.flatnonzero(most > width_m / 2 + TINY_M)
    core = (float(edges[high[0]]), float(edges[high[-1] + 1])) if len(high) else None
    return Profile(edges, most, room, core)


def shifts(a: Profile, b: Profile) -> list[tuple[float, float]]:
    """Return the shifts of b along a, as closed stretches, at which the two share a place and may lie beside one another.

    A shift is where b begins, seen from where a begins. Slices may share a place when the largest solid part of
    each finds room beside or inside the other one.
    """
    clash = (a.most[:, None] > b.room[None, :] + TINY_M) | (b.most[None, :] > a.room[:, None] + TINY_M)
    i, j = np.nonzero(clash)
    # what just fits fits: a hair less than where the two slices overlap
    low, high = a.edges[i] - b.edges[j + 1] + HAIR_M, a.edges[i + 1] - b.edges[j] - HAIR_M
    out: list[tuple[float, float]] = []
    at = -b.length + 2 * HAIR_M
    for k in np.argsort(low, kind="stable"):
        if low[k] >= at:
            out.append((at, float(low[k])))
        at = max(at, float(high[k]))
    if a.length - 2 * HAIR_M >= at:
        out.append((at, a.length - 2 * HAIR_M))
    return out


@dataclass(frozen=True)
class Reach:
    """How far two pieces can overlap: behind (b after a) and before, in metres; proper: see above."""

    behind: float = 0.0
    before: float = 0.0
    proper: bool = True


def reach(a: Profile, b: Profile, stretches: Sequence[tuple[float, float]]) -> Reach:
    """Return how far b, not turned, can overlap a, from the shifts that are possible."""
    behind = before = 0.0
    near = 3 * HAIR_M
    for low, high in stretches:
        if a.core is None or b.core is None:
            return Reach(proper=False)
        # b's core behind a's, and neither piece over the whole core of the other; or the other way round
        first = b.core[0] + low >= a.core[1] - near
        last = b.core[1] + high <= a.core[0] + near
        if first and b.core[1] + low > a.length + near and low > a.core[0] + near:
            behind = max(behind, a.length - low)
        elif last and b.core[0] + high < -near and high + b.length < a.core[1] - near:
            before = max(before, high + b.length)
        else:
            return Reach(proper=False)
    return Reach(behind, before)


def meetings(pieces: Sequence[tuple[Sections, int]], width_m: float) -> tuple[NDArray[np.bool_], float]:
    """Return which slices of wide pieces (each with its count) can lie beside which, and the most length saved.

    Slices are numbered through all pieces. Every piece may be turned end for end. The length is inf where it is
    not known.
    """
    profiles = [profile(way, width_m) for way, _ in pieces]
    starts = [0, *accumulate(len(p.most) for p in profiles)]
    meets = np.zeros((starts[-1], starts[-1]), dtype=bool)
    least = min((float(p.most.min()) for p in profiles), default=0.0)
    able = [n for n, p in enumerate(profiles) if float(p.room.max()) >= max(least, THIN_M) - TINY_M]
    pairs: dict[tuple[tuple[int, int], tuple[int, int]], float] = defaultdict(float)
    proper = True
    for at, n in enumerate(able):
        a = profiles[n]
        for m in able[at:]:
            if n == m and pieces[n][1] < 2:
                continue
            for turned in (False, True):
                b = profiles[m].turned() if turned else profiles[m]
                stretches = shifts(a, b)
                if not stretches:
                    continue
                beside = np.zeros((len(a.most), len(b.most)), dtype=bool)
                for low, high in stretches:
                    beside |= (a.edges[:-1, None] - b.edges[None, 1:] < high) & (
                        a.edges[1:, None] - b.edges[None, :-1] > low
                    )
                beside &= (a.room[:, None] >= THIN_M - TINY_M) & (b.room[None, :] >= THIN_M - TINY_M)
                if turned:
                    beside = beside[:, ::-1]
                meets[starts[n] : starts[n + 1], starts[m] : starts[m + 1]] |= beside
                meets[starts[m] : starts[m + 1], starts[n] : starts[n + 1]] |= beside.T
                got = reach(a, b, stretches)
                proper &= got.proper
                # the ends that meet: 0 is the left one, 1 the right one
                for end, other, saved in ((1, 0, got.behind), (0, 1, got.before)):
                    if saved > 3 * HAIR_M:
                        key = ((n, end), (m, 1 - other if turned else other))
                        pairs[key] = max(pairs[key], saved)
    return meets, _matching(pairs, [count for _, count in pieces]) if proper else math.inf


def _matching(pairs: dict[tuple[tuple[int, int], tuple[int, int]], float], counts: Sequence[int]) -> float:
    """Most weight of pairs when every end is used as often as there are pieces of it; a linear relaxation."""
    if not pairs:
        return 0.0
    ends = sorted({end for pair in pairs for end in pair})
    row = {end: k for k, end in enumerate(ends)}
    lp = quiet_highs()
    n = len(ends)
    none = np.empty(0, dtype=np.int32)
    upper = np.array([float(counts[piece]) for piece, _ in ends])
    lp.addRows(n, np.full(n, -math.inf), upper, 0, np.zeros(n, dtype=np.int32), none, np.empty(0))
    index: list[int] = []
    value: list[float] = []
    starts: list[int] = []
    for p, q in pairs:
        starts.append(len(index))
        index += [row[p], row[q]] if p != q else [row[p]]
        value += [1.0, 1.0] if p != q else [2.0]
    m = len(pairs)
    lp.addCols(
        m,
        -np.array(list(pairs.values())),
        np.zeros(m),
        np.full(m, math.inf),
        len(index),
        np.array(starts, dtype=np.int32),
        np.array(index, dtype=np.int32),
        np.array(value),
    )
    lp.run()
    # a millionth more: what the solver may be off by
    return -float(lp.getObjectiveValue()) * (1 + 1e-6) + TINY_M
