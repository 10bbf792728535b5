"""Which blocks share a roll when several ways cost the same: those that are put on the wall together."""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.cuts.completion import Sums

GRAIN = 10  # sums in millimetres
SHARES = (1.0, 0.5, 0.2, 0.05, 0.0)  # how much of the waste per roll the next roll may spend
LOOK_AHEAD = (0, 4, 8, 16, 32, 64)  # how many later blocks may be drawn forward into a roll


def subset(lengths: Sequence[int], room: int) -> list[int]:
    """Return the numbers of the lengths that together fill `room` best, early numbers first.

    >>> subset([60000, 50000, 40000], 100000)
    [0, 2]
    """
    return _best([(n, length) for n, length in enumerate(lengths)], room, 0)


def in_order_of_work(lengths: Sequence[int], capacity: int, bins: int) -> list[list[int]] | None:
    """Return numbers per roll, in order, on at most `bins` rolls, or None when this way needs more.

    Each roll takes the earliest block left and, of the blocks soon after, those that fill it; how full it has to
    be follows from what may be wasted in all.
    """
    for share in SHARES:
        out = _one_by_one(lengths, capacity, bins, share)
        if out is not None:
            return out
    return None


def _one_by_one(lengths: Sequence[int], capacity: int, bins: int, share: float) -> list[list[int]] | None:
    left = list(range(len(lengths)))
    out: list[list[int]] = []
    while left:
        rolls = bins - len(out)
        total = sum(lengths[n] for n in left)
        if total > rolls * capacity:
            return None
        first, rest = left[0], left[1:]
        room = capacity - lengths[first]
        spend = int((rolls * capacity - total) / rolls * share) if rolls > 1 else room
        chosen: list[int] = []
        for ahead in LOOK_AHEAD:
            near = _near(lengths, rest, room) + ahead
            chosen = _best([(n, lengths[n]) for n in rest[:near]], room, room - spend)
            if room - sum(lengths[n] for n in chosen) <= spend or near >= len(rest):
                break
        out.append([first, *chosen])
        left = [n for n in rest if n not in chosen]
    return out


def _near(lengths: Sequence[int], rest: Sequence[int], room: int) -> int:
    """How many of the next blocks fit one after another."""
    for count, n in enumerate(rest):
        room -= lengths[n]
        if room < 0:
            return count
    return len(rest)


def _best(numbered: Sequence[tuple[int, int]], room: int, enough: int) -> list[int]:
    """Numbers that fill `room` best; when the first ones in order come to `enough`, just those."""
    total = 0
    run: list[int] = []
    for n, length in numbered:
        if total + length > room:
            break
        total += length
        run.append(n)
    if run and enough and total >= enough:
        return run
    fitting = [(n, -(-length // GRAIN)) for n, length in numbered if length <= room]
    sums = Sums([length for _, length in fitting], [1] * len(fitting), room // GRAIN)
    best = next(sums.totals(0), 0)
    way = next(sums.ways(best), [])
    return [fitting[k][0] for k in way]
