"""The bar relaxation for few pieces: no piece lies beside itself.

The column generation of `barlp` lets a long strip be sliced lengthwise and its parts lie side by side. With many
strips that hardly matters; with few it is most of the gap. Here every pattern is written out, and each holds at
most one slice of every piece, so that the program (Scheithauer, Int. Trans. Opl. Res. 6, 1999, with proper
patterns) is a higher bound and still one that no packing undercuts. Too many patterns: no answer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from lapwright.cuts.bars import Program
from lapwright.cuts.solver import quiet_highs

MOST_BARS = 40  # more are left to the column generation
MOST_STEPS = 20_000  # of the search for patterns
UNIT_M = 1e-4  # bars are rounded down to it, rooms up

MOST_NODES = 50  # of the search for whole numbers of pieces that lie one way

Pattern = tuple[tuple[int, int], ...]  # (bar, how many), heights descending


@dataclass(frozen=True)
class Column:
    """A variable of the program: what it costs, what it adds to the rows, whether it is a whole number."""

    cost: float
    rows: dict[int, float]
    whole: bool = False


def few_bound(program: Program, width_m: float) -> float | None:
    """Return the least length in metres with proper patterns, or None where there are too many bars or patterns.

    Programs with `open` slices (wide pieces that could meet) have no answer either.
    """
    bars = program.bars
    if not bars or program.open or len(bars) > MOST_BARS:
        return None
    everywhere = np.ones(len(bars), dtype=bool)
    places = [(width_m, everywhere, math.inf), *((r.height, r.allowed, r.length) for r in program.rooms)]
    columns: list[Column] = []
    steps = [MOST_STEPS]
    rows = len(bars) + len(program.asked)
    for n, (height, allowed, _) in enumerate(places):
        for pattern in _patterns(program, height, np.flatnonzero(allowed).tolist(), steps):
            ask = {bar: float(count) for bar, count in pattern}
            columns.append(Column(0.0, {**ask, rows + n - 1: 1.0}) if n else Column(1.0, ask))
        if steps[0] <= 0:
            return None
    for k, (_, ways) in enumerate(program.asked):
        for parts in ways:
            ask = {bar: -length for bar, length in parts}
            columns.append(Column(0.0, {**ask, len(bars) + k: 1.0}, whole=len(ways) > 1))
    counts = [float(count) for count, _ in program.asked]
    lower = [0.0] * len(bars) + counts + [-math.inf] * len(program.rooms)
    upper = [math.inf] * len(bars) + counts + [r.length for r in program.rooms]
    return program.fixed + _least(columns, lower, upper)


def _patterns(program: Program, height_m: float, bars: Sequence[int], steps: list[int]) -> Iterator[Pattern]:
    """All patterns of bars to which none can be added, within `height_m`; `steps` is counted down."""
    item = {bar: k for k, (_, ways) in enumerate(program.asked) for parts in ways for bar, _ in parts}
    high = {b: max(1, math.floor(program.bars[b].height / UNIT_M + 0.01)) for b in bars}
    order = sorted(bars, key=lambda b: (-high[b], b))
    free = [Fraction(count) for count, _ in program.asked]
    # a piece gives all bars of one slice at a time: each of n bars stands for an nth of it
    part = {b: Fraction(1, program.bars[b].beside) for b in bars}
    chosen: list[tuple[int, int]] = []

    def go(k: int, room: int) -> Iterator[Pattern]:
        steps[0] -= 1
        if steps[0] <= 0:
            return
        if k == len(order):
            if chosen and not any(high[b] <= room and part[b] <= free[item[b]] for b in order):
                yield tuple(chosen)
            return
        bar = order[k]
        most = min(room // high[bar], free[item[bar]] // part[bar])
        for count in range(int(most), -1, -1):
            if count:
                chosen.append((bar, count))
                free[item[bar]] -= count * part[bar]
            yield from go(k + 1, room - count * high[bar])
            if count:
                chosen.pop()
                free[item[bar]] += count * part[bar]

    yield from go(0, math.ceil(height_m / UNIT_M - 0.01))


def _least(columns: Sequence[Column], lower: Sequence[float], upper: Sequence[float]) -> float:
    """Return the least cost, with whole numbers of pieces lying each way where that can be had with little work."""
    lp = quiet_highs()
    n = len(lower)
    none = np.empty(0, dtype=np.int32)
    lp.addRows(n, np.array(lower), np.array(upper), 0, np.zeros(n, dtype=np.int32), none, np.empty(0))
    starts = np.cumsum([0, *(len(c.rows) for c in columns)])[:-1].astype(np.int32)
    index = np.array([r for c in columns for r in c.rows], dtype=np.int32)
    value = np.array([v for c in columns for v in c.rows.values()])
    costs = np.array([c.cost for c in columns])
    m = len(columns)
    lp.addCols(m, costs, np.zeros(m), np.full(m, math.inf), len(index), starts, index, value)
    lp.run()
    # a millionth less: what the solver may be off by
    least = max(0.0, float(lp.getObjectiveValue()) * (1 - 1e-6))
    whole = np.array([k for k, c in enumerate(columns) if c.whole], dtype=np.int32)
    if len(whole):
        lp.changeColsIntegrality(len(whole), whole, np.ones(len(whole), dtype=np.uint8))
        lp.setOptionValue("solver", "choose")
        lp.setOptionValue("mip_max_nodes", MOST_NODES)
        lp.setOptionValue("mip_rel_gap", 0.0)
        lp.run()
        proved = float(lp.getInfo().mip_dual_bound)
        if math.isfinite(proved):
            least = max(least, proved * (1 - 1e-6))
    return least
