"""One-dimensional packing: whole sizes into equal bins, with a bound that no packing can beat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


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


def pack_bins(sizes: Sequence[int], capacity: int) -> Bins:
    """Pack whole sizes into as few bins of `capacity` as possible.

    ValueError for a size outside 1..capacity.
    """
    for i, s in enumerate(sizes):
        if not 0 < s <= capacity:
            raise ValueError(f"size {i} is {s}, not in 1..{capacity}")
    if not sizes:
        return Bins((), 0)
    bins = best_fit_decreasing(sizes, capacity)
    return Bins(tuple(tuple(b) for b in bins), l2_bound(sizes, capacity))
