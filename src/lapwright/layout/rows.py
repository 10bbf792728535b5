"""Where a row of sheets is cut: ways to set the joints along one stretch of a row.

Everything here happens in row coordinates: x along the rows, y across them, in whole micrometres (`UNIT_M`), so that
equal lengths are equal. A way starts with a first board (a full sheet, what is left when full sheets follow, or an
off-cut that waits for use) and goes on by full sheets, each joint drawn back where a joint must not be; from the left
end, and from the right.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

UNIT_M = 1e-6
BAD = 3.0  # a joint where none should be is worth three sheets: it is moved wherever that is possible
NARROW = 2.0  # a board below the sliver width
HANDLING = 0.02  # one more board to handle, in sheets
FAR = 10 * BAD  # supports further apart than a sheet reaches: said by a finding

Joints = tuple[int, ...]


def units(length_m: float) -> int:
    """Return a length in whole micrometres, nearest.

    >>> units(0.0254)
    25400
    """
    return round(length_m / UNIT_M)


@dataclass(frozen=True)
class Span:
    """A stretch of one row between two ends that are given (edge of the region or of an opening).

    height: how far the area reaches across it; hollows: what openings take out of the rectangle between the ends, as
    (from x, to x, height).
    """

    low: int
    high: int
    height: int
    hollows: tuple[tuple[int, int, int], ...] = ()


@dataclass(frozen=True)
class RowRule:
    """What rules the joints of a row. `grid`: joints that are drawn back fall on it; supports: sorted, the only x where a
    joint may fall, or None for anywhere."""

    sheet: int
    gap: int
    sliver: int
    grid: int
    supports: tuple[int, ...] | None = None

    def mirrored(self) -> RowRule:
        """Return the rule seen from the other side: x becomes -x."""
        if self.supports is None:
            return self
        return RowRule(self.sheet, self.gap, self.sliver, self.grid, tuple(-s for s in reversed(self.supports)))


class Shy:
    """Where joints should not be: open intervals, kept as they came and merged."""

    __slots__ = ("highs", "lows", "parts")

    def __init__(self, parts: Iterable[tuple[int, int]]) -> None:
        self.parts = sorted(parts)
        self.lows: list[int] = []
        self.highs: list[int] = []
        for low, high in self.parts:
            if self.lows and low < self.highs[-1]:
                self.highs[-1] = max(self.highs[-1], high)
            else:
                self.lows.append(low)
                self.highs.append(high)

    def mirrored(self) -> Shy:
        """Return the same seen from the other side."""
        return Shy((-high, -low) for low, high in self.parts)

    def below(self, x: int) -> int | None:
        """Return the lower end of what x lies in, None when a joint may be at x."""
        i = bisect_left(self.lows, x) - 1
        return self.lows[i] if i >= 0 and x < self.highs[i] else None

    def count(self, x: int) -> int:
        """Return how many reasons there are against a joint at x."""
        return sum(low < x < high for low, high in self.parts)


def ways(span: Span, rule: RowRule, shy: Shy, wanted: Iterable[int]) -> list[tuple[float, Joints]]:
    """Return (what is bad about it, in sheets; joints) of each way worth a try, without repeats, best first.

    wanted: lengths of off-cuts that a first or a last board could use up.
    """
    sheet = rule.sheet
    length = span.high - span.low
    found: dict[Joints, float] = {}
    if length <= sheet:
        rest: list[int] = []
        found[()] = HANDLING + NARROW * (length < rule.sliver)
    else:
        left = (length + rule.gap) % (sheet + rule.gap)
        # what is left beside full sheets; halves and thirds give the stagger where nothing waits for use
        rest = [sheet, left, left // 2, (left + sheet) // 2, sheet // 2, sheet // 3, sheet * 2 // 3]
    firsts = list(dict.fromkeys(w for w in (*rest, *wanted) if rule.sliver <= w <= sheet))
    back, shy_back = rule.mirrored(), shy.mirrored()
    for first in firsts:
        bad, joints = _go(span.low, span.high, first, rule, shy)
        found.setdefault(joints, bad)
        bad, joints = _go(-span.high, -span.low, first, back, shy_back)
        found.setdefault(tuple([-x for x in reversed(joints)]), bad)
    return sorted(((bad, joints) for joints, bad in found.items()), key=lambda w: w[0])


def _go(low: int, high: int, first: int, rule: RowRule, shy: Shy) -> tuple[float, Joints]:
    """Return the way from the left end that begins with a board `first` long: (what is bad, joints)."""
    gap, sliver = rule.gap, rule.sliver
    half = gap // 2
    out: list[int] = []
    bad = 0.0
    at, reach, narrow = low - half, first + gap, 0
    end = high - half
    while end - at > reach - gap:
        price, joint = _back(at + reach, at, low, rule, shy)
        bad += price
        narrow += joint - at - gap < sliver
        out.append(joint)
        at, reach = joint, rule.sheet + gap
    if out and end - at < sliver:  # the last joint goes back so that the last board is wide enough
        before = out[-2] if len(out) > 1 else low - half
        price, joint = _back(end - sliver, before, low, rule, shy)
        if not price and joint - before - gap >= sliver:
            narrow -= out[-1] - before - gap < sliver
            out[-1] = at = joint
    narrow += end - at < sliver
    return bad + NARROW * narrow + HANDLING * (len(out) + 1), tuple(out)


def _back(to: int, after: int, low: int, rule: RowRule, shy: Shy) -> tuple[float, int]:
    """Return (price, joint): the farthest place up to `to` where a joint may be, else the least bad one."""
    floor = after + rule.gap + rule.sliver
    if rule.supports is not None:
        i = bisect_right(rule.supports, to)
        best: tuple[float, int] | None = None
        while i > 0 and rule.supports[i - 1] >= floor and rule.supports[i - 1] > low:
            i -= 1
            x = rule.supports[i]
            price = BAD * shy.count(x)
            if not price:
                return 0.0, x
            if best is None or price < best[0]:
                best = price, x
        return best if best is not None else (FAR, to)
    x = to
    while x >= floor:
        lower = shy.below(x)
        if lower is None:
            return 0.0, x
        x = lower // rule.grid * rule.grid
    tries = [to, *range(to - rule.grid, floor, -rule.grid)]
    return min(((BAD * shy.count(x), x) for x in tries), key=lambda t: (t[0], -t[1]))


def lengths(span: Span, joints: Sequence[int], gap: int) -> list[int]:
    """Return the lengths of the boards between the joints of a span.

    >>> lengths(Span(0, 50, 10), (20,), 0)
    [20, 30]
    """
    half = gap // 2
    ends = [span.low - half, *joints, span.high + half]
    return [b - a - gap for a, b in pairwise(ends)]
