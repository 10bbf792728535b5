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
NODES = 200  # of the search for whole numbers
CLOSE = 5e-3  # and it stops within this part of the least
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
    bound = problem.grow()
    blanks = []
    for length, counts in problem.whole():
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

    def grow(self) -> float:
        """Add blanks until none pays; return the bound that the prices prove (weak duality)."""
        best = 0.0
        for _ in range(ROUNDS):
            keys = list(self.columns)
            table = np.array([c for _, c in keys], dtype=float).T
            found = linprog([length for length, _ in keys], A_ub=-table, b_ub=-self.need, method="highs")
            prices = np.maximum(-np.asarray(found.ineqlin.marginals), 0.0)
            worst, new = 1.0, False
            for i, (length, _) in enumerate(self.sizes):
                if i and self.sizes[i - 1][0] == length:
                    continue
                allowed = [j for j, (other, _) in enumerate(self.sizes) if other <= length + 1e-9]
                value, counts = self._fullest(prices, allowed)
                worst = max(worst, value / length)
                if value > length * (1 + 1e-7):
                    new = self._add(length, counts) or new
            best = max(best, float(self.need @ prices) / worst)
            if not new:
                break
        return best

    def _fullest(self, prices: NDArray[np.float64], allowed: Sequence[int]) -> tuple[float, list[int]]:
        """Return the most that a blank of the allowed sizes is worth, and its counts (no size more often than wanted)."""
        items = [(j, k) for j in allowed for k in range(min(int(self.need[j]), self.room // self.steps[j])) if prices[j] > 0]
        worth = np.zeros(self.room + 1)
        took = np.zeros((len(items), self.room + 1), dtype=bool)
        for n, (j, _) in enumerate(items):
            w = self.steps[j]
            other = np.concatenate([np.full(w, -1.0), worth[: self.room + 1 - w] + prices[j]])
            took[n] = other > worth + 1e-12
            worth = np.where(took[n], other, worth)
        counts, c = [0] * len(self.sizes), self.room
        for n in range(len(items) - 1, -1, -1):
            if took[n, c]:
                counts[items[n][0]] += 1
                c -= self.steps[items[n][0]]
        return float(worth[self.room]), counts

    def whole(self) -> list[tuple[float, tuple[int, ...]]]:
        """Return the blanks of the best plan in whole numbers over the columns there are, each as often as it is cut."""
        keys = list(self.columns)
        table = np.array([c for _, c in keys], dtype=float).T
        found = milp(
            np.array([length for length, _ in keys]),
            constraints=LinearConstraint(table, self.need, np.inf),
            integrality=np.ones(len(keys)),
            options={"node_limit": NODES, "mip_rel_gap": CLOSE},
        )
        if found.x is None:  # stopped before it found any: the plain plan stands
            return list(self.plain)
        times = np.round(found.x).astype(int)
        return [key for key, n in zip(keys, times.tolist(), strict=True) for _ in range(n)]
