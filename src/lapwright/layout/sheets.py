"""Sheets over an area: rows, joints staggered in the row and between layers, boards, seam tape.

The height of the first row is tried on a grid; the joints of each row come from dynamic programming
(`rows.Joints`), and rows are put together by a beam search that keeps count of off-cuts, so that the end
of one row starts another. What it minimizes, in sheets: sheets opened, joints where none should be,
slivers, pieces to handle.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from lapwright.catalog.model import Product
from lapwright.details.sheet_claim import SheetClaim
from lapwright.geometry import box, polygons
from lapwright.layout.rows import BAD, NARROW, Joints, Offcuts, RowRule, Shy, Span, lengths
from lapwright.memo import mark

BEAM = 6  # states kept from span to span
STARTS = 4  # heights of the first row that are worked out in full
SWAP = (0.0, 1.0, 1.0, 0.0, 0.0, 0.0)  # x and y change places: its own inverse


@dataclass(frozen=True)
class Board:
    """One board in row coordinates: its row, its polygon (clipped to the region)."""

    row: int
    polygon: Polygon


@dataclass(frozen=True)
class Sheeting:
    """How one claim's area is covered: boards, joints (centers, in surface coordinates), and what it cost.

    opened: sheets that the plan opens by its own count (packing may need fewer); broken: joints where none
    should be; lying: whether the rows run along x.
    """

    claim: SheetClaim
    boards: tuple[Board, ...]
    joints: tuple[LineString, ...]
    opened: float
    broken: int
    lying: bool


_Key = tuple[float, float, tuple[tuple[float, ...], ...]]


@dataclass
class _State:
    price: float
    offcuts: dict[float, Offcuts]
    rows: list[list[tuple[Span, tuple[float, ...]]]]

    @property
    def total(self) -> float:
        return self.price + sum(o.opened for o in self.offcuts.values())

    @property
    def key(self) -> _Key:
        free = sum(sum(o.free) for o in self.offcuts.values())
        return round(self.total, 6), -round(free, 6), tuple(j for row in self.rows[-1:] for _, j in row)


def lay_sheets(
    claim: SheetClaim, product: Product, grid_m: float, under: Sequence[LineString] = ()
) -> Sheeting:
    """Cover the claim's region with sheets.

    grid_m: joints are tried on it; under: joints of the layer underneath, on the same surface. Raises KeyError when
    the product has no width_m or length_m. Deterministic; a region with no interior gives no boards.
    """
    ways = {"lying": (True,), "standing": (False,), "either": (True, False)}[claim.lay]
    found = [_laid(claim, product, grid_m, under, lying) for lying in ways]
    return min(found, key=lambda s: (round(s.opened + BAD * s.broken, 6), not s.lying))


def _laid(
    claim: SheetClaim, product: Product, grid_m: float, under: Sequence[LineString], lying: bool
) -> Sheeting:
    def turn(geom: Any) -> Any:
        return geom if lying else affine_transform(geom, SWAP)

    region = shapely.make_valid(turn(claim.region))
    if not polygons(region):
        return Sheeting(claim, (), (), 0.0, 0, lying)
    corners = [p if lying else (p[1], p[0]) for p in claim.corners]
    seams = [turn(j) for j in under]
    long, high = product.needed("length_m"), product.needed("width_m")
    _, low, _, top = region.bounds
    plans = [] if lying or claim.supports is None else _on_supports(low, top, high, claim, claim.supports)
    if not plans:
        starts = _starts(low, top, high, claim, corners, seams, grid_m)
        plans = [_lines(low, top, high, first, claim.gap_m) for first in starts]
    known: dict[tuple[float, float, Shy], Joints] = {}
    tried = [_rows(claim, region, lines, (long, high), corners, seams, grid_m, lying, known) for lines in plans]
    best, lines = min(tried, key=lambda t: t[0].key)
    boards, joints = _boards(region, best, lines, claim.gap_m)
    return Sheeting(
        claim,
        tuple(replace(b, polygon=turn(b.polygon)) for b in boards),
        tuple(turn(j) for j in joints),
        sum(o.opened for o in best.offcuts.values()),
        broken_joints(claim, joints, corners, seams),
        lying,
    )


def broken_joints(
    claim: SheetClaim, joints: Sequence[LineString], corners: Sequence[tuple[float, float]], seams: Sequence[LineString]
) -> int:
    """Return how many joints lie in line with a corner, or too near a joint beside or underneath; row coordinates."""
    count = 0
    upright = [j for j in joints if j.bounds[2] - j.bounds[0] < 1e-6]
    for n, j in enumerate(joints):
        axis = 0 if j.bounds[2] - j.bounds[0] < 1e-6 else 1
        low, high = j.bounds[1 - axis], j.bounds[3 - axis]
        at = j.bounds[axis]
        in_line = any(
            abs(c[axis] - at) < claim.off_m - 1e-6 and low - claim.off_m < c[1 - axis] < high + claim.off_m for c in corners
        )
        over = any(
            abs(s.bounds[axis] - at) < claim.layer_off_m - 1e-6
            and s.bounds[axis + 2] - s.bounds[axis] < 1e-6
            and min(high, s.bounds[3 - axis]) - max(low, s.bounds[1 - axis]) > 1e-3
            for s in seams
        )
        beside = axis == 0 and any(
            abs(o.bounds[0] - at) < claim.stagger_m - 1e-6 and abs(o.bounds[3] - low) < claim.gap_m + 1e-3
            for o in upright
            if o is not joints[n]
        )
        count += in_line or over or beside
    return count


def _lines(low: float, top: float, high: float, first: float, gap: float) -> list[float]:
    """Return the centers of the joints between rows, the ends of the region included, bottom to top.

    >>> _lines(0.0, 3.0, 1.2, 1.2, 0.0)
    [0.0, 1.2, 2.4, 3.0]
    """
    out = [low]
    at = low + first + gap / 2
    while at < top - gap / 2 - 1e-6:
        out.append(round(at, 6))
        at += high + gap
    return [*out, top]


def _on_supports(
    low: float, top: float, high: float, claim: SheetClaim, supports: Sequence[float]
) -> list[list[float]]:
    """Return the lines between rows of standing sheets worth working out: every one on a support, each as far on as a sheet
    reaches; fewest rows, then fewest slivers. None when the supports are too far apart."""
    gap = claim.gap_m
    inner = [s for s in sorted(supports) if low + 1e-6 < s < top - 1e-6]
    if top - low <= high + 1e-6:
        return [[low, top]]
    found: list[tuple[int, int, float, list[float]]] = []
    for first in (s for s in inner if s - low <= high + gap / 2 + 1e-6):
        lines = [low, first]
        while top - lines[-1] > high + gap / 2 + 1e-6:
            far = [s for s in inner if lines[-1] + 1e-6 < s <= lines[-1] + high + gap + 1e-6]
            if not far:
                break
            lines.append(far[-1])
        else:
            ends = (lines[1] - low - gap / 2, top - lines[-1] - gap / 2)
            found.append((len(lines), sum(e < claim.sliver_m - 1e-6 for e in ends), -first, [*lines, top]))
    found.sort(key=lambda f: f[:3])
    return [lines for *_, lines in found[:STARTS]]


def _starts(
    low: float,
    top: float,
    high: float,
    claim: SheetClaim,
    corners: Sequence[tuple[float, float]],
    seams: Sequence[LineString],
    grid: float,
) -> list[float]:
    """Return the heights of the first row worth working out: fewest level joints in line with corners, slivers, rows."""
    level = [(j.bounds[1], j.length) for j in seams if abs(j.bounds[3] - j.bounds[1]) < 1e-6]
    heights = np.array([y for _, y in corners])
    scored = []
    steps = round(high / grid)
    for k in range(steps, 0, -1):
        first = min(k * grid, high)
        lines = _lines(low, top, high, first, claim.gap_m)
        rows = len(lines) - 1
        last = lines[-1] - lines[-2] - (claim.gap_m / 2 if rows > 1 else 0)
        bad = sum(int(np.sum(np.abs(heights - y) < claim.off_m - 1e-9)) for y in lines[1:-1]) if len(heights) else 0
        over = sum(w for y, w in level for line in lines[1:-1] if abs(line - y) < claim.layer_off_m - 1e-9)
        narrow = sum(h < claim.sliver_m - 1e-6 for h in (min(first, top - low), last))
        # ripping both the first and the last row wastes more than ripping one
        ripped = sum(abs(h - high) > 1e-6 for h in ((first, last) if rows > 1 else (last,)))
        scored.append((bad * BAD / 4 + over * 2 + narrow * NARROW * 2 + rows * 0.2 + ripped * 0.1, -first))
    scored.sort(key=lambda t: (round(t[0], 6), t[1]))
    picked = [-f for _, f in scored[:STARTS]]
    if high not in picked and scored:
        picked.append(high)
    return picked


def _rows(
    claim: SheetClaim,
    region: BaseGeometry,
    lines: list[float],
    sheet: tuple[float, float],
    corners: Sequence[tuple[float, float]],
    seams: Sequence[LineString],
    grid: float,
    lying: bool,
    known: dict[tuple[float, float, Shy], Joints],
) -> tuple[_State, list[float]]:
    """Choose the joints of all rows between `lines` by beam search. known: stretches worked out, for the next call."""
    long, high = sheet
    supports = claim.supports if lying else None
    rule = RowRule(long, claim.gap_m, claim.sliver_m, grid, supports)
    beam = [_State(_line_price(claim, region, lines, corners, seams), {}, [])]
    for y0, y1 in pairwise(lines):
        spans = _spans(region, y0, y1)
        for state in beam:
            state.rows.append([])
        rip = round(min(y1 - y0, high), 4)
        side_by_side = max(1, int((high + 1e-6) / rip))
        near = [(j, claim.layer_off_m) for j in _upright(seams, y0, y1)]
        near += [(x, claim.off_m) for x, y in corners if y0 - claim.off_m < y < y1 + claim.off_m]
        for span in spans:
            reach = span.low - claim.stagger_m, span.high + claim.stagger_m
            fixed = [(x, d) for x, d in near if reach[0] < x < reach[1]]
            long_first: dict[tuple[float, ...], list[float]] = {}
            grown: dict[tuple[object, ...], tuple[_Key, _State]] = {}
            for state in beam:
                before = tuple(
                    x for s, js in (state.rows[-2] if len(state.rows) > 1 else []) for x in js if reach[0] < x < reach[1]
                )
                shy = Shy(
                    tuple(x for x, _ in fixed) + before,
                    tuple(d for _, d in fixed) + (claim.stagger_m,) * len(before),
                )
                stretch = span.low, span.high, shy
                if stretch not in known:
                    known[stretch] = Joints(span, rule, shy)
                pool = state.offcuts.get(rip) or Offcuts(long, 1 / side_by_side, claim.sliver_m, [])
                for bad, joints in known[stretch].choices(pool.free):
                    after = pool.copy()
                    if joints not in long_first:
                        long_first[joints] = sorted(lengths(span, joints, claim.gap_m), reverse=True)
                    for piece in long_first[joints]:
                        after.cut(piece)
                    new = _State(
                        state.price + bad,
                        {**state.offcuts, rip: after},
                        [*state.rows[:-1], [*state.rows[-1], (span, joints)]],
                    )
                    name = (joints, tuple(after.free), tuple(js for _, js in new.rows[-1]))
                    key = new.key
                    if name not in grown or key < grown[name][0]:
                        grown[name] = key, new
            beam = [s for _, s in sorted(grown.values(), key=lambda t: t[0])[:BEAM]]
    return beam[0], lines


def _line_price(
    claim: SheetClaim,
    region: BaseGeometry,
    lines: Sequence[float],
    corners: Sequence[tuple[float, float]],
    seams: Sequence[LineString],
) -> float:
    """Return the price of the level joints: those in line with an opening's corner or with a joint underneath."""
    bad = 0
    left, _, right, _ = region.bounds
    for y in lines[1:-1]:
        bad += sum(abs(y - cy) < claim.off_m - 1e-9 and left <= cx <= right for cx, cy in corners)
        bad += sum(
            abs(j.bounds[1] - y) < claim.layer_off_m - 1e-9 and j.bounds[3] - j.bounds[1] < 1e-6 for j in seams
        )
    return BAD * bad


def _spans(region: BaseGeometry, y0: float, y1: float) -> list[Span]:
    """Return the stretches of a row: the parts of the region in it, left to right."""
    left, _, right, _ = region.bounds
    cut = region.intersection(box(left - 1, y0, right + 1, y1))
    found = [p.bounds for p in polygons(cut) if p.bounds[2] - p.bounds[0] > 1e-3 and p.bounds[3] - p.bounds[1] > 1e-3]
    return [Span(round(b[0], 6), round(b[2], 6), y0, y1) for b in sorted(found, key=lambda b: (b[0], b[1]))]


def _upright(seams: Iterable[LineString], y0: float, y1: float) -> list[float]:
    return [
        j.bounds[0]
        for j in seams
        if j.bounds[2] - j.bounds[0] < 1e-6 and j.bounds[3] > y0 + 1e-6 and j.bounds[1] < y1 - 1e-6
    ]


def _boards(
    region: BaseGeometry, state: _State, lines: Sequence[float], gap: float
) -> tuple[list[Board], list[LineString]]:
    """Cut the region along the joints: the boards in working order, and the joints as lines."""
    boards: list[Board] = []
    joints: list[LineString] = []
    last = len(lines) - 2
    for row, spans in enumerate(state.rows):
        y0 = lines[row] + (gap / 2 if row else 0.0)
        y1 = lines[row + 1] - (gap / 2 if row < last else 0.0)
        band = region.intersection(box(region.bounds[0] - 1, lines[row], region.bounds[2] + 1, lines[row + 1]))
        parts = sorted(
            (p for p in polygons(band) if p.bounds[2] - p.bounds[0] > 1e-3 and p.bounds[3] - p.bounds[1] > 1e-3),
            key=lambda p: (round(p.bounds[0], 6), round(p.bounds[1], 6)),
        )
        for part, (span, at) in zip(parts, spans, strict=True):
            ends = [span.low, *at, span.high]
            for i, (a, b) in enumerate(pairwise(ends)):
                x0 = a + (gap / 2 if i else 0.0)
                x1 = b - (gap / 2 if i < len(ends) - 2 else 0.0)
                boards += [Board(row, p) for p in polygons(part.intersection(box(x0, y0, x1, y1)))]
            for x in at:
                seam = part.intersection(LineString([(x, lines[row]), (x, lines[row + 1])]))
                joints += _segments(seam)
        if row < last:
            y = lines[row + 1]
            above = region.intersection(box(region.bounds[0] - 1, y, region.bounds[2] + 1, lines[row + 2]))
            joints += _segments(shapely.intersection(_foot(band, y), _foot(above, y)))
    return boards, joints


def _foot(band: BaseGeometry, y: float) -> BaseGeometry:
    """Return where the band touches the height y."""
    line = LineString([(band.bounds[0] - 1, y), (band.bounds[2] + 1, y)]) if not band.is_empty else LineString()
    return band.intersection(line)


def _segments(geom: BaseGeometry) -> list[LineString]:
    parts = getattr(geom, "geoms", [geom])
    return [
        LineString([p.coords[0], p.coords[-1]]) for p in parts if isinstance(p, LineString) and p.length > 1e-3
    ]


def sheet_key(claim: SheetClaim) -> tuple[Hashable, ...]:
    """Return everything that a claim's sheeting depends on, as a key."""
    rest = tuple(repr(getattr(claim, f.name)) for f in fields(claim) if f.name != "region")
    return (mark(claim.region), *rest)


def off_supports(laid: Sheeting) -> int:
    """Return how many upright joints miss the supports that the claim names."""
    at = [j.bounds[0] for j in laid.joints if j.bounds[2] - j.bounds[0] < 1e-6]
    supports = laid.claim.supports
    return 0 if supports is None else sum(all(abs(x - s) > 1e-4 for s in supports) for x in at)
