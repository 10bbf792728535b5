"""How many units pieces need because some of them cannot share one.

Two pieces can share a unit only if, for a way each may lie and a shift of one along the other, their slices find
room beside one another and both stay on the unit. Pieces of which no two can share a unit take a unit each. And
pieces that can share a unit with none of those take further units, as many as they need by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.cuts.barlp import bar_bound
from lapwright.cuts.bars import Item
from lapwright.cuts.mating import HAIR_M, Profile, profile, shifts

MOST_PIECES = 150  # pairs are looked at one by one


def together(a: Profile, b: Profile, length_m: float) -> bool:
    """Whether two pieces can lie on one unit of a length, b not turned."""
    if a.length + b.length <= length_m + HAIR_M:
        return True
    low, high = a.length - length_m - HAIR_M, length_m - b.length + HAIR_M
    return any(p <= high and q >= low for p, q in shifts(a, b))


def units_apart(items: Sequence[Item], length_m: float, width_m: float) -> int:
    """Return a number of units of a length and width that the pieces need at least; 0 where there are too many."""
    pieces = [item for item in items for _ in range(item.count)]
    if not pieces or len(pieces) > MOST_PIECES:
        return 0
    kinds = [[profile(way, width_m) for way in item.ways] for item in items]
    n = len(kinds)
    apart = np.zeros((n, n), dtype=bool)
    for i in range(n):
        for j in range(i, n):
            both = [(a, c) for a in kinds[i] for b in kinds[j] for c in (b, b.turned())]
            apart[i, j] = apart[j, i] = not any(together(a, b, length_m) for a, b in both)
    kind = [k for k, item in enumerate(items) for _ in range(item.count)]
    pairs = apart[np.ix_(kind, kind)]
    np.fill_diagonal(pairs, False)
    alone = _alone(pairs, [-max(sum(s.most * s.length_m for s in w.slices) for w in p.ways) for p in pieces])
    best = len(alone)
    seen: set[tuple[int, ...]] = set()
    for left_out in [None, *alone]:
        some = [k for k in alone if k != left_out]
        rest = [k for k in range(len(pieces)) if k not in some and pairs[k, some].all()]
        if len(rest) > 1 and tuple(rest) not in seen:
            seen.add(tuple(rest))
            least_m = bar_bound([Item(pieces[k].ways) for k in rest], width_m)
            best = max(best, len(some) + math.ceil(least_m / length_m - 1e-6))
    return best


def _alone(pairs: NDArray[np.bool_], order: Sequence[float]) -> list[int]:
    """Pieces of which no two can share a unit: the largest first, each that can share with none so far."""
    out: list[int] = []
    for k in sorted(range(len(order)), key=lambda k: (order[k], k)):
        if all(pairs[k, other] for other in out):
            out.append(k)
    return out
