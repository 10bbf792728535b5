"""Pieces side by side and one after another into as little length of stock as possible.

The skyline: always the lowest place, and there the piece that wastes least of the gap. What can still be put
beside a piece is looked up in a table of the heights that remain. Many packings, each with other likings for the
kinds, are made side by side, so that the arithmetic of one step is done once for all of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.cuts.fill import Kinds
from lapwright.cuts.shapes import turn_rect
from lapwright.cuts.space import Lie

SPREAD = 0.3  # how far likings are from even
GRAIN = 10  # the table of sums works in millimetres
RATES = (0.3, 0.5, 0.2, 1.5)  # how much the area of a piece counts against the room it wastes; each is best on some loads

Floats = NDArray[np.float64]
Line = list[tuple[int, int, int]]  # (x reached, y0, y1), from low y to high
Block = list[tuple[int, int, int]]  # (row of the kinds, x, y)
Guests = Mapping[int, Sequence[Lie]]  # shape index -> what lies in its notches, as it lies at turn 0


class Region:
    """What stays the same while kinds are laid again and again on stock of one width."""

    def __init__(self, kinds: Kinds, width: int, guests: Guests | None = None) -> None:
        self.kinds, self.width, self.guests = kinds, width, guests or {}
        self.w = kinds.w.astype(float)
        self.h = kinds.h.astype(float)
        self.beside = reachable(kinds.h.tolist(), width)

    def first(self, longest: int) -> list[Lie]:
        """Lay kinds from 0 on, up to `longest` along, once; return where they went. What does not fit stays."""
        blocks, _ = self._packings(longest, np.array([self.h * RATES[0]]), 1)[0]
        return self._laid(blocks[0]) if blocks else []

    def shortest(self, longest: int, tries: int, rounds: int = 1) -> list[list[Lie]]:
        """Lay all kinds in blocks of up to `longest`, the shortest of `rounds` times `tries` packings.

        The first packings have no likings. Later on every other one draws near to the best so far, and where that
        is one block none may get as long: pieces have to lie closer. Likings are for kinds, or for each way that a
        kind may lie: few pieces may not fill the room beside the way that is best for many.
        """
        dice = Dice()
        best: tuple[tuple[int, int], list[Block], Floats] | None = None
        for n in range(rounds):
            liked = []
            for k in range(tries):
                rate = self.h * RATES[k % len(RATES)]
                if n == 0 and k < len(RATES):
                    liked.append(rate)
                    continue
                if k // len(RATES) % 2:
                    factors = dice.near(1.0, SPREAD, len(self.h))
                else:
                    factors = dice.near(1.0, SPREAD, len(self.kinds.waiting))[self.kinds.kind]
                liked.append(best[2] * factors if best is not None and k % 2 else rate * factors)
            one = best is not None and len(best[1]) == 1
            reach = min(longest, best[0][0] - 1) if best is not None and one else longest
            for (blocks, left), mine in zip(
                self._packings(reach, np.array(liked), 1 if one else None), liked, strict=True
            ):
                ends = [max(x + int(self.kinds.w[row]) for row, x, _ in block) for block in blocks]
                cost = (sum(ends), len(ends))
                if not left and (best is None or cost < best[0]):
                    best = cost, blocks, mine
        return [self._laid(block) for block in best[1]] if best is not None else []

    def _packings(self, longest: int, liked: Floats, most: int | None = None) -> list[tuple[list[Block], int]]:
        """One packing for each row of likings: its blocks, at most `most`, and how many pieces are left."""
        kinds = self.kinds
        left = np.array([[len(w) for w in kinds.waiting]] * len(liked), dtype=np.int64)
        out: list[list[Block]] = [[] for _ in liked]
        waiting = [int(left[0].sum())] * len(liked)
        lines: list[Line] = [[(0, 0, self.width)] for _ in liked]
        blocks: list[Block] = [[] for _ in liked]
        going = list(range(len(liked))) if waiting and waiting[0] else []
        sizes = list(zip(kinds.kind.tolist(), kinds.w.tolist(), kinds.h.tolist(), strict=True))
        while going:
            spots = [min(lines[t]) for t in going]
            at = [lines[t].index(spot) for t, spot in zip(going, spots, strict=True)]
            picks = self._picks(left, liked, going, spots, longest)
            still = []
            for t, k, (x, y0, y1), pick in zip(going, at, spots, picks, strict=True):
                line = lines[t]
                stuck = pick < 0 and len(line) == 1
                if pick >= 0:
                    kind, w, h = sizes[pick]
                    # against the side that reaches farther, so that the rest of the gap stays open
                    low = line[k - 1][0] if k else longest + 1
                    high = line[k + 1][0] if k + 1 < len(line) else longest + 1
                    y = y0 if low >= high else y1 - h
                    blocks[t].append((pick, x, y))
                    left[t, kind] -= 1
                    waiting[t] -= 1
                    x1, y2 = x + w, y + h
                    new = [(x1, y, y2)]
                    if y > y0:
                        new.insert(0, (x, y0, y))
                    elif k and low == x1:
                        new[0] = (x1, line[k - 1][1], y2)
                        k -= 1
                        del line[k]
                    if y2 < y1:
                        new.append((x, y2, y1))
                    elif k + 1 < len(line) and high == x1:
                        new[-1] = (x1, new[-1][1], line[k + 1][2])
                        del line[k + 1]
                    line[k : k + 1] = new
                elif not stuck:
                    low = line[k - 1][0] if k else longest + 1
                    high = line[k + 1][0] if k + 1 < len(line) else longest + 1
                    a = line[k - 1][1] if k and low <= high else y0
                    b = line[k + 1][2] if k + 1 < len(line) and high <= low else y1
                    line[k - (a < y0) : k + 1 + (b > y1)] = [(min(low, high), a, b)]
                if stuck or not waiting[t]:
                    if blocks[t]:
                        out[t].append(blocks[t])
                    if not waiting[t] or not blocks[t] or len(out[t]) == most:
                        continue
                    lines[t], blocks[t] = [(0, 0, self.width)], []
                still.append(t)
            going = still
        return list(zip(out, waiting, strict=True))

    def _picks(
        self,
        left: NDArray[np.int64],
        liked: Floats,
        going: Sequence[int],
        spots: Sequence[tuple[int, int, int]],
        longest: int,
    ) -> list[int]:
        """Return for each packing the row of the piece that wastes least of its gap, for its size; -1 for none."""
        x, y0, y1 = np.array(spots, dtype=np.int64).T
        rest = (y1 - y0)[:, None] - self.kinds.h
        cost = (rest - self.beside[np.maximum(rest, 0) // GRAIN] - liked[going]) * self.w
        no = (rest < 0) | (self.kinds.w > (longest - x)[:, None]) | (left[going][:, self.kinds.kind] == 0)
        cost[no] = np.inf
        pick = cost.argmin(axis=1)
        pick[np.isinf(cost[np.arange(len(going)), pick])] = -1
        return pick.tolist()  # type: ignore[no-any-return]

    def _laid(self, block: Block) -> list[Lie]:
        """Take the shapes of a block from those waiting; what lies in their notches goes with them."""
        out: list[Lie] = []
        for row, x, y in block:
            out += with_guests(Lie(self.kinds.pop(row), x, y, int(self.kinds.degrees[row])), self.guests)
        return out


def with_guests(lie: Lie, guests: Guests) -> list[Lie]:
    """Return a shape as it lies, and after it what lies in its notches; of a group only what lies in it."""
    out = [lie] if lie.shape.index >= 0 else []
    for guest in guests.get(lie.shape.index, ()):
        kerf = lie.shape.kerf
        a, b, c, d = guest.box
        x0, y0, _, _ = turn_rect((a, b, c - kerf, d - kerf), lie.shape.w - kerf, lie.shape.h - kerf, lie.degrees)
        out += with_guests(
            Lie(guest.shape, lie.x + x0, lie.y + y0, (guest.degrees + lie.degrees) % 360), guests
        )
    return out


class Dice:
    """Numbers that look random and are always the same: a linear congruential generator with a fixed start."""

    def __init__(self) -> None:
        self.state = 12345

    def near(self, middle: float, spread: float, count: int) -> Floats:
        """Return numbers within `spread` of a middle."""
        out = []
        for _ in range(count):
            self.state = (1103515245 * self.state + 12345) % 2**31
            out.append(middle + spread * (2 * self.state / 2**31 - 1))
        return np.array(out)


def reachable(heights: Iterable[int], width: int) -> Floats:
    """For every whole millimetre of gap: the largest sum of heights that fits, in units.

    >>> reachable([300], 1000)[[25, 95, 99]].tolist()
    [0.0, 900.0, 900.0]
    """
    top = width // GRAIN
    bits, mask = 1, (1 << (top + 1)) - 1
    for size in sorted({-(-h // GRAIN) for h in heights}):
        step = size
        while step <= top:  # one, two, four ... more of them
            bits |= bits << step & mask
            step *= 2
    made = np.array([bits >> c & 1 for c in range(top + 1)], dtype=bool)
    return np.maximum.accumulate(np.where(made, np.arange(top + 1) * float(GRAIN), 0.0))
