"""Where a course is cut into pieces: end laps by dynamic programming along the course.

A piece may be no longer than the roll and than two people can hold with the obstructions in it; end
laps keep clear of openings and corners and are staggered from the course below.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.layout.develop import Chain

JOINT_STEP_M = 0.0508  # end laps are tried every 2 in
PIECE_PRICE_M = 0.5  # one more piece is worth half a metre of roll: handling, one more lap to roll
STAGGER_PRICE_M = 20.0
LOSS_PER_OBSTRUCTION = 0.15  # each cut-out shortens what two people hold by 15 %; common practice, no source
SHORTEST_HOLD_M = 2.4


@dataclass(frozen=True)
class Reach:
    """How long a piece may be: the roll's length and what the crew holds on a clean wall, in metres."""

    roll_m: float
    hold_m: float

    def limit(self, obstructions: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return the longest piece with so many obstructions in it."""
        hold = np.maximum(self.hold_m * (1 - LOSS_PER_OBSTRUCTION * obstructions), SHORTEST_HOLD_M)
        return np.asarray(np.minimum(hold, self.roll_m), dtype=np.float64)


def joint_price(
    chain: Chain, at: NDArray[np.float64], band: tuple[float, float], lap_m: float, earlier: Sequence[float]
) -> NDArray[np.float64]:
    """Return what an end lap centred at each u of `at` would cost, in metres of roll.

    earlier: centres of the end laps of the course below (staggered by the claim's distance).
    """
    out = np.zeros(len(at))
    half = lap_m / 2
    period = chain.length if chain.ring else None

    def near(center: float) -> NDArray[np.float64]:
        gap = np.abs(at - center)
        return np.minimum(np.mod(gap, period), period - np.mod(gap, period)) if period else gap

    for kind, u0, u1, y0, y1, weight in chain.clears:
        if kind == "end" and y1 > band[0] and y0 < band[1]:
            gap = near((u0 + u1) / 2)
            out[gap < (u1 - u0) / 2 + half - 1e-9] += weight
    for center in earlier:
        gap = near(center)
        out[gap < chain.rule.stagger_m - 1e-9] += STAGGER_PRICE_M
    return out


def split(
    chain: Chain,
    start: float,
    end: float,
    band: tuple[float, float],
    reach: Reach,
    earlier: Sequence[float],
    ends_joined: tuple[bool, bool],
) -> list[float]:
    """Return the centres of the end laps between `start` and `end` (developed metres), left to right.

    ends_joined: whether the run begins / ends in an end lap with something already there, so that the
    piece reaches half a lap further. Exact on a grid of 2 in: least pieces and least unwelcome laps.
    """
    lap = chain.rule.end_lap_m
    left_extra = lap / 2 if ends_joined[0] else 0.0
    right_extra = lap / 2 if ends_joined[1] else 0.0
    inside = [o for o in _repeat(chain, end) if o[3] > band[0] + 1e-6 and o[1] < band[1] - 1e-6]
    centers = np.array(sorted((o[0] + o[2]) / 2 for o in inside))
    total = int(np.sum((centers > start) & (centers < end))) if len(centers) else 0
    if end - start + left_extra + right_extra <= float(reach.limit(np.array([total]))[0]) + 1e-9:
        return []
    first = np.ceil((start + max(lap, 0.3)) / JOINT_STEP_M) * JOINT_STEP_M
    inner = np.arange(first, end - max(lap, 0.3), JOINT_STEP_M)
    at = np.concatenate([[start], inner, [end]])
    cost_at = joint_price(chain, at, band, lap, earlier)
    cost_at[0] = cost_at[-1] = 0.0
    seen = np.searchsorted(centers, at) if len(centers) else np.zeros(len(at), dtype=np.int64)
    best = np.full(len(at), np.inf)
    came = np.full(len(at), -1, dtype=np.int64)
    best[0] = 0.0
    widest = min(reach.hold_m, reach.roll_m)
    most = reach.limit(np.arange(len(centers) + 1)) + 1e-9
    starts = np.minimum(np.searchsorted(at, at - widest - lap), np.arange(-1, len(at) - 1)).tolist()
    for j in range(1, len(at)):
        i0 = starts[j]
        length = at[j] - at[i0:j]
        extra = np.full(j - i0, lap / 2 + (right_extra if j == len(at) - 1 else lap / 2))
        if i0 == 0:
            extra[0] += left_extra - lap / 2
        allowed = length + extra <= most[seen[j] - seen[i0:j]]
        cost = np.where(allowed, best[i0:j] + PIECE_PRICE_M + lap, np.inf)
        k = int(cost.argmin())
        if np.isfinite(cost[k]):
            best[j] = cost[k] + cost_at[j]
            came[j] = i0 + k
    if came[-1] < 0:  # nothing fits (a piece shorter than the grid allows): cut at the longest hold
        count = int(np.ceil((end - start) / SHORTEST_HOLD_M))
        return [start + (end - start) * i / count for i in range(1, count)]
    joints: list[float] = []
    j = int(came[-1])
    while j > 0:
        joints.append(float(at[j]))
        j = int(came[j])
    return joints[::-1]


def _repeat(chain: Chain, end: float) -> list[tuple[float, float, float, float]]:
    found = list(chain.obstructions)
    if chain.ring and end > chain.length:
        found += [(a + chain.length, y0, b + chain.length, y1) for a, y0, b, y1 in chain.obstructions]
    return found


def seam(chain: Chain, band: tuple[float, float], earlier: Sequence[float]) -> float:
    """Return where to start a course that runs all the way round: the cheapest place for an end lap."""
    at = np.arange(0.0, chain.length, JOINT_STEP_M)
    return float(at[int(np.argmin(joint_price(chain, at, band, chain.rule.end_lap_m, earlier)))])
