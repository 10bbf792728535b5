"""Where a row of sheets is cut: joints along one row, chosen for whole sheets and reused off-cuts.

Everything here happens in row coordinates: x along the rows, y across them. Positions are floats in
metres on a grid, so that what a carpenter marks are whole inches or centimetres.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

BAD = 3.0  # a joint where none should be is worth three sheets: it is moved wherever that is possible
NARROW = 2.0  # a piece below the sliver width
HANDLING = 0.02  # one more piece to handle, in sheets
CHOICES = 32  # first joints tried per span and state

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Span:
    """A stretch of one row between two ends that are given (edge of the region or of an opening), metres."""

    low: float
    high: float
    y0: float
    y1: float

    @property
    def length(self) -> float:
        """How long the stretch is."""
        return self.high - self.low


@dataclass(frozen=True)
class RowRule:
    """What rules the joints of a row; metres. `grid`: where joints are tried (not used when supports are given)."""

    sheet: float
    gap: float
    sliver: float
    grid: float
    supports: tuple[float, ...] | None = None


@dataclass(frozen=True)
class Shy:
    """Intervals that joints stay out of: centers and half widths, metres."""

    centers: tuple[float, ...] = ()
    halves: tuple[float, ...] = ()

    def price(self, at: FloatArray) -> FloatArray:
        """Return the price of a joint at each position, in sheets."""
        if not self.centers:
            return np.zeros(len(at))
        gap = np.abs(at[:, None] - np.array(self.centers)[None, :])
        return np.asarray(BAD * np.sum(gap < np.array(self.halves)[None, :] - 1e-9, axis=1), dtype=np.float64)


class Joints:
    """All ways to cut one span, with the best way to go on from each joint (dynamic programming from the far end)."""

    def __init__(self, span: Span, rule: RowRule, shy: Shy) -> None:
        self.span, self.rule = span, rule
        reach = rule.sheet + rule.gap  # from joint center to joint center, a half gap at each side
        if rule.supports is not None:
            at = np.array([s for s in rule.supports if span.low + 1e-6 < s < span.high - 1e-6])
        else:
            first = np.ceil((span.low + 1e-6) / rule.grid) * rule.grid
            at = np.arange(first, span.high - 1e-6, rule.grid)
            # a full sheet from the left end, and one that ends at the right end, need not be on the grid
            more = [span.low + k * reach for k in range(1, 1 + int(span.length / reach))]
            more += [span.high - k * reach for k in range(1, 1 + int(span.length / reach))]
            at = np.concatenate([at, [m - rule.gap / 2 if m < span.high else m for m in more]])
        at = np.unique(np.round(at[(at > span.low + 1e-6) & (at < span.high - 1e-6)], 6))
        self.at: FloatArray = np.concatenate([at, [span.high]])
        self.price = shy.price(self.at)
        self.price[-1] = 0.0
        count = len(self.at)
        self.best = np.full(count, np.inf)
        self.next = np.full(count, -1, dtype=np.int64)
        self.best[-1] = 0.0
        # a full sheet between two joints, a sheet and half a gap before the far end, which has a gap at one side only
        fars = np.searchsorted(self.at, self.at + reach + 1e-9)
        short = self.at[-1] > self.at + rule.sheet + rule.gap / 2 + 1e-9
        fars[(fars == count) & short] = count - 1
        widest = int((fars - np.arange(count)).max(initial=1))
        steps = np.minimum(np.arange(count)[:, None] + np.arange(1, widest + 1)[None, :], count - 1)
        cost = self._piece(self.at[steps] - self.at[:, None]) + self.price[steps]
        for i in range(count - 2, -1, -1):
            n = int(fars[i]) - i - 1
            if n < 1:
                continue
            total = cost[i, :n] + self.best[i + 1 : i + 1 + n]
            k = n - 1 - int(total[::-1].argmin())  # of equal ones the farthest
            self.best[i], self.next[i] = total[k], i + 1 + k

    def _piece(self, length: FloatArray) -> FloatArray:
        """Return the price of pieces: their share of a sheet, handling, slivers. `length` with the gaps."""
        net = length - self.rule.gap
        return np.asarray(
            net / self.rule.sheet + HANDLING + NARROW * (net < self.rule.sliver - 1e-6), dtype=np.float64
        )

    def from_first(self, j: int) -> tuple[float, ...]:
        """Return the joints when the first one is number j; j = the last means none."""
        out = []
        while j >= 0 and j < len(self.at) - 1:
            out.append(float(self.at[j]))
            j = int(self.next[j])
        return tuple(out)

    def first_price(self) -> FloatArray:
        """Return the whole price of the span for each first joint (inf where the first piece would be too long)."""
        length = self.at - self.span.low
        ends = np.where(np.arange(len(self.at)) == len(self.at) - 1, 0.0, self.rule.gap / 2)
        cost = self._piece(length + self.rule.gap - ends) + self.price + self.best
        return np.where(length - ends <= self.rule.sheet + 1e-9, cost, np.inf)

    @cached_property
    def orders(self) -> FloatArray:
        """The price of each first joint, worked out once."""
        return self.first_price()

    def choices(self, wanted: Sequence[float]) -> list[tuple[float, tuple[float, ...]]]:
        """Return (what is bad about them, in sheets; joints) of up to CHOICES ways, best first.

        wanted: lengths of off-cuts that a first or last piece could use up.
        """
        cost = self.orders
        good = np.flatnonzero(np.isfinite(cost))
        if not len(good):
            return [(BAD * 10, self._forced())]
        order = good[np.argsort(cost[good], kind="stable")]
        take = dict.fromkeys(int(i) for i in order[: CHOICES // 2])
        spread = order[:: max(1, len(order) // (CHOICES // 4))]
        take.update(dict.fromkeys(int(i) for i in spread))
        for length in wanted:
            i = int(np.searchsorted(self.at, self.span.low + length + self.rule.gap / 2 + 1e-6)) - 1
            if i >= 0 and np.isfinite(cost[i]):
                take[i] = None
            # a last piece out of an off-cut: the joint before it stands that far from the end
            i = int(np.searchsorted(self.at, self.span.high - length - self.rule.gap / 2 - 1e-6))
            if i < len(self.at) - 1 and np.isfinite(cost[i]) and self.span.low + self.rule.sheet >= self.at[i]:
                take[i] = None
        share = self.span.length / self.rule.sheet
        return [(float(cost[i]) - share, self.from_first(i)) for i in take]

    def _forced(self) -> tuple[float, ...]:
        """Cut by full sheets where nothing is allowed (supports too far apart for the sheet): said by a finding."""
        reach = self.rule.sheet + self.rule.gap
        return tuple(
            round(self.span.low + k * reach, 6)
            for k in range(1, 1 + int((self.span.length - 1e-6) / reach))
        )


@dataclass
class Offcuts:
    """Off-cuts of one rip height, and how many sheets were opened for it. Lengths sorted, metres."""

    sheet: float
    share: float  # of a sheet that one strip takes: 1 / strips ripped side by side
    least: float
    free: list[float]
    opened: float = 0.0

    def copy(self) -> Offcuts:
        """Return an independent copy."""
        return Offcuts(self.sheet, self.share, self.least, list(self.free), self.opened)

    def cut(self, length: float) -> None:
        """Take a piece from the shortest off-cut that gives it, else from a new strip."""
        i = bisect_left(self.free, length - 1e-6)
        if i < len(self.free):
            rest = self.free.pop(i) - length
        else:
            self.opened += self.share
            rest = self.sheet - length
        if rest >= self.least:
            insort(self.free, rest)


def lengths(span: Span, joints: Sequence[float], gap: float) -> list[float]:
    """Return the lengths of the pieces between the joints of a span.

    >>> lengths(Span(0.0, 5.0, 0, 1), (2.0,), 0.0)
    [2.0, 3.0]
    """
    ends = [span.low, *joints, span.high]
    out = []
    for i, (a, b) in enumerate(pairwise(ends)):
        left = gap / 2 if i else 0.0
        right = gap / 2 if i < len(ends) - 2 else 0.0
        out.append(round(b - a - left - right, 6))
    return out
