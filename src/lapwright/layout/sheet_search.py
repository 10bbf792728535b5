"""The search for the rows and joints of sheets over one area.

Heights of the first row are ranked by what they cost before any joint is set (`starts`); for the best of them a beam
search sets the joints span by span (`rows.ways`) and keeps count of the off-cuts (`offcuts.Stack`), so that the end
of one row starts another. What it minimizes, in sheets: joints where none should be, slivers, sheets opened, boards
to handle. All in row coordinates: x along the rows, y across them, metres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from lapwright.details.sheet_claim import SheetClaim
from lapwright.geometry import box, polygons
from lapwright.layout import starts
from lapwright.layout.offcuts import Rect, Stack, least_sheets
from lapwright.layout.rows import BAD, NARROW, Joints, RowRule, Shy, Span, lengths, units, ways

# How hard to look, from quick to thorough; the next only where the last does not reach what no layout beats:
# heights of the first row worked out, states kept from span to span, ways to set a span's joints cut from each state.
EFFORTS = ((3, 4, 10), (6, 12, 24))
MOST_STARTS = max(n for n, *_ in EFFORTS)
WANTED = 6  # off-cuts of a state that a span may begin or end with

Boards = list[tuple[Rect, tuple[Rect, ...]]]


@dataclass(frozen=True)
class Area:
    """What is searched: the claim, its region and what joints keep off, turned so that rows run along x. sheet: (long,
    high); seams: joints of the layer underneath; lying: False where x and y have changed places."""

    claim: SheetClaim
    region: BaseGeometry
    sheet: tuple[float, float]
    corners: tuple[tuple[float, float], ...]
    seams: tuple[LineString, ...]
    grid: float
    lying: bool


@dataclass(frozen=True)
class Found:
    """Rows and joints over an area: lines between the rows, ends included; per row its spans with their joints; what is bad
    of the rows alone, and in all, in sheets; sheets opened by the search's own count; spare: what is left of them, in
    sheets."""

    lines: list[float]
    rows: list[list[tuple[Span, Joints]]]
    rule_price: float
    price: float
    opened: int
    spare: float

    @property
    def key(self) -> tuple[float, float]:
        """Less is better."""
        return round(self.price + self.opened, 6), -round(self.spare, 6)


@dataclass(frozen=True)
class _State:
    """A search so far. trail: (way before, joints of one span)."""

    price: float
    stack: Stack
    below: Joints
    here: Joints
    trail: tuple[Any, ...] | None

    @property
    def key(self) -> tuple[float, tuple[Rect, ...], Joints]:
        return round(self.price + self.stack.opened - self.stack.worth(), 6), self.stack.free, self.here


@dataclass(frozen=True)
class _Plan:
    """One set of rows before joints are set: rule_price: what its level joints and slivers cost; strips: about how many
    sheets; rows: its slices."""

    area: Area
    lines: list[float]
    rule_price: float
    strips: float
    cut: starts.Slices
    rows: starts.Rows

    @property
    def key(self) -> tuple[float, float]:
        return round(self.rule_price + self.strips, 6), -self.lines[1]

    @cached_property
    def least_m(self) -> float:
        """A length of sheets that no way to set the joints beats."""
        return starts.least_length(self.cut, self.rows, self.area.sheet, self.area.claim.gap_m)

    @property
    def least(self) -> int:
        """The same in whole sheets."""
        return math.ceil(self.least_m / self.area.sheet[0] - 1e-6)


class Search:
    """One area with the sets of rows there are for it, cheapest first."""

    def __init__(self, area: Area) -> None:
        self.area = area
        self.plans = sorted(_plans(area), key=lambda p: p.key)

    def best(self, beat: Found | None = None) -> Found | None:
        """Return the best rows and joints; None when none can be better than `beat`, the best of another search."""
        best: Found | None = beat
        for count, keep, tried in EFFORTS:
            for plan in self.plans[:count]:
                if best is not None and best.rule_price <= plan.rule_price + 1e-6 and best.opened <= plan.least:
                    continue
                found = _rows(self.area, plan, keep, tried)
                if best is None or found.key < best.key:
                    best = found
        return None if best is beat else best

    def bound_m(self, rule_price: float, opened: int) -> float:
        """Return a length of sheets in metres that no layout as good by the rules (`rule_price`) beats, no more than that
        of the sheets opened."""
        allowed = [p.least_m for p in self.plans if p.rule_price <= rule_price + 1e-6]
        return float(min([opened * self.area.sheet[0], *allowed]))


def _plans(area: Area) -> list[_Plan]:
    """Return the sets of rows there are: the first row as high as each step of the grid."""
    claim, (long, high) = area.claim, area.sheet
    cut = starts.slices(area.region)
    _, low, _, top = area.region.bounds
    gap = claim.gap_m
    sets: list[list[float]] = []
    if not area.lying and claim.supports is not None:
        sets = _on_supports(low, top, high, claim, claim.supports)
    if not sets:
        heights = [high, *(k * area.grid for k in range(round(high / area.grid), 0, -1) if k * area.grid < high - 1e-6)]
        if top - low <= high + 1e-6:
            heights = heights[:1]
        sets = [_lines(low, top, high, h, gap) for h in heights]
    out = []
    for lines in sets:
        rows = starts.rows_of(cut, lines, gap)
        narrow = sum(h < claim.sliver_m - 1e-6 for h in {0: rows.full[0], len(rows.full) - 1: rows.full[-1]}.values())
        price = _line_price(area, lines) + 2 * NARROW * narrow + 0.2 * (len(lines) - 2)
        out.append(_Plan(area, lines, price, starts.strips_needed(rows, high) / long, cut, rows))
    return out


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
    return [lines for *_, lines in found[:MOST_STARTS]]


def _line_price(area: Area, lines: Sequence[float]) -> float:
    """Return the price of the level joints: those in line with an opening's corner or with a joint underneath."""
    claim = area.claim
    inner = np.array(lines[1:-1])
    if not len(inner):
        return 0.0
    left, _, right, _ = area.region.bounds
    levels = np.array([y for x, y in area.corners if left <= x <= right])
    bad = int(np.sum(np.abs(inner[:, None] - levels[None, :]) < claim.off_m - 1e-9)) if len(levels) else 0
    under = np.array([j.bounds[1] for j in area.seams if j.bounds[3] - j.bounds[1] < 1e-6])
    bad += int(np.sum(np.abs(inner[:, None] - under[None, :]) < claim.layer_off_m - 1e-9)) if len(under) else 0
    return BAD * bad


def _rows(area: Area, plan: _Plan, keep: int, tried: int) -> Found:
    """Set the joints of all rows of a plan by beam search."""
    claim, (long, high), lines = area.claim, area.sheet, plan.lines
    supports = claim.supports if area.lying else None
    rule = RowRule(
        units(long),
        units(claim.gap_m),
        units(claim.sliver_m),
        units(area.grid),
        None if supports is None else tuple(sorted(map(units, supports))),
    )
    size, stagger = (units(long), units(high)), units(claim.stagger_m)
    beam = [_State(plan.rule_price, Stack(size, rule.sliver), (), (), None)]
    made: list[list[Span]] = []
    last = len(lines) - 2
    for row, (y0, y1) in enumerate(pairwise(lines)):
        spans = _spans(area.region, y0, y1, (claim.gap_m / 2 if row else 0.0, claim.gap_m / 2 if row < last else 0.0))
        made.append(spans)
        near = [(j, claim.layer_off_m) for j in _upright(area.seams, y0, y1)]
        near += [(x, claim.off_m) for x, y in area.corners if y0 - claim.off_m < y < y1 + claim.off_m]
        shy = [(units(x - d), units(x + d)) for x, d in near]
        beam = [_State(s.price, s.stack, s.here, (), s.trail) for s in beam]
        for span in spans:
            beam = _grown(beam, span, rule, shy, stagger, tried)[:keep]
    return min((_ended(s, made, plan, size, rule) for s in beam), key=lambda f: f.key)


def _grown(
    beam: Sequence[_State], span: Span, rule: RowRule, shy: Sequence[tuple[int, int]], stagger: int, tried: int
) -> list[_State]:
    """Return the states after one more span, best first."""
    fixed = [(a, b) for a, b in shy if b > span.low and a < span.high]
    grown: dict[tuple[object, ...], _State] = {}
    cuts: dict[Joints, Boards] = {}
    for state in beam:
        keep_off = fixed + [(x - stagger, x + stagger) for x in state.below if span.low < x + stagger and x - stagger < span.high]
        wanted = dict.fromkeys(a for a, b in reversed(state.stack.free) if b >= span.height)
        for bad, joints in ways(span, rule, Shy(keep_off), list(wanted)[:WANTED])[:tried]:
            boards = cuts.get(joints)
            if boards is None:
                boards = cuts[joints] = _cut(span, joints, rule.gap)
            stack = state.stack.cut(boards)
            new = _State(state.price + bad, stack, state.below, state.here + joints, (state.trail, joints))
            name = (new.here, stack.free, stack.opened)
            if name not in grown or new.price < grown[name].price:
                grown[name] = new
    return sorted(grown.values(), key=lambda s: s.key)


def _cut(span: Span, joints: Joints, gap: int) -> Boards:
    """Return the boards of a span, each as the rectangle it is cut from and the hollows in it, longest first."""
    sizes = lengths(span, joints, gap)
    if not span.hollows:
        return [((size, span.height), ()) for size in sorted(sizes, reverse=True)]
    out: Boards = []
    at = span.low
    for size in sizes:
        hollows = tuple(
            (min(b, at + size) - max(a, at), h) for a, b, h in span.hollows if min(b, at + size) > max(a, at)
        )
        out.append(((size, span.height), hollows))
        at += size + gap
    return sorted(out, reverse=True)


def _ended(state: _State, made: Sequence[Sequence[Span]], plan: _Plan, size: Rect, rule: RowRule) -> Found:
    """Return a finished search: joints by row, and sheets counted as cut on the way or sorted by size, whichever is less."""
    joints: list[Joints] = []
    trail = state.trail
    while trail is not None:
        trail, one = trail
        joints.append(one)
    left = iter(reversed(joints))
    rows = [[(span, next(left)) for span in spans] for spans in made]
    boards = [b for row in rows for span, at in row for b in _cut(span, at, rule.gap)]
    opened = min(state.stack.opened, least_sheets(boards, size, rule.sliver))
    used = sum(w * h - sum(a * b for a, b in hollows) for (w, h), hollows in boards) / (size[0] * size[1])
    return Found(plan.lines, rows, plan.rule_price, state.price, opened, opened - used)


def _spans(region: BaseGeometry, y0: float, y1: float, gaps: tuple[float, float]) -> list[Span]:
    """Return the stretches of a row: the parts of the region in it, left to right; gaps: open joints below and above."""
    left, _, right, _ = region.bounds
    parts = polygons(region.intersection(box(left - 1, y0, right + 1, y1)))
    out = []
    for part in sorted(parts, key=lambda p: (p.bounds[0], p.bounds[1])):
        x0, b0, x1, b1 = part.bounds
        if x1 - x0 <= 1e-3 or b1 - b0 <= 1e-3:
            continue
        low, high = max(b0, y0 + gaps[0]), min(b1, y1 - gaps[1])
        hollows = []
        if part.area < (x1 - x0) * (b1 - b0) - 1e-6:
            for gone in polygons(box(x0, low, x1, high).difference(part)):
                a0, c0, a1, c1 = gone.bounds
                if gone.area > 0.99 * (a1 - a0) * (c1 - c0):
                    hollows.append((units(a0), units(a1), units(c1 - c0)))
        out.append(Span(units(x0), units(x1), units(high - low), tuple(hollows)))
    return out


def _upright(seams: Sequence[LineString], y0: float, y1: float) -> list[float]:
    return [
        j.bounds[0]
        for j in seams
        if j.bounds[2] - j.bounds[0] < 1e-6 and j.bounds[3] > y0 + 1e-6 and j.bounds[1] < y1 - 1e-6
    ]
