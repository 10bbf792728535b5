"""One-dimensional packing: whole sizes into equal bins, with a bound that no packing can beat."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from lapwright.cuts.columns import ROUND_EPS, Master, dive, full_columns
from lapwright.cuts.completion import complete

# Work limits, from runs on the published sets: more changes nothing there.
FIRST_LOOK = 1000  # fillings tried before the linear program is set up
LONG_LOOK = 5000  # the same where the capacity is fine and sums take long to set up
DIVE_LOOK = 600  # fillings tried for each rest of a dive
ROUNDS = 100  # rounds of column generation
FINE = 8000  # units of capacity up to which sums are quick to set up
MOST_CAPACITY = 5000  # units of capacity up to which the knapsack works on the sizes as they are
COARSE = 1000  # units of capacity that it works on otherwise


@dataclass(frozen=True)
class Bins:
    """bins: item numbers per bin; bound: no packing needs fewer bins; proven: len(bins) == bound."""

    bins: tuple[tuple[int, ...], ...]
    bound: int

    @property
    def proven(self) -> bool:
        """True when no packing needs fewer bins."""
        return len(self.bins) == self.bound


def l2_bound(sizes: Sequence[int], capacity: int) -> int:
    """Return the bound L2 of Martello and Toth (Discrete Applied Mathematics 28, 1990).

    sizes: whole numbers, 0 < size <= capacity. For every threshold a <= capacity / 2: items above
    capacity - a fill a bin alone; those above capacity / 2 need one bin each; what is left of the items
    from a up has to go into the room beside the latter.

    >>> l2_bound([6, 6, 6, 4], 10)
    3
    """
    ordered = sorted(sizes, reverse=True)
    best = -(-sum(ordered) // capacity)
    for a in {0, *(s for s in ordered if 2 * s <= capacity)}:
        alone = sum(1 for s in ordered if s > capacity - a)
        big = [s for s in ordered if 2 * s > capacity and s <= capacity - a]
        small = sum(s for s in ordered if 2 * s <= capacity and s >= a)
        room = len(big) * capacity - sum(big)
        best = max(best, alone + len(big) + max(0, -(-(small - room) // capacity)))
    return best


def best_fit_decreasing(sizes: Sequence[int], capacity: int) -> list[list[int]]:
    """Return item numbers per bin: largest first, each into the fullest bin that takes it."""
    room: list[int] = []
    bins: list[list[int]] = []
    for i in sorted(range(len(sizes)), key=lambda k: (-sizes[k], k)):
        fits = [(room[b], b) for b in range(len(room)) if room[b] >= sizes[i]]
        if fits:
            _, b = min(fits)
        else:
            b = len(room)
            room.append(capacity)
            bins.append([])
        room[b] -= sizes[i]
        bins[b].append(i)
    return bins


def dual_bound(sizes: Sequence[int], capacity: int, most: int = 12) -> int:
    """Return the bound of Fekete and Schepers (Mathematical Programming 91, 2001) by dual feasible functions.

    u_k takes x = size / capacity to floor((k + 1) x) / k (x itself when (k + 1) x is whole): sizes that fit k
    times but not k + 1 times count 1 / k. Before it, for a threshold e, sizes above 1 - e count as 1 and sizes
    below e as 0. k = 1..most; thresholds at the sizes there are.

    >>> dual_bound([4, 4, 4, 4, 4], 10), dual_bound([34, 35, 36, 37], 100)
    (3, 2)
    """
    w, count = np.unique(np.asarray(sizes, dtype=np.int64), return_counts=True)
    best = 0
    e = np.concatenate(([0], w[2 * w <= capacity]))[:, None]
    cut = np.where(w > capacity - e, capacity, np.where(w >= e, w, 0))
    for k in range(1, most + 1):
        scaled = (k + 1) * cut
        worth = np.where(scaled % capacity == 0, k * cut, capacity * (scaled // capacity))
        total = int((worth @ count).max())
        best = max(best, -(-total // (k * capacity)))
    return best


def pack_bins(sizes: Sequence[int], capacity: int, effort: int = 6) -> Bins:
    """Pack whole sizes into as few bins of `capacity` as possible. ValueError for a size outside 1..capacity.

    Best fit decreasing, then bins filled one by one with a look back, then the cutting-stock program with
    `effort` dives per number of bins; each only while the bound is not reached. Work limits only: the same
    input gives the same bins.

    >>> pack_bins([6, 6, 4, 4, 3, 3, 2, 2], 10).bins
    ((0, 2), (1, 3), (4, 5, 6, 7))
    """
    for i, s in enumerate(sizes):
        if not 0 < s <= capacity:
            raise ValueError(f"size {i} is {s}, not in 1..{capacity}")
    order = sorted(range(len(sizes)), key=lambda i: (-sizes[i], i))
    found = _packed(tuple(sizes[i] for i in order), capacity, effort)
    return _done([[order[k] for k in b] for b in found.bins], found.bound)


@lru_cache(maxsize=64)  # a bound asks for what the packing has just found out
def _packed(sizes: tuple[int, ...], capacity: int, effort: int) -> Bins:
    if not sizes:
        return Bins((), 0)
    scale = math.gcd(capacity, *sizes)
    sizes, capacity = tuple(s // scale for s in sizes), capacity // scale
    bins = best_fit_decreasing(sizes, capacity)
    bound = max(l2_bound(sizes, capacity), dual_bound(sizes, capacity))
    if len(bins) > bound:
        distinct, counts = _counted(sizes)
        fillings = None
        if capacity > FINE:  # first with sizes rounded up to coarser units: quick, and nearly as good
            unit = -(-capacity // FINE)
            up = [-(-s // unit) for s in sizes]
            coarse, many = _counted(up)
            if coarse[0] <= capacity // unit:
                fillings = complete(coarse, many, capacity // unit, bound, FIRST_LOOK)
        if fillings is not None:
            return _done(_named(fillings, coarse, up), bound)
        fillings = complete(distinct, counts, capacity, bound, FIRST_LOOK if capacity <= FINE else LONG_LOOK)
        if fillings is not None:
            bins = _named(fillings, distinct, sizes)
        elif capacity <= MOST_CAPACITY:
            bins, low = _by_columns(sizes, capacity, bound, bins, effort)
            bound = max(bound, low)
        else:
            unit = -(-capacity // COARSE)
            down = [s // unit for s in sizes if s >= unit]  # rounded down: needs no more bins
            bound = max(bound, _program_bound(down, capacity // unit))
            up = [-(-s // unit) for s in sizes]  # rounded up: what fits so fits
            if max(up) <= capacity // unit:
                bins, _ = _by_columns(up, capacity // unit, bound, bins, effort)
    return _done(bins, bound)


def _done(bins: list[list[int]], bound: int) -> Bins:
    return Bins(tuple(tuple(sorted(b)) for b in sorted(bins, key=min)), bound)


def _by_columns(
    sizes: Sequence[int], capacity: int, least: int, bins: list[list[int]], effort: int
) -> tuple[list[list[int]], int]:
    """Better bins than `bins` (or those), and the program's bound."""
    distinct, counts = _counted(sizes)
    master = Master(distinct, counts, capacity)
    at = {s: k for k, s in enumerate(distinct)}
    known = [[at[sizes[i]] for i in b] for b in bins if sum(sizes[i] for i in b) <= capacity]
    if len(known) < len(bins):  # rounding up broke some: start from one size a bin
        known = [[k] for k in range(len(distinct))]
    master.add([np.bincount(row, minlength=len(distinct)).astype(np.int64) for row in known])
    master.add(full_columns(distinct, counts, capacity, 6))
    _, low, _ = master.generate(ROUNDS, least)
    bound = math.ceil(low - ROUND_EPS)
    for target in range(max(least, bound), len(bins)):
        for salt in range(effort):
            master.lean(salt)
            fillings = dive(master, target, ROUNDS, DIVE_LOOK)
            if fillings is not None:
                return _named(fillings, distinct, sizes), bound
    return bins, bound


def _program_bound(sizes: Sequence[int], capacity: int) -> int:
    distinct, counts = _counted(sizes)
    master = Master(distinct, counts, capacity)
    master.add(list(np.eye(len(distinct), dtype=np.int64)))
    _, low, _ = master.generate(ROUNDS)
    return math.ceil(low - ROUND_EPS)


def _counted(sizes: Sequence[int]) -> tuple[list[int], list[int]]:
    counted = Counter(sizes)
    distinct = sorted(counted, reverse=True)
    return distinct, [counted[s] for s in distinct]


def _named(
    fillings: Sequence[Sequence[int]], distinct: Sequence[int], sizes: Sequence[int]
) -> list[list[int]]:
    """Give the fillings (positions in `distinct`) the numbers of the items, in order."""
    waiting: dict[int, list[int]] = {s: [] for s in distinct}
    for i in range(len(sizes) - 1, -1, -1):
        waiting[sizes[i]].append(i)
    return [[waiting[distinct[k]].pop() for k in filling] for filling in fillings if filling]
