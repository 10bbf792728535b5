"""Bins filled one after another, each as full as the total waste allows, with a limited look back.

Used with a target number of bins: the waste of all bins together is then known beforehand, and a bin that
would spend more than is left need not be looked at. Which sums can be reached is kept as the bits of one
whole number, so that the best fill of a bin is found by shifting.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence


class Sums:
    """Which sums the sizes can make, with ways back to the sizes. `sizes` from large to small."""

    def __init__(self, sizes: Sequence[int], counts: Sequence[int], limit: int) -> None:
        self.sizes, self.counts, self.limit = sizes, counts, limit
        mask = (1 << (limit + 1)) - 1
        bits = 1
        reach = [1] * (len(sizes) + 1)  # reach[k]: sums from sizes k, k + 1, ...
        shifts = 0
        for k in range(len(sizes) - 1, -1, -1):
            size = sizes[k]
            for _ in range(min(counts[k], limit // size) if size <= limit else 0):
                more = (bits | bits << size) & mask
                if more == bits:
                    break
                bits = more
                shifts += 1
            reach[k] = bits
        self.reach = reach
        self.work = 1 + shifts // 50 + shifts * limit // 600_000  # in steps of about 10 us

    def totals(self, least: int) -> Iterator[int]:
        """Sums within least..limit that can be made, from large to small."""
        bits = self.reach[0] >> max(0, least)
        while bits:
            top = bits.bit_length() - 1
            yield top + max(0, least)
            bits ^= 1 << top

    def ways(self, total: int) -> Iterator[list[int]]:
        """Ways to make a sum, as positions in `sizes`, large sizes first."""
        sizes, counts, reach = self.sizes, self.counts, self.reach
        last = len(sizes)

        def rest(k: int, left: int, used: int) -> Iterator[list[int]]:
            if left == 0:
                yield []
                return
            while k < last and reach[k] >> left & 1:
                size = sizes[k]
                if used < counts[k] and size <= left:
                    # what is left must come from more of this size or from smaller ones
                    for tail in rest(k, left - size, used + 1):
                        yield [k, *tail]
                k, used = k + 1, 0

        yield from rest(0, total, 0)


def complete(
    sizes: Sequence[int], counts: Sequence[int], capacity: int, bins: int, work: int
) -> list[list[int]] | None:
    """Return `bins` fillings (positions in sizes) that hold everything, or None when none was found.

    sizes: distinct, from large to small; counts: how many of each. work: how long to look, in fillings tried
    (setting up the sums of a bin counts for several when there are many sizes or the capacity is large).
    """
    waste = bins * capacity - sum(s * c for s, c in zip(sizes, counts, strict=True))
    if waste < 0:
        return None
    left = list(counts)
    stack: list[tuple[Iterator[list[int]], list[int], int]] = []
    while True:
        first = next((k for k in range(len(sizes)) if left[k]), None)
        if first is None:
            return [filling for _, filling, _ in stack]
        sums, at = _sums(sizes, left, first, capacity)
        work -= sums.work
        stack.append((_fillings(sums, at, first, waste), [], waste))
        while stack:
            choices, filling, waste = stack[-1]
            for k in filling:
                left[k] += 1
            step = next(choices, None) if work > 0 else None
            work -= 1
            if step is None:
                stack.pop()
                continue
            for k in step:
                left[k] -= 1
            stack[-1] = (choices, step, waste)
            waste -= capacity - sum(sizes[k] for k in step)
            break
        else:
            return None


def _sums(sizes: Sequence[int], left: list[int], first: int, capacity: int) -> tuple[Sums, list[int]]:
    """What can lie beside one of size `first`, and the positions in `sizes` that it is made of."""
    room = capacity - sizes[first]
    at = [k for k in range(len(sizes)) if left[k] > (k == first) and sizes[k] <= room]
    return Sums([sizes[k] for k in at], [left[k] - (k == first) for k in at], room), at


def _fillings(sums: Sums, at: list[int], first: int, waste: int) -> Iterator[list[int]]:
    """Ways to fill a bin that holds the size `first`, wasting no more than `waste`, fullest first."""
    for total in sums.totals(sums.limit - waste):
        for way in sums.ways(total):
            yield [first, *(at[k] for k in way)]
