"""How high the first row is, before any joint is set: which heights are worth working out, and what no layout can beat.

The area is sliced across the rows. A slice of a row is as high as the boards there, wherever the joints fall; slices
higher than half a sheet lie one behind the other, lower ones fit beside them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

FloatArray = NDArray[np.float64]
BINS = 48  # heights are told apart to 1/48 of a sheet
COLUMN_M = 0.1  # slices no wider than this where an edge slopes
HAIR_M = 1e-5


@dataclass(frozen=True)
class Slices:
    """An area sliced upright: per slice and stretch of material where it begins, its width, and its lower and upper end at both sides."""

    left: FloatArray
    width: FloatArray
    low: FloatArray  # (slices, 2)
    high: FloatArray  # (slices, 2)
    area: float


def slices(region: BaseGeometry) -> Slices:
    """Return the area's slices between neighboring corners, narrower ones where an edge slopes."""
    points = shapely.get_coordinates(region)
    sloped = bool(np.any(np.all(np.abs(np.diff(points, axis=0)) > 1e-6, axis=1)))
    cuts = np.unique(np.round(points[:, 0], 6))
    if sloped:
        more = [np.linspace(a, b, 1 + math.ceil((b - a) / COLUMN_M)) for a, b in pairwise(cuts.tolist())]
        cuts = np.unique(np.concatenate([cuts, *more]))
    cuts = cuts[np.concatenate([[True], np.diff(cuts) > 4 * HAIR_M])]
    sides = np.stack([cuts[:-1] + HAIR_M, cuts[1:] - HAIR_M], axis=1)
    if not sloped:
        sides = sides.mean(axis=1, keepdims=True).repeat(2, axis=1)
    _, bottom, _, top = region.bounds
    at = sides if sloped else sides[:, :1]
    xs = at.ravel()
    ends = np.array([bottom - 1.0, top + 1.0])
    lines = shapely.linestrings(np.stack([np.repeat(xs, 2), np.tile(ends, len(xs))], axis=1).reshape(-1, 2, 2))
    met, owner = shapely.get_parts(shapely.intersection(region, lines), return_index=True)
    bounds = shapely.bounds(met)
    solid = bounds[:, 3] - bounds[:, 1] > 1e-6
    met_low, met_high, owner = bounds[solid, 1], bounds[solid, 3], owner[solid]
    order = np.lexsort((met_low, owner))
    met_low, met_high, owner = met_low[order], met_high[order], owner[order]
    per = at.shape[1]
    left, width, low, high = [], [], [], []
    for n in range(len(cuts) - 1):
        here = [(met_low[owner == n * per + k], met_high[owner == n * per + k]) for k in range(per)]
        if per == 2 and len(here[0][0]) != len(here[1][0]):  # a corner within the hair: the poorer side counts twice
            here = [min(here, key=lambda h: float((h[1] - h[0]).sum()))] * 2
        for k in range(len(here[0][0])):
            left.append(cuts[n])
            width.append(cuts[n + 1] - cuts[n])
            low.append((here[0][0][k], here[-1][0][k]))
            high.append((here[0][1][k], here[-1][1][k]))
    shape = (len(width), 2)
    return Slices(
        np.array(left, dtype=np.float64),
        np.array(width, dtype=np.float64),
        np.array(low).reshape(shape),
        np.array(high).reshape(shape),
        float(region.area),
    )


@dataclass(frozen=True)
class Rows:
    """The slices of one set of rows: width (slices,), height (slices, rows) that boards have there, the lower of both
    sides; full: the rows' own heights; metres."""

    width: FloatArray
    height: FloatArray
    full: FloatArray


def rows_of(cut: Slices, lines: Sequence[float], gap: float) -> Rows:
    """Return the slices of the rows between `lines`, with open joints of `gap` between them."""
    at = np.array(lines)
    low, high = at[:-1].copy(), at[1:].copy()
    low[1:] += gap / 2
    high[:-1] -= gap / 2
    reach = np.minimum(cut.high[:, :, None], high) - np.maximum(cut.low[:, :, None], low)
    return Rows(cut.width, np.maximum(reach.min(axis=1), 0.0), high - low)


def strips_needed(rows: Rows, high: float) -> float:
    """Return the length of sheets of `high` that slices take when low ones are laid beside high ones; metres.

    Boards are taken as cut along the sheet. Greedy, so about the least.
    """
    bins = np.minimum(np.ceil(rows.height / high * BINS - 1e-6).astype(int), BINS)
    wide = np.broadcast_to(rows.width[:, None], bins.shape)
    amount = np.bincount(bins.ravel(), weights=wide.ravel(), minlength=BINS + 1).tolist()
    half = BINS // 2
    total = math.fsum(amount[half + 1 :])
    beside = {BINS - b: amount[b] for b in range(half + 1, BINS) if amount[b] > 0}
    for b in range(half, 0, -1):
        left = amount[b]
        if not left:
            continue
        for room in sorted(r for r in beside if r >= b):
            used = min(left, beside[room])
            left -= used
            beside[room] -= used
            if room - b:
                beside[room - b] = beside.get(room - b, 0.0) + used
            if left <= 0:
                break
        total += max(left, 0.0) / (BINS // b)
    return float(total)


def least_length(cut: Slices, rows: Rows, sheet: tuple[float, float], gap: float) -> float:
    """Return a length of sheets (long x high) that no way to set the joints of these rows beats; metres.

    Holds for layouts that cut a stretch of a row into no more than one board above the fewest. The largest of the area
    and of two weightings under which no column across a sheet weighs more than one whole: each slice higher than half a
    sheet weighs one; half of that and half of the area. Boards no longer than a sheet is high may be turned in it, and
    weigh by the way that weighs less.
    """
    long, high = sheet
    tall = rows.height > high / 2 + 1e-6
    ones = float((rows.width[:, None] * tall).sum())
    area, loss = cut.area / high, 0.0
    order = np.argsort(cut.left, kind="stable")
    for r, full in enumerate(rows.full):
        run: list[int] = []
        end = -math.inf
        for i in [*order[rows.height[order, r] > 1e-6].tolist(), -1]:
            if run and (i < 0 or cut.left[i] > end + 1e-4):
                loss += _turned(rows, r, run, cut, float(full), sheet)
                most = math.ceil((end - cut.left[run[0]]) / long - 1e-9) + 1
                area -= gap * most * full / high
                ones -= gap * most
                run = []
            if i >= 0:
                run.append(i)
                end = max(end, cut.left[i] + cut.width[i]) if len(run) > 1 else cut.left[i] + cut.width[i]
    return max(area, ones - loss, 0.5 * (ones - loss + area))


def _turned(rows: Rows, r: int, run: Sequence[int], cut: Slices, full: float, sheet: tuple[float, float]) -> float:
    """Return how much less the slices of one stretch may weigh when boards in it are turned."""
    long, high = sheet
    first, last = run[0], run[-1]
    length = float(cut.left[last] + cut.width[last] - cut.left[first])
    most = math.ceil(length / long - 1e-9) + 1
    # k boards of the stretch are turned, the others reach over the rest of it
    k = min(most, math.floor((most * long - length) / (long - high) + 1e-9)) if long > high + 1e-9 else most
    stacked = max(1, len(run) - len({float(cut.left[i]) for i in run}) + 1)
    k *= stacked  # where openings part a stretch into an upper and a lower one
    mine = rows.height[np.array(run), r]
    tall = mine[mine > high / 2 + 1e-6]
    if not len(tall) or k <= 0:
        return 0.0
    share = min(float(tall.min()), full) / high
    whole = float(rows.width[np.array(run)][mine > high / 2 + 1e-6].sum())
    light = min(whole, k * high / 2)  # no wider than half a sheet: they weigh nothing
    return light + min(whole - light, k * high / 2) * (1 - share)
