"""The linear program of the bar relaxation (see `bars`), by column generation."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lapwright.cuts.bars import Item, Program, Room, program_of
from lapwright.cuts.fewlp import few_bound
from lapwright.cuts.solver import quiet_highs

Floats = NDArray[np.float64]
EPS = 1e-9
ROUNDS = 60  # rounds of column generation; the bound holds at any stop
CLOSE = 5e-4  # stop when bound and program differ by less than this part
PATTERNS = 40  # patterns added a round
PULL = 0.5  # how far prices are drawn towards the best ones so far
# Heights are counted in whole steps, bars rounded down and rooms up; the coarsest step that loses little is used.
STEPS_M = (0.0127, 0.01, 0.00635, 0.005, 0.003175, 0.0025, 0.002, 0.0015875, 0.001)
LOSS = 2e-3  # of the width, on average


def bar_bound(items: Sequence[Item], width_m: float) -> float:
    """Return a length in metres that no packing of the items on stock of that width can undercut."""
    program = program_of(items, width_m)
    if not program.bars:
        return float(program.fixed)
    few = few_bound(program, width_m)
    return few if few is not None else float(program.fixed + BarProgram(program, width_m).bound())


class BarProgram:
    """Column generation over the rows: bars asked, items to be laid, rooms' lengths.

    Bars of one height that may lie in the same rooms share a row.
    """

    def __init__(self, program: Program, width_m: float) -> None:
        p = program
        self.fixed = p.fixed
        self.step = _step(p, width_m)
        guest = np.ones(len(p.bars), dtype=bool)
        guest[[bar for _, bar, _ in p.open]] = False
        rooms = [Room(width_m, guest), *p.rooms, *(r for _, _, rs in p.open for r in rs)]
        self.caps = np.array([max(0, math.ceil(r.height / self.step - 0.01)) for r in rooms])
        # the whole width is the highest of all; the table is worked out from high rooms to low ones
        self.by_cap = np.argsort(-self.caps, kind="stable")
        self.live = [int((self.caps >= c).sum()) for c in range(int(self.caps[0]) + 1)]
        allowed = np.array([r.allowed for r in rooms])
        keys: dict[tuple[object, ...], int] = {}
        down = [max(1, math.floor(b.height / self.step + 0.01)) for b in p.bars]
        row = []
        for k in range(len(p.bars)):
            mine = k if not guest[k] else -1
            row.append(keys.setdefault((down[k], allowed[:, k].tobytes(), mine), len(keys)))
        first = [row.index(r) for r in range(len(keys))]
        self.heights = np.array([down[k] for k in first])
        self.allowed = allowed[:, first]
        self.distinct, self.group = np.unique(self.heights, return_inverse=True)
        self.members = [np.flatnonzero(self.group == g) for g in range(len(self.distinct))]
        self.n_bars = len(first)
        self.lengths = np.array([r.length for r in p.rooms])  # of the rooms without cost
        self.open = [(length, row[bar], rs) for length, bar, rs in p.open]
        # what each way of an item asks of the rows
        self.asked: list[tuple[int, list[dict[int, float]]]] = []
        for count, ways in p.asked:
            asks = []
            for parts in ways:
                ask: dict[int, float] = defaultdict(float)
                for part, length in parts:
                    ask[row[part]] += length
                asks.append(dict(ask))
            self.asked.append((count, asks))
        self.own = np.array(sorted(bar for _, bar, _ in self.open), dtype=int)
        self.saved = p.saved
        self._set_up()

    def _set_up(self) -> None:
        self.item_row = self.n_bars
        self.room_row = self.n_bars + len(self.asked)
        self.saved_row = self.room_row + len(self.lengths)
        n = self.saved_row + 1
        lower, upper = np.zeros(n), np.full(n, math.inf)
        for length, bar, _ in self.open:
            lower[bar] = length
        counts = [count for count, _ in self.asked]
        lower[self.item_row : self.room_row] = upper[self.item_row : self.room_row] = counts
        lower[self.room_row :], upper[self.room_row : self.saved_row] = -math.inf, self.lengths
        upper[self.saved_row] = self.saved
        self.lp = quiet_highs()
        none = np.empty(0, dtype=np.int32)
        self.lp.addRows(n, lower, upper, 0, np.zeros(n, dtype=np.int32), none, np.empty(0))
        self.seen: set[tuple[tuple[int, float], ...]] = set()
        columns: list[tuple[float, dict[int, float]]] = []
        for k, (_, asks) in enumerate(self.asked):
            columns += [(0.0, {**{r: -v for r, v in ask.items()}, self.item_row + k: 1.0}) for ask in asks]
        for k in np.flatnonzero(self.allowed[0]).tolist():
            columns.append((1.0, {k: float(self.caps[0] // self.heights[k])}))
        columns += [(1.0, {bar: 1.0}) for _, bar, _ in self.open]
        self._add(columns)

    def _add(self, columns: Sequence[tuple[float, dict[int, float]]]) -> int:
        new = []
        for cost, rows in columns:
            key = ((-1, cost), *sorted(rows.items()))
            if key not in self.seen:
                self.seen.add(key)
                new.append((cost, sorted(rows.items())))
        if new:
            n = len(new)
            starts = np.cumsum([0, *(len(rows) for _, rows in new)])[:-1].astype(np.int32)
            index = np.array([r for _, rows in new for r, _ in rows], dtype=np.int32)
            value = np.array([v for _, rows in new for _, v in rows], dtype=float)
            costs = np.array([cost for cost, _ in new])
            self.lp.addCols(n, costs, np.zeros(n), np.full(n, math.inf), len(index), starts, index, value)
        return len(new)

    def bound(self) -> float:
        """Return the best bound that the prices of the rounds prove.

        Prices are drawn towards the best ones so far, at first those of the plain area (smoothing after Wentges,
        Int. Trans. Opl. Res. 4, 1997): the program's own swing widely for many rounds.
        """
        center = np.append(self.heights / self.caps[0], 0.0)
        best, pull = self._proved(center, self._table(center)[0]), PULL
        for _ in range(ROUNDS):
            self.lp.run()
            value = float(self.lp.getObjectiveValue())
            if value - best <= CLOSE * (self.fixed + value):
                break
            dual = np.asarray(self.lp.getSolution().row_dual, dtype=float)
            own = np.append(dual[: self.n_bars], -dual[self.saved_row])
            own = np.where(own > EPS, own, 0.0)
            prices = pull * center + (1 - pull) * own
            table, offers = self._table(prices)
            proved = self._proved(prices, table)
            new = self._add(self._columns(prices, dual, table, offers))
            if proved > best:
                best, center = proved, prices
            if new:
                pull = PULL
            elif pull:
                pull = 0.0
            else:
                break
        return best

    def _beside(self, prices: Floats) -> Floats:
        """Return what each bar pays in a room: wide ones less for the length that they save."""
        out = prices[: self.n_bars].copy()
        out[self.own] -= prices[-1]
        return np.maximum(out, 0.0)

    def _table(self, prices: Floats) -> tuple[Floats, Floats]:
        """Worth of every room filled up to every step, and what it would pay for a bar of each height.

        prices: of the bars, then of the length saved. The worths of a room above its own
        height are left at 0.
        """
        prices = self._beside(prices)
        offers = np.full((len(self.caps), len(self.distinct)), -1.0)
        for k in np.flatnonzero(prices):
            column = offers[:, self.group[k]]
            np.maximum(column, np.where(self.allowed[:, k], prices[k], -1.0), out=column)
        # a bar that pays no more than a lower one is never wanted
        lower = np.maximum.accumulate(offers, axis=1)
        offers[:, 1:][offers[:, 1:] <= lower[:, :-1]] = -1.0
        used = np.flatnonzero((offers > 0).any(axis=0))
        sizes = self.distinct[used]
        paid = np.ascontiguousarray(offers[self.by_cap][:, used].T)
        table = np.zeros((int(self.caps[0]) + 1, len(self.caps)))
        for c in range(1, len(table)):
            live = self.live[c]  # rooms at least that high
            n = int(np.searchsorted(sizes, c, side="right"))
            row = table[c, :live]
            row[:] = table[c - 1, :live]
            if n:
                np.maximum(row, (table[c - sizes[:n], :live] + paid[:n, :live]).max(axis=0), out=row)
        out = np.empty_like(table)
        out[:, self.by_cap] = table
        return out, offers

    def _proved(self, prices: Floats, table: Floats) -> float:
        """Bound from any prices (weak duality), after scaling them so that no pattern is worth more than its cost."""
        worth = table[self.caps, np.arange(len(self.caps))]
        most = float(worth[0])
        at = 1 + len(self.lengths)
        for _, bar, rooms in self.open:
            most = max(most, prices[bar] + float(worth[at : at + len(rooms)].sum()))
            at += len(rooms)
        total = sum(length * prices[bar] for length, bar, _ in self.open)
        for count, asks in self.asked:
            total += count * min(sum(prices[r] * v for r, v in ask.items()) for ask in asks)
        total -= float(self.lengths @ worth[1 : 1 + len(self.lengths)])
        if prices[-1] > 0:
            total -= prices[-1] * self.saved
        return max(0.0, float(total)) / max(most, EPS)

    def _columns(
        self, prices: Floats, dual: Floats, table: Floats, offers: Floats
    ) -> list[tuple[float, dict[int, float]]]:
        """Return patterns worth more than they cost, as (cost, rows)."""
        # all rooms as full as they pay, then the whole width with each bar in it, the best of those first
        beside = self._beside(prices)
        prices = prices[: self.n_bars]
        with_bar = prices + table[np.maximum(self.caps[0] - self.heights, 0), 0]
        with_bar[~self.allowed[0] | (prices <= 0)] = 0.0
        forced = np.argsort(-with_bar, kind="stable")[:PATTERNS]
        forced = forced[with_bar[forced] > 1 + EPS]
        n = len(self.caps)
        rooms = np.concatenate((np.arange(n), np.zeros(len(forced), dtype=int)))
        tops = np.concatenate((self.caps, self.caps[0] - self.heights[forced]))
        patterns = self._patterns(rooms, tops, beside, table, offers)
        worth = table[self.caps, np.arange(n)]
        out: list[tuple[float, dict[int, float]]] = []
        for bar, rows in zip(forced.tolist(), patterns[n:], strict=True):
            rows[bar] = rows.get(bar, 0.0) + 1
            out.append((1.0, rows))
        for k in range(len(self.lengths)):
            if worth[1 + k] + dual[self.room_row + k] > EPS:
                out.append((0.0, {**patterns[1 + k], self.room_row + k: 1.0}))
        at = 1 + len(self.lengths)
        own = set(self.own.tolist())
        for _, bar, parts in self.open:
            mine = range(at, at + len(parts))
            if prices[bar] + sum(worth[r] for r in mine) > 1 + EPS:
                rows = {bar: 1.0}
                for r in mine:
                    for b, count in patterns[r].items():
                        rows[b] = rows.get(b, 0.0) + count
                guests = sum(count for b, count in rows.items() if b in own) - 1.0
                if guests > 0:
                    rows[self.saved_row] = guests
                out.append((1.0, rows))
            at += len(parts)
        return out

    def _patterns(
        self, rooms: NDArray[np.int_], tops: NDArray[np.int_], prices: Floats, table: Floats, offers: Floats
    ) -> list[dict[int, float]]:
        """Return the bars of the best patterns of rooms filled up to some steps, all traced side by side."""
        out: list[dict[int, float]] = [{} for _ in rooms]
        # which bar pays best for each height in each room
        best = np.zeros((len(self.caps), len(self.distinct)), dtype=int)
        for g, members in enumerate(self.members):
            best[:, g] = members[np.argmax(np.where(self.allowed[:, members], prices[members], -1.0), axis=1)]
        c = tops.copy()
        live = np.arange(len(rooms))
        while len(live):
            room, height = rooms[live], c[live]
            live = live[table[height, room] > EPS]
            room, left = rooms[live], c[live][:, None] - self.distinct
            offer = offers[room]
            value = np.where((left >= 0) & (offer > 0), offer + table[np.maximum(left, 0), room[:, None]], -1.0)
            group = np.argmax(value, axis=1)
            # worth of this step but not from a bar here: the same worth is reached lower down
            idle = value[np.arange(len(live)), group] < table[c[live], room] - 1e-12
            c[live] -= np.where(idle, 1, self.distinct[group])
            for k, g, skip in zip(live.tolist(), group.tolist(), idle.tolist(), strict=True):
                if not skip:
                    bar = int(best[rooms[k], g])
                    out[k][bar] = out[k].get(bar, 0.0) + 1
        return out


def _step(program: Program, width_m: float) -> float:
    """Coarsest step of height that rounds away less than a small part of the width."""
    heights = np.array([b.height for b in program.bars])
    rooms = np.array([width_m, *(r.height for r in program.rooms), *(r.height for *_, rs in program.open for r in rs)])
    for step in STEPS_M:
        lost = np.mod(heights / step + 0.01, 1).clip(0.01) - 0.01
        gained = 0.99 - np.mod(rooms / step - 0.01, 1).clip(None, 0.99)
        if max(float(lost.mean()), float(gained.mean())) * step < LOSS * width_m:
            return step
    return STEPS_M[-1]
