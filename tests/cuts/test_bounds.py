"""Bounds are bounds: never above what is possible, and as high as an independent program says.

A roll that is cut up at random can be put together again: whatever is taken from it, its length is enough.
"""

from __future__ import annotations

import os
import random
from itertools import combinations, pairwise

import numpy as np
import pytest
import shapely
from scipy.optimize import linprog
from shapely import Polygon
from shapely.affinity import translate

from lapwright.cuts.apart import units_apart
from lapwright.cuts.barlp import BarProgram, bar_bound
from lapwright.cuts.bars import items_of, program_of
from lapwright.cuts.fewlp import few_bound
from lapwright.cuts.mating import meetings

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
W, L = 1.5, 20.0
Flat = tuple[Polygon, list[bool]]


def free(poly: Polygon, turn: bool = True) -> Flat:
    """The flat at the origin with the ways it may lie."""
    x0, y0, x1, y1 = poly.bounds
    w, h = x1 - x0, y1 - y0
    ways = [a for a, (p, q) in ((False, (w, h)), (True, (h, w))) if p <= L + 1e-9 and q <= W + 1e-9]
    return translate(poly, -x0, -y0), ways if turn else ways[:1]


def sliced_bound(flats: list[Flat]) -> float:
    """The bound by column generation alone, whatever the number of pieces."""
    program = program_of(items_of(flats), W)
    return program.fixed + (BarProgram(program, W).bound() if program.bars else 0.0)


def cut_up(
    rng: random.Random, x0: float, y0: float, x1: float, y1: float, parts: list[Polygon], depth: int
) -> None:
    """Cut a rectangle by straight cuts through and through; sometimes set a piece into a hole of another."""
    w, h = x1 - x0, y1 - y0
    if depth == 0 or (w < 0.3 and h < 0.3):
        parts.append(shapely.box(x0, y0, x1, y1))
        return
    kind = rng.random()
    if kind < 0.25 and w > 0.9 and h > 0.6:
        # a notch or a hole, and what fills it
        a, b = sorted(rng.sample([x0, *(round(x0 + w * k / 10, 3) for k in range(1, 10)), x1], 2))
        c, d = sorted(rng.sample([y0, *(round(y0 + h * k / 10, 3) for k in range(1, 10)), y1], 2))
        inner = shapely.box(a, c, b, d)
        outer = shapely.difference(shapely.box(x0, y0, x1, y1), inner)
        if isinstance(outer, Polygon):
            parts.append(outer)
            cut_up(rng, a, c, b, d, parts, depth - 1)
            return
    if kind < 0.35 and w > 0.8:
        # a slanted cut
        a, b = round(x0 + w * rng.uniform(0.2, 0.8), 3), round(x0 + w * rng.uniform(0.2, 0.8), 3)
        parts.append(Polygon([(x0, y0), (a, y0), (b, y1), (x0, y1)]))
        parts.append(Polygon([(a, y0), (x1, y0), (x1, y1), (b, y1)]))
        return
    if (kind < 0.7 and w > 0.3) or h < 0.3:
        m = round(x0 + w * rng.uniform(0.2, 0.8), 3)
        cut_up(rng, x0, y0, m, y1, parts, depth - 1)
        cut_up(rng, m, y0, x1, y1, parts, depth - 1)
    else:
        m = round(y0 + h * rng.uniform(0.2, 0.8), 3)
        cut_up(rng, x0, y0, x1, m, parts, depth - 1)
        cut_up(rng, x0, m, x1, y1, parts, depth - 1)


@pytest.mark.parametrize("seed", range(60 * SOAK))
def test_a_roll_that_was_cut_up_is_long_enough_for_its_pieces(seed: int) -> None:
    rng = random.Random(seed)
    length = rng.uniform(2.0, 12.0)
    parts: list[Polygon] = []
    x = 0.0
    while x < length - 1e-6:
        step = min(length - x, rng.uniform(0.5, 5.0))
        cut_up(rng, x, 0.0, x + step, W, parts, rng.randrange(1, 6))
        x += step
    kept = [p for p in parts if rng.random() < rng.choice([1.0, 0.7])]
    turn = rng.random() < 0.7
    flats = [free(p, turn) for p in kept]
    bound = bar_bound(items_of(flats), W)
    assert max(bound, sliced_bound(flats)) <= length + 1e-6
    if len(kept) == len(parts) and not turn:
        # nothing was taken away, so that the area alone asks for almost the whole length
        assert bound >= 0.8 * length


def patterns(heights: list[int], room: int) -> list[list[int]]:
    """Every way to stack heights in a room, by plain recursion."""
    out: list[list[int]] = []

    def go(k: int, left: int, counts: list[int]) -> None:
        if k == len(heights):
            if any(counts):
                out.append(list(counts))
            return
        for n in range(left // heights[k] + 1):
            counts.append(n)
            go(k + 1, left - n * heights[k], counts)
            counts.pop()

    go(0, room, [])
    return out


@pytest.mark.parametrize("seed", range(20 * SOAK))
def test_strips_alone_have_the_bound_of_the_program_with_every_pattern_written_out(seed: int) -> None:
    rng = random.Random(seed)
    heights = rng.sample([200, 230, 260, 310, 350, 400, 520, 610, 700], rng.randrange(2, 6))
    strips = [(rng.choice(heights), rng.uniform(1.6, 4.0)) for _ in range(rng.randrange(3, 25))]
    asked = [sum(length for h, length in strips if h == height) for height in heights]
    ways = patterns(heights, 1500)
    a = -np.array(ways, dtype=float).T
    direct = linprog(np.ones(len(ways)), A_ub=a, b_ub=-np.array(asked), method="highs")
    flats = [(shapely.box(0, 0, length, h / 1000), [False]) for h, length in strips]
    assert direct.fun * (1 - 1e-3) <= sliced_bound(flats) <= direct.fun + 1e-6
    assert bar_bound(items_of(flats), W) >= direct.fun * (1 - 1e-3)


def test_strips_that_may_be_turned_get_the_better_of_both_ways_in_the_written_out_program() -> None:
    # 0.4 x 0.9 strips: three lanes of 0.4 in 1.5, or one lane of 0.9 with one of 0.4 beside it
    count = 7
    heights = [400, 900]
    ways = patterns(heights, 1500)
    columns = [[-n for n in way] + [0.0] for way in ways]
    columns += [[0.9, 0.0, -1.0], [0.0, 0.4, -1.0]]  # one strip along asks 0.9 m of 0.4, across 0.4 m of 0.9
    cost = [1.0] * len(ways) + [0.0, 0.0]
    direct = linprog(cost, A_ub=np.array(columns).T, b_ub=[0.0, 0.0, -count], method="highs")
    flats = [(shapely.box(0, 0, 0.9, 0.4), [False, True]) for _ in range(count)]
    assert direct.fun * (1 - 1e-3) <= sliced_bound(flats) <= direct.fun + 1e-6
    assert bar_bound(items_of(flats), W) >= direct.fun * (1 - 1e-3)


@pytest.mark.parametrize("seed", range(20 * SOAK))
def test_few_strips_have_the_bound_of_all_sets_that_lie_side_by_side(seed: int) -> None:
    rng = random.Random(seed)
    strips = [
        (rng.choice([200, 260, 350, 410, 520, 700]), round(rng.uniform(1.6, 4.0), 3))
        for _ in range(rng.randrange(2, 10))
    ]
    n = len(strips)
    sets = [c for k in range(1, n + 1) for c in combinations(range(n), k) if sum(strips[i][0] for i in c) <= 1500]
    covers = np.array([[i in c for c in sets] for i in range(n)], dtype=float)
    direct = linprog(np.ones(len(sets)), A_ub=-covers, b_ub=[-length for _, length in strips], method="highs")
    flats = [(shapely.box(0, 0, length, h / 1000), [False]) for h, length in strips]
    bound = few_bound(program_of(items_of(flats), W), W)
    assert bound is not None and bound == pytest.approx(direct.fun, rel=1e-5)
    assert max(length for _, length in strips) * (1 - 1e-5) <= bound <= sum(length for _, length in strips)
    assert bound >= sliced_bound(flats) * (1 - 1e-5)


def test_a_piece_alone_cannot_be_shorter_than_its_short_side() -> None:
    metal = shapely.difference(shapely.box(0, 0, 0.381, 0.356), shapely.box(0.3, 0.3, 0.381, 0.356))
    assert bar_bound(items_of([(metal, [False, True])]), 0.61) == pytest.approx(0.356, rel=1e-5)


def test_a_strip_longer_than_the_window_does_not_count_as_lying_in_it() -> None:
    course = shapely.difference(shapely.box(0, 0, 4, W), shapely.box(1, 0.2, 2, 1.2))
    short = [(shapely.box(0, 0, 0.9, 0.5), [False]) for _ in range(2)]
    long = [(shapely.box(0, 0, 1.8, 0.5), [False])]
    assert bar_bound(items_of([(course, [False]), *short]), W) == pytest.approx(4.0)
    assert bar_bound(items_of([(course, [False]), *long]), W) == pytest.approx(4.0 + 1.8)


def test_a_knife_cut_is_no_room() -> None:
    slit = shapely.difference(shapely.box(0, 0, 3, W), shapely.box(1, 0.5, 2, 0.501))
    strip = (shapely.box(0, 0, 0.5, 0.3), [False])
    assert bar_bound(items_of([(slit, [False]), strip]), W) == pytest.approx(3.0 + 0.5)


def split(rng: random.Random, length: float) -> list[Polygon]:
    """A roll cut across into wide pieces by straight, slanted and stepped cuts."""
    x, cuts = 0.0, [[(0.0, 0.0), (0.0, W)]]
    while x < length:
        x += rng.uniform(1.6, 4.0)
        a, b = x, x + rng.choice([0.0, rng.uniform(-1.0, 1.0)])
        y = round(rng.uniform(0.1, W - 0.1), 3)
        slant = rng.random() < 0.6
        cuts.append([(a, 0.0), (b, W)] if slant else [(a, 0.0), (a, y), (b, y), (b, W)])
    return [Polygon([*left, *reversed(right)]) for left, right in pairwise(cuts)]


@pytest.mark.parametrize("seed", range(40 * SOAK))
def test_wide_pieces_save_no_more_than_the_bound_where_they_lay_close(seed: int) -> None:
    rng = random.Random(seed)
    parts = split(rng, rng.uniform(4.0, 15.0))
    if rng.random() < 0.5:  # one piece cut away: the others lie as they lay
        del parts[rng.randrange(len(parts))]
    whole = shapely.union_all([shapely.box(*p.bounds) for p in parts])
    drawn = sum(g.bounds[2] - g.bounds[0] for g in getattr(whole, "geoms", [whole]))
    saved = sum(p.bounds[2] - p.bounds[0] for p in parts) - drawn
    items = items_of([free(p, False) for p in rng.sample(parts, len(parts))])
    _, most = meetings([(i.ways[0], i.count) for i in items], W)
    assert saved <= most + 1e-6
    # as long as no piece could get past another one there is an answer, and it is no dream
    assert most == np.inf or most <= sum(p.bounds[2] - p.bounds[0] for p in parts) / 2 + 1e-6
    assert bar_bound(items, W) <= drawn + 1e-6


def test_three_tips_make_one_pair() -> None:
    # 4 m long, 3 m of it a slope: two of them lie in 5 m, slope to slope, and the third lies alone
    tip = Polygon([(0, 0), (4, 0), (1, W), (0, W)])
    items = items_of([(tip, [False]) for _ in range(3)])
    _, most = meetings([(i.ways[0], i.count) for i in items], W)
    # the ends of three pieces make one pair and a half in the linear program; ten slices a slope add some length
    assert 3.0 <= most <= 1.5 * 3.6
    assert 12.0 - most - 1e-3 <= bar_bound(items, W) <= 9.0 + 1e-6


@pytest.mark.parametrize("seed", range(40 * SOAK))
def test_sheets_that_were_cut_up_are_enough_for_their_pieces(seed: int) -> None:
    rng = random.Random(seed)
    count, long = rng.randrange(1, 6), 2.4
    parts: list[Polygon] = []
    for _ in range(count):
        cut_up(rng, 0.0, 0.0, long, W, parts, rng.randrange(1, 4))
    kept = [p for p in parts if rng.random() < rng.choice([1.0, 0.7])]
    flats = []
    for p in kept:
        poly, ways = free(p)
        flats.append((poly, [a for a in ways if not a or poly.bounds[3] <= long]))
    assert units_apart(items_of(flats), long, W) <= count


def test_strips_that_fit_beside_no_sheet_take_sheets_of_their_own() -> None:
    # by hand: 1.8 m of a 2.44 m sheet leaves 0.64 m, and a strip of 2 x 0.4 m lies lengthwise only; three fit on one
    big = [(shapely.box(0, 0, 1.8, 1.22), [False]) for _ in range(3)]
    strips = [(shapely.box(0, 0, 2.0, 0.4), [False]) for _ in range(4)]
    small = [(shapely.box(0, 0, 0.6, 1.22), [False])]
    assert units_apart(items_of([*big, *strips, *small]), 2.44, 1.22) == 5
    assert units_apart(items_of([*big, *strips[:3]]), 2.44, 1.22) == 4


def test_a_few_pieces_lie_whole_one_way_or_the_other() -> None:
    # by hand: the strip lies beside the second sheet, so that the lengths of the sheets and the bar add up
    sizes = [(3.8862, 5.1308), (3.5052, 0.762), (3.3528, 6.096), (0.5334, 6.096)]
    flats = [(shapely.box(0, 0, w, h), [False, True]) for w, h in sizes]
    flats[2] = (flats[2][0], [False])
    assert bar_bound(items_of(flats), 6.096) == pytest.approx(3.8862 + 3.3528 + 0.5334, rel=1e-5)
