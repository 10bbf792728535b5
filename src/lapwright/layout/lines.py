"""Where the courses run: heights of the course lines by dynamic programming.

For a region of any outline with holes, the length drawn from the roll by a course between heights b
and t is the width of everything not yet covered in that band. The program chooses the tops t_1 < t_2
< ... on a grid so that the sum of drawn length and of the price of unwelcome laps is least. Because
the cost of a course depends on its own band only, the choice is exact on the grid.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from lapwright.geometry import polygons
from lapwright.layout.develop import Chain

BLOCK = 64  # bottom rows worked out at once: a few MB for a big house
MIN_COURSE_M = 0.2  # a course narrower than 8 in is a nuisance to hang; common practice, no source
SLOPE_STEP_M = 0.1  # columns under a rake are this wide at most
HAIR = 1e-4  # of equal choices the taller course: fewer to hang
HANG_PRICE = 0.02  # one more course to hang, for each metre of it, in metres of roll; common practice, no source
HANG_BUTTED = 0.1  # the same for a mat, whose fixing is most of its work; common practice, no source
LAP_PRICE_M = 1.0  # an unwelcome lap costs its claim's weight in metres of roll

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Columns:
    """The region cut into vertical columns: widths (n,), and for each column and grid row the next
    row at or above it that is still region, as index (n, rows + 1); rows + 1 = none.
    area_below (rows + 1,): area of region below each row's foot, in m2."""

    widths: Floats
    area_below: Floats
    next_row: NDArray[np.int64]
    first_m: float
    step_m: float

    @property
    def rows(self) -> int:
        """Number of rows of the grid of heights."""
        return int(self.next_row.shape[1]) - 1


def _upright_spans(region: BaseGeometry, at: Floats) -> list[list[tuple[float, float]]]:
    """Return for each u of `at` the heights over which the region stands there, upwards.

    No u may be a corner's. An upright line crosses an even number of the region's sides; the region stands between
    the first and the second, the third and the fourth, and so on.
    """
    starts, ends = [], []
    for poly in polygons(region):
        for ring in (poly.exterior, *poly.interiors):
            points = shapely.get_coordinates(ring)
            starts.append(points[:-1])
            ends.append(points[1:])
    if not starts:
        return [[] for _ in at]
    a, b = np.concatenate(starts), np.concatenate(ends)
    flip = a[:, 0] > b[:, 0]
    a[flip], b[flip] = b[flip], a[flip].copy()
    crosses = (a[None, :, 0] < at[:, None]) & (at[:, None] < b[None, :, 0])
    which, side = np.nonzero(crosses)
    rise = (b[side, 1] - a[side, 1]) / (b[side, 0] - a[side, 0])
    height = a[side, 1] + rise * (at[which] - a[side, 0])
    order = np.lexsort((height, which))
    which, height = which[order], height[order]
    out: list[list[tuple[float, float]]] = [[] for _ in range(len(at))]
    for k, y0, y1 in zip(which[::2].tolist(), height[::2].tolist(), height[1::2].tolist(), strict=True):
        if y1 > y0:
            out[k].append((y0, y1))
    return out


def columns(region: BaseGeometry, first_m: float, top_m: float, step_m: float) -> Columns:
    """Return the columns of a developed region between two heights on a grid of `step_m`.

    A grid row counts as region when any part of it within the column is (so nothing is left bare).
    """
    rows = max(1, int(np.ceil((top_m - first_m) / step_m - 1e-6)))
    us: set[float] = set()
    for poly in polygons(region):
        for ring in (poly.exterior, *poly.interiors):
            pts = list(ring.coords)
            for (x0, y0, *_), (x1, y1, *_) in itertools.pairwise(pts):
                us.add(round(x0, 6))
                if abs(x1 - x0) > SLOPE_STEP_M and abs(y1 - y0) > 1e-6:
                    parts = int(np.ceil(abs(x1 - x0) / SLOPE_STEP_M))
                    us.update(round(x0 + (x1 - x0) * i / parts, 6) for i in range(1, parts))
    edges = np.array(sorted(us))
    if len(edges) < 2:
        return Columns(np.zeros(0), np.zeros(rows + 1), np.zeros((0, rows + 1), dtype=np.int64), first_m, step_m)
    inside = np.zeros((len(edges) - 1, rows), dtype=bool)
    fill = np.zeros(rows)
    feet = first_m + np.arange(rows) * step_m
    tops = feet + step_m
    wide = np.flatnonzero(np.diff(edges) > 1e-5)
    spans = _upright_spans(region, np.concatenate([edges[wide] + 1e-6, edges[wide + 1] - 1e-6]))
    for k, i in enumerate(wide.tolist()):
        left, right = spans[k], spans[k + len(wide)]
        half = (edges[i + 1] - edges[i]) / 2
        for low, high in (*left, *right):
            fill += half * np.maximum(np.minimum(tops, high) - np.maximum(feet, low), 0.0)
        if len(left) == len(right):  # between two corners the region is a row of trapezoids
            left = right = [(min(a[0], b[0]), max(a[1], b[1])) for a, b in zip(left, right, strict=True)]
        for low, high in (*left, *right):
            i0 = max(0, int(np.floor((low - first_m) / step_m + 1e-6)))
            i1 = min(rows, int(np.ceil((high - first_m) / step_m - 1e-6)))
            inside[i, i0:i1] = True
    nxt = np.full((len(edges) - 1, rows + 1), rows + 1, dtype=np.int64)
    for row in range(rows - 1, -1, -1):
        nxt[:, row] = np.where(inside[:, row], row, nxt[:, row + 1])
    return Columns(np.diff(edges), np.concatenate([[0.0], np.cumsum(fill)]), nxt, first_m, step_m)


def drawn_widths(cols: Columns, bottom_row: int, reach: int) -> Floats:
    """Return, for tops bottom_row + 1 .. bottom_row + reach, the width of region in that band, in metres."""
    start = cols.next_row[:, max(0, bottom_row)] - bottom_row
    keep = start < reach
    hist = np.bincount(np.maximum(start[keep], 0), cols.widths[keep], minlength=reach + 1)
    return np.asarray(np.cumsum(hist)[:reach], dtype=np.float64)


def _drawn_table(cols: Columns, reach: int) -> Floats:
    """Return `drawn_widths` for every bottom row, one beneath the other: (rows, reach)."""
    rows, out = cols.rows, []
    for low in range(0, rows, BLOCK):
        bottoms = np.arange(low, min(low + BLOCK, rows))
        start = cols.next_row[:, bottoms] - bottoms
        keep = start < reach
        spots = (start + (bottoms - low) * (reach + 1))[keep]  # nothing starts below its own bottom row
        wide = np.broadcast_to(cols.widths[:, None], start.shape)[keep]
        hist = np.bincount(spots, wide, minlength=len(bottoms) * (reach + 1)).reshape(len(bottoms), reach + 1)
        out.append(np.cumsum(hist, axis=1)[:, :reach])
    return np.concatenate(out)


def price(height_m: Floats, width_m: float, butted: bool = False) -> Floats:
    """Return the share of a running metre of roll that a course of this height really costs.

    More than half the roll's width: the whole metre (its rest serves for strips, counted at the packing). Less: half,
    because two such pieces lie side by side on the roll, and a little for hanging one more course. butted: a mat, whose
    pieces have no laps to match: a narrow one goes into any rest of the roll, so it costs its share, and its hanging.
    """
    share = height_m / width_m
    narrow = np.minimum(share + HANG_BUTTED, 1.0) if butted else 0.5 + HANG_PRICE
    return np.asarray(np.where(share > 0.5 + 1e-9, 1.0, narrow) + HAIR * (1 - share))


def course_lines(
    chain: Chain, width_m: float, step_m: float, fixed: tuple[tuple[float, float], ...] = ()
) -> tuple[list[tuple[float, float]], float]:
    """Return the bands (bottom, top) of the courses, bottom to top, and the least possible drawn length.

    width_m: the roll's width; step_m: grid of heights (chalk lines fall on it, counted from the region's
    foot... the reference line); fixed: bands of courses already on the wall, which stay.
    The second figure bounds every choice of lines on the grid from below, in metres of roll: the least area
    of sheet (region and course laps; end laps, holes' off-cuts and whole rolls left out) over the roll's width.
    """
    lap_m = chain.rule.course_lap_m
    whole = chain.whole()
    if whole.is_empty:
        return [], 0.0
    _, low, _, high = whole.bounds
    first = np.floor(low / step_m + 1e-6) * step_m
    cols = columns(whole, first, high, step_m)
    rows = cols.rows
    reach = int(np.floor(width_m / step_m + 1e-6))
    lap = int(np.ceil(lap_m / step_m - 1e-6))
    least = max(1, min(int(np.ceil(MIN_COURSE_M / step_m)), rows))
    fine = _lap_price(chain, first, rows, step_m, lap_m)
    tops = sorted({round((t - first) / step_m) for _, t in fixed} - {rows})
    tops = [t for t in tops if 0 < t < rows]
    best = np.full(rows + 1, np.inf)
    plain = np.full(rows + 1, np.inf)
    came = np.full(rows + 1, -1, dtype=np.int64)
    best[0] = plain[0] = 0.0
    heights = np.asarray(np.arange(1, reach + 1) * step_m, dtype=np.float64)
    prices = price(heights, width_m, lap == 0)
    table = _drawn_table(cols, reach)
    for t in range(0, rows):
        if plain[t] == np.inf:
            continue
        bottom = t - lap if t > 0 else 0
        span = min(reach, rows - bottom)
        lo = t - bottom  # the course must rise above t
        if lo >= span:
            continue
        drawn = (table[bottom] if bottom >= 0 else drawn_widths(cols, bottom, span))[lo:span]
        new = slice(t + 1, bottom + span + 1)
        full = plain[t] + (cols.area_below[new] - cols.area_below[max(0, bottom)]) / width_m
        plain[new] = np.minimum(plain[new], full)
        if best[t] == np.inf:
            continue
        cost = best[t] + drawn * prices[lo:span] + fine[new]
        if heights[lo] < least * step_m:
            cost = np.where(heights[lo:span] < least * step_m, cost + 0.25 * drawn, cost)
        if tops:
            blocked = next((f for f in tops if f > t), rows)
            cost[max(0, blocked - t) :] = np.inf
        better = cost < best[new] - 1e-9
        best[new][better] = cost[better]
        came[new][better] = t
    bands: list[tuple[float, float]] = []
    t = rows
    while t > 0:
        prev = int(came[t])
        bottom = prev - lap if prev > 0 else 0
        top_m = first + t * step_m if t < rows else high
        bands.append((round(float(first + bottom * step_m), 6) if prev > 0 else float(low), round(float(top_m), 6)))
        t = prev
    return bands[::-1], float(plain[rows])


def _lap_price(chain: Chain, first: float, rows: int, step_m: float, lap_m: float) -> Floats:
    """Return for each grid row what it costs to end a course there: the weights of the bands its lap would cross."""
    out = np.zeros(rows + 1)
    heights = first + np.arange(rows + 1) * step_m
    for kind, _, _, y0, y1, weight in chain.clears:
        if kind == "course":
            hit = (heights > y0 + 1e-6) & (heights - lap_m < y1 - 1e-6)
            out[hit] += weight * LAP_PRICE_M
    out[rows] = 0.0  # the last course ends at the top of the wall: no lap there
    return out
