"""The cutting-stock linear program by column generation, and whole solutions taken from it by diving.

Gilmore and Gomory (Operations Research 9, 1961): one column per way to fill a bin, found by a knapsack in the
prices of the program's rows. The rounded-up value of the program is a bound; columns with large values, taken
one after another with the program solved again in between, make a packing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from lapwright.cuts.completion import Sums, complete
from lapwright.cuts.solver import quiet_highs

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
EPS = 1e-7  # prices and reduced costs below this are rounding
ROUND_EPS = 1e-6  # a bound this little above a whole number is that number
LEAN = 1e-4  # how much dearer the least liked column is made to get another vertex
LOOK_BACK = 12  # how many rests of a dive are tried by search


class Knapsack:
    """Best fillings of a bin in given prices, for distinct sizes with counts. Vectors over the capacity."""

    def __init__(self, sizes: Sequence[int], capacity: int) -> None:
        self.sizes = list(sizes)
        self.capacity = capacity

    def columns(self, prices: Floats, counts: Counts, worth: float) -> tuple[float, list[Counts]]:
        """Return the best value, and for each size its best filling that is worth more than `worth`."""
        cap = self.capacity
        best = np.zeros(cap + 1)
        rows: list[int] = []
        takes: list[NDArray[np.bool_]] = []
        for k in np.argsort(-prices / np.asarray(self.sizes), kind="stable"):
            size, price = self.sizes[k], prices[k]
            if price <= 0:
                break
            for _ in range(min(int(counts[k]), cap // size)):
                more = best[:-size] + price
                take = np.zeros(cap + 1, dtype=bool)
                np.greater(more, best[size:] + 1e-12, out=take[size:])
                if not take.any():
                    break
                best[size:] = np.where(take[size:], more, best[size:])
                rows.append(int(k))
                takes.append(take)
        if not rows:
            return 0.0, []
        table = np.array(takes)
        latest = np.maximum.accumulate(
            np.where(table, np.arange(len(rows), dtype=np.int16)[:, None], np.int16(-1)), axis=0
        )
        found: dict[bytes, Counts] = {}
        value = best + 0.0
        wanted = [(cap, -1)] + [(cap - self.sizes[k], k) for k in np.flatnonzero(prices) if counts[k]]
        for room, first in wanted:
            total = value[room] + (prices[first] if first >= 0 else 0.0)
            if total <= worth:
                continue
            column = np.zeros(len(self.sizes), dtype=np.int64)
            if first >= 0:
                column[first] = 1
            row, c = len(rows) - 1, room
            while row >= 0:
                row = int(latest[row, c])
                if row < 0:
                    break
                column[rows[row]] += 1
                c -= self.sizes[rows[row]]
                row -= 1
            if first >= 0 and column[first] > counts[first]:
                column[first] -= 1
                if float(prices @ column) <= worth:
                    continue
            found.setdefault(column.tobytes(), column)
        return float(best[cap]), list(found.values())


class Master:
    """The program: least number of fillings that hold every size as often as it is asked."""

    def __init__(self, sizes: Sequence[int], counts: Sequence[int], capacity: int) -> None:
        self.sizes = list(sizes)
        self.capacity = capacity
        self.demand = np.asarray(counts, dtype=np.int64)
        self.columns: list[Counts] = []
        self.seen: set[bytes] = set()
        self.knapsack = Knapsack(sizes, capacity)
        self.lp = quiet_highs()
        n = len(sizes)
        none = np.empty(0, dtype=np.int32)
        self.lp.addRows(
            n,
            self.demand.astype(float),
            np.full(n, math.inf),
            0,
            np.zeros(n, dtype=np.int32),
            none,
            np.empty(0),
        )

    def add(self, columns: Sequence[Counts]) -> int:
        """Add fillings that are not there yet; return how many."""
        new = []
        for column in columns:
            key = column.tobytes()
            if key not in self.seen:
                self.seen.add(key)
                new.append(column)
        if not new:
            return 0
        index = [np.flatnonzero(c) for c in new]
        starts = np.cumsum([0, *(len(i) for i in index)])[:-1].astype(np.int32)
        rows = np.concatenate(index).astype(np.int32)
        values = np.concatenate([c[i] for c, i in zip(new, index, strict=True)]).astype(float)
        n = len(new)
        self.lp.addCols(n, np.ones(n), np.zeros(n), np.full(n, math.inf), len(rows), starts, rows, values)
        self.columns += new
        return n

    def solve(self) -> tuple[float, Floats, Floats]:
        """Return the number of fillings, the columns' values and the rows' prices."""
        self.lp.run()
        solution = self.lp.getSolution()
        x = np.asarray(solution.col_value, dtype=float)
        prices = np.asarray(solution.row_dual, dtype=float)
        return float(x.sum()), x, np.where(prices > EPS, prices, 0.0)

    def set_demand(self, demand: Counts) -> None:
        """Ask for other counts; columns stay."""
        n = len(demand)
        rows = np.arange(n, dtype=np.int32)
        self.lp.changeRowsBounds(n, rows, demand.astype(float), np.full(n, math.inf))
        self.demand = demand

    def lean(self, salt: int) -> None:
        """Make some columns a hair dearer, so that another of the equally good solutions comes out."""
        n = len(self.columns)
        cols = np.arange(n, dtype=np.int32)
        spread = (cols.astype(np.int64) * 7919 + salt * 104729) % 1009 / 1009 if salt else np.zeros(n)
        self.lp.changeColsCost(n, cols, 1 + LEAN * spread)

    def generate(self, rounds: int, enough: float = -math.inf) -> tuple[float, float, Floats]:
        """Add columns until none helps. Return (fillings, bound, column values).

        Bound after Farley (Operations Research 38, 1990), good at any stop: prices @ demand / (best filling's
        worth in the prices).
        Stops when the value is no more than `enough`, when bound and value round up to the same number, or
        after `rounds`.
        """
        bound = 0.0
        value, x, prices = self.solve()
        for _ in range(rounds):
            if value <= enough + ROUND_EPS:
                break
            worth, found = self.knapsack.columns(prices, self.demand, 1 + EPS)
            if worth > 0:
                bound = max(bound, float(prices @ self.demand) / worth)
            done = worth <= 1 + EPS or math.ceil(bound - ROUND_EPS) >= math.ceil(value - ROUND_EPS)
            if done or not self.add(found):
                break
            value, x, prices = self.solve()
        return value, bound, x


def full_columns(sizes: Sequence[int], counts: Sequence[int], capacity: int, per_size: int) -> list[Counts]:
    """Return some fillings without any waste for every size (spread over the ways there are)."""
    out: list[Counts] = []
    for k, size in enumerate(sizes):
        room = capacity - size
        at = [i for i in range(len(sizes)) if sizes[i] <= room and counts[i] > (i == k)]
        sums = Sums([sizes[i] for i in at], [counts[i] - (i == k) for i in at], room)
        if not sums.reach[0] >> room & 1:
            continue
        ways = list(islice(sums.ways(room), 8 * per_size))
        step = max(1, len(ways) // per_size)
        for way in ways[k % step :: step][:per_size]:
            column = np.zeros(len(sizes), dtype=np.int64)
            column[k] += 1
            for i in way:
                column[at[i]] += 1
            out.append(column)
    return out


def dive(master: Master, target: int, rounds: int, work: int) -> list[list[int]] | None:
    """Return `target` fillings (positions in sizes) that hold everything asked, or None when none was found.

    Columns with large values are taken, and the program is solved again for the rest. When the rest no longer
    fits, the last rests are tried by `complete`, with `work` fillings each, from the smallest to larger ones.
    """
    asked = demand = master.demand
    taken: list[Counts] = []
    trail: list[tuple[int, Counts]] = []
    while demand.any():
        master.set_demand(demand)
        value, _, x = master.generate(rounds, target - len(taken))
        if len(taken) + math.ceil(value - ROUND_EPS) > target:
            break
        trail.append((len(taken), demand))
        whole = np.floor(x + ROUND_EPS).astype(int)
        picks = [(int(j), int(whole[j])) for j in np.flatnonzero(whole)] or [(int(np.argmax(x)), 1)]
        for j, times in picks:
            for _ in range(times):
                use = np.minimum(master.columns[j], demand)
                if use.any():
                    taken.append(use)
                    demand = demand - use
    master.set_demand(asked)
    done = [[int(k) for k in np.repeat(np.arange(len(use)), use)] for use in taken]
    if not demand.any() and len(done) <= target:
        return done
    for count, rest in reversed(trail[-LOOK_BACK:]):
        at = [int(k) for k in np.flatnonzero(rest)]
        fillings = complete(
            [master.sizes[k] for k in at], [int(rest[k]) for k in at], master.capacity, target - count, work
        )
        if fillings is not None:
            return done[:count] + [[at[k] for k in filling] for filling in fillings]
    return None
