"""A coil cut in two stages: first across into blanks, then each blank along into strips.

That is what a crew does with shears and snips: pull off a length, cut it, score and rip it. A blank is as
long as its longest strip; strips in it may be shorter and are trimmed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import LinearConstraint, linprog, milp

ROUNDS = 60  # of column generation; the bound holds at any stop
PASSES = 60  # plans made strip by strip, each with what the last one taught about the worth of strips
STRIP_WORK = 6000  # fewer passes when there are many strips: passes x strips stay below this
FEW = 24  # sizes up to which a program looks for the best whole numbers; it takes too long for more
NODES = 200  # of that search
CLOSE = 5e-3  # and both stop within this part of the bound
STEP_M = 1e-4  # widths are counted on the grid of the contract, 0.1 mm


@dataclass(frozen=True)
class Strip:
    """One strip wanted: across the coil, along it, metres."""

    id: str
    width_m: float
    length_m: float


@dataclass(frozen=True)
class Blank:
    """One piece cut off the coil, with the strips ripped from it, side by side."""

    length_m: float
    strips: tuple[Strip, ...]


@dataclass(frozen=True)
class CoilPlan:
    """blanks in the order of their length, longest first; drawn_m: length off the coil; bound_m: no two-stage cutting
    draws less; too_wide, too_long: strips that the coil or the brake does not give."""

    blanks: tuple[Blank, ...]
    drawn_m: float
    bound_m: float
    too_wide: tuple[str, ...]
    too_long: tuple[str, ...]


def coil_plan(strips: Sequence[Strip], coil_m: float, longest_m: float) -> CoilPlan:
    """Cut strips from a coil `coil_m` wide; no strip or blank is longer than `longest_m` (the brake).

    Widths and lengths > 0. A linear program over blanks by column generation (Gilmore and Gomory 1965) gives the bound;
    the best whole numbers of the blanks it found, and of the plain ones, give the plan. Deterministic: work limits only.
    """
    wide = tuple(s.id for s in strips if s.width_m > coil_m + 1e-9)
    long = tuple(s.id for s in strips if s.length_m > longest_m + 1e-9)
    good = [s for s in strips if s.id not in {*wide, *long}]
    if not good:
        return CoilPlan((), 0.0, 0.0, wide, long)
    sizes = sorted({(round(s.length_m, 5), round(s.width_m, 5)) for s in good}, reverse=True)
    waiting = {size: [s for s in good if (round(s.length_m, 5), round(s.width_m, 5)) == size] for size in sizes}
    problem = _Blanks(sizes, [len(waiting[z]) for z in sizes], coil_m)
    bound, prices = problem.grow()
    blanks = []
    for length, counts in problem.whole(bound, prices):
        taken = [waiting[sizes[i]].pop() for i, n in enumerate(counts) for _ in range(min(n, len(waiting[sizes[i]])))]
        if taken:
            blanks.append(Blank(max(s.length_m for s in taken), tuple(taken)))
        assert length > 0
    blanks.sort(key=lambda b: (-b.length_m, b.strips[0].id))
    drawn = math.fsum(b.length_m for b in blanks)
    return CoilPlan(tuple(blanks), drawn, min(bound, drawn), wide, long)


class _Blanks:
    """Blanks as columns: a length, and how many strips of each size it gives; sizes longest first."""

    def __init__(self, sizes: Sequence[tuple[float, float]], counts: Sequence[int], coil_m: float) -> None:
        self.sizes = sizes
        self.need = np.array(counts, dtype=float)
        self.steps = [max(1, round(w / STEP_M)) for _, w in sizes]
        self.room = round(coil_m / STEP_M)
        self.columns: dict[tuple[float, tuple[int, ...]], None] = {}
        for i, (length, _) in enumerate(sizes):
            self._add(length, [min(self.room // self.steps[i], counts[i]) if j == i else 0 for j in range(len(sizes))])
        self.plain: list[tuple[float, tuple[int, ...]]] = []
        self._first_fit()

    def _add(self, length: float, counts: Sequence[int]) -> bool:
        key = (length, tuple(counts))
        if key in self.columns:
            return False
        self.columns[key] = None
        return True

    def _first_fit(self) -> None:
        """Add the blanks of a plain plan: the longest strip left, and beside it whatever is longest and fits."""
        left = [int(n) for n in self.need]
        while any(left):
            room, counts, length = self.room, [0] * len(left), 0.0
            for i, (long, _) in enumerate(self.sizes):
                n = min(left[i], room // self.steps[i])
                counts[i], left[i], room = n, left[i] - n, room - n * self.steps[i]
                length = max(length, long if n else 0.0)
            self._add(length, counts)
            self.plain.append((length, tuple(counts)))

    def grow(self) -> tuple[float, NDArray[np.float64]]:
        """Add blanks until none pays; return the bound that the prices prove (weak duality), and the last prices."""
        best, prices = 0.0, np.zeros(len(self.sizes))
        for _ in range(ROUNDS):
            keys = list(self.columns)
            table = np.array([c for _, c in keys], dtype=float).T
            found = linprog([length for length, _ in keys], A_ub=-table, b_ub=-self.need, method="highs")
            prices = np.maximum(-np.asarray(found.ineqlin.marginals), 0.0)
            worst, new = 1.0, False
            for length, value, counts in self._fullest(prices):
                worst = max(worst, value / length)
                if value > length * (1 + 1e-7):
                    new = self._add(length, counts) or new
            best = max(best, float(self.need @ prices) / worst)
            if not new:
                break
        return best, prices

    def _fullest(self, prices: NDArray[np.float64]) -> list[tuple[float, float, list[int]]]:
        """Return per length of blank (length, the most that it is worth, its counts), no size more often than wanted.

        A blank holds the sizes no longer than itself: one knapsack, filled from the shortest size on, gives them all.
        """
        items: list[int] = []
        took: list[NDArray[np.bool_]] = []
        worth = np.zeros(self.room + 1)
        out: list[tuple[float, float, list[int]]] = []
        for j in range(len(self.sizes) - 1, -1, -1):
            w = self.steps[j]
            if prices[j] > 0 and w <= self.room:
                for _ in range(min(int(self.need[j]), self.room // w)):
                    other = worth[: self.room + 1 - w] + prices[j]
                    better = other > worth[w:] + 1e-12
                    if not better.any():
                        break
                    items.append(j)
                    took.append(better)
                    worth = np.concatenate([worth[:w], np.where(better, other, worth[w:])])
            if j and self.sizes[j - 1][0] == self.sizes[j][0]:
                continue
            counts, c = [0] * len(self.sizes), self.room
            for n in range(len(items) - 1, -1, -1):
                w = self.steps[items[n]]
                if c >= w and took[n][c - w]:
                    counts[items[n]] += 1
                    c -= w
            out.append((self.sizes[j][0], float(worth[self.room]), counts))
        return out

    def whole(self, bound: float, prices: NDArray[np.float64]) -> list[tuple[float, tuple[int, ...]]]:
        """Return the blanks of the shortest plan found in whole numbers, each as often as it is cut."""

        def drawn(plan: Sequence[tuple[float, tuple[int, ...]]]) -> float:
            return math.fsum(length for length, _ in plan)

        best = list(self.plain)
        worth = np.maximum(prices, 1e-6)
        for _ in range(max(2, min(PASSES, STRIP_WORK // int(self.need.sum())))):
            if drawn(best) <= bound * (1 + CLOSE):
                return best
            plan = self._by_worth(worth)
            if drawn(plan) < drawn(best) - 1e-9:
                best = plan
            worth = self._taught(worth, plan)
        if len(self.sizes) <= FEW and drawn(best) > bound * (1 + CLOSE):
            exact = self._program()
            best = exact if exact and drawn(exact) < drawn(best) - 1e-9 else best
        return best

    def _by_worth(self, worth: NDArray[np.float64]) -> list[tuple[float, tuple[int, ...]]]:
        """Return a plan made blank by blank: the longest strip left, and beside it what is worth most together."""
        left = [int(n) for n in self.need]
        out: list[tuple[float, tuple[int, ...]]] = []
        while any(left):
            first = next(j for j, n in enumerate(left) if n)
            left[first] -= 1
            counts = [0] * len(left)
            counts[first] = 1
            room = self.room - self.steps[first]
            value = np.zeros(room + 1)
            items: list[tuple[int, NDArray[np.bool_]]] = []
            for j in range(first, len(left)):
                w = self.steps[j]
                for _ in range(min(left[j], room // w)):
                    other = value[: room + 1 - w] + worth[j]
                    better = other > value[w:] + 1e-12
                    if not better.any():
                        break
                    items.append((j, better))
                    value[w:] = np.where(better, other, value[w:])
            c = room
            for j, better in reversed(items):
                w = self.steps[j]
                if c >= w and better[c - w]:
                    counts[j] += 1
                    left[j] -= 1
                    c -= w
            out.append((self.sizes[first][0], tuple(counts)))
        return out

    def _taught(
        self, worth: NDArray[np.float64], plan: Sequence[tuple[float, tuple[int, ...]]]
    ) -> NDArray[np.float64]:
        """Return the worth of strips half as before, half by what they cost in a plan: their share of their blank."""
        cost = np.zeros(len(worth))
        times = np.zeros(len(worth))
        for length, counts in plan:
            used = sum(n * w for n, w in zip(counts, self.steps, strict=True))
            for j, n in enumerate(counts):
                if n:
                    cost[j] += n * length * self.steps[j] / used
                    times[j] += n
        return np.asarray(0.5 * worth + 0.5 * cost / np.maximum(times, 1.0))

    def _program(self) -> list[tuple[float, tuple[int, ...]]]:
        """Return the best whole numbers of the blanks there are, empty when the search stopped before it found any."""
        keys = list(self.columns)
        table = np.array([c for _, c in keys], dtype=float).T
        found = milp(
            np.array([length for length, _ in keys]),
            constraints=LinearConstraint(table, self.need, np.inf),
            integrality=np.ones(len(keys)),
            options={"node_limit": NODES, "mip_rel_gap": CLOSE},
        )
        if found.x is None:
            return []
        times = np.round(found.x).astype(int)
        return [key for key, n in zip(keys, times.tolist(), strict=True) for _ in range(n)]
