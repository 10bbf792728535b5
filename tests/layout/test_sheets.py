"""Sheets over an area: covered, staggered, no slivers; counts against an exhaustive search and the packing bound."""

from __future__ import annotations

import itertools
import os
import random

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from shapely import Polygon, union_all

from lapwright.catalog.load import builtin
from lapwright.cuts import pack
from lapwright.details.sheet_claim import SheetClaim
from lapwright.geometry import box
from lapwright.layout.rows import Offcuts, Span, lengths
from lapwright.layout.sheet_pieces import seam_runs, sheet_pieces, sheeting_findings
from lapwright.layout.sheets import lay_sheets
from lapwright.scope.model import Scope

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
IN = 0.0254
CATALOG = builtin()
FOAM = CATALOG["xps-iv"]
LONG, HIGH = FOAM.needed("length_m"), FOAM.needed("width_m")


def claim(region: Polygon, **more: object) -> SheetClaim:
    return SheetClaim(
        "f/z/insulation/1", "f/z/insulation", "board", "insulation", "xps-iv", "f", region, "s", 1, **more  # type: ignore[arg-type]
    )


def wall(seed: int) -> tuple[Polygon, list[tuple[float, float]]]:
    """A random wall with up to six openings that do not touch, and their corners."""
    rng = random.Random(seed)
    width, height = rng.uniform(3, 11), rng.uniform(2.4, 6.5)
    region, corners, taken = box(0, 0, width, height), [], []
    if seed % 3 == 1:  # a gable
        region = Polygon([(0, 0), (width, 0), (width, height), (width / 2, height + width / 3), (0, height)])
    if seed % 3 == 2:  # a step
        region = region.difference(box(0, 0, rng.uniform(0.5, width / 2), rng.uniform(0.3, 1.0)))
    for _ in range(rng.randint(0, 6)):
        x, y = rng.uniform(0.4, width - 1.6), rng.uniform(0.3, height - 1.9)
        hole = box(x, y, x + rng.uniform(0.6, 1.2), y + rng.uniform(0.6, 1.5))
        if any(hole.distance(t) < 0.5 for t in taken) or not region.contains(hole.buffer(0.15)):
            continue
        taken.append(hole)
        region = region.difference(hole)
        corners += [(float(a), float(b)) for a, b in list(hole.exterior.coords)[:4]]
    return region, corners


@pytest.mark.parametrize("seed", range(50 * SOAK))
def test_random_walls_are_covered_once_by_sheets_that_exist(seed: int) -> None:
    region, corners = wall(seed)
    ask = claim(region, corners=tuple(corners))
    laid = lay_sheets(ask, FOAM, IN)
    pieces, cuts = sheet_pieces(laid, IN)
    polys = [p.polygon for p in pieces]
    assert sum(p.area for p in polys) == pytest.approx(region.area, rel=1e-6)
    assert union_all(polys).symmetric_difference(region).area < 1e-6 * len(polys)
    assert len({p.id for p in pieces}) == len(pieces) == len(cuts)
    for p in polys:
        x0, y0, x1, y1 = p.bounds
        assert x1 - x0 <= LONG + 1e-6 and y1 - y0 <= HIGH + 1e-6
    # neighbors up and down: their upright joints stand apart, unless the plan says that it could not
    upright = [j for j in laid.joints if j.bounds[2] - j.bounds[0] < 1e-6]
    close = 0
    for a, b in itertools.combinations(upright, 2):
        meet = min(abs(a.bounds[3] - b.bounds[1]), abs(b.bounds[3] - a.bounds[1])) < 1e-6
        close += meet and abs(a.bounds[0] - b.bounds[0]) < ask.stagger_m - 1e-6
    in_line = sum(
        abs(x - j.bounds[0]) < ask.off_m - 1e-6 and j.bounds[1] - ask.off_m < y < j.bounds[3] + ask.off_m
        for j in upright
        for x, y in corners
    )
    assert close + in_line == 0 or laid.broken > 0
    assert bool(laid.broken) == bool(sheeting_findings(laid, FOAM))


def exact_bins(sizes: list[float], size: float) -> int:
    """Least bins by a mixed-integer program: an independent count."""
    n = len(sizes)
    top = n
    cost = np.concatenate([np.ones(top), np.zeros(n * top)])
    rows, low, high = [], [], []
    for i in range(n):
        row = np.zeros(top + n * top)
        row[top + i * top : top + (i + 1) * top] = 1
        rows.append(row), low.append(1), high.append(1)
    for b in range(top):
        row = np.zeros(top + n * top)
        row[b] = -size
        for i in range(n):
            row[top + i * top + b] = sizes[i]
        rows.append(row), low.append(-np.inf), high.append(1e-9)
    found = milp(
        cost, constraints=LinearConstraint(np.array(rows), low, high), integrality=np.ones(len(cost)), bounds=Bounds(0, 1)
    )
    return round(found.fun)


@pytest.mark.parametrize(("width", "rows"), [(3.0, 2), (4.2, 2), (3.4, 3), (5.0, 2)])
def test_small_walls_take_no_more_sheets_than_the_best_of_all_first_joints(width: float, rows: int) -> None:
    """Every first joint of every row on a grid of 6 in, full sheets after it; the pieces counted by a program."""
    region = box(0, 0, width, rows * HIGH)
    laid = lay_sheets(claim(region), FOAM, IN)
    _, cuts = sheet_pieces(laid, IN)
    ours = len(pack(cuts, CATALOG, Scope()).stock)
    firsts = [k * 6 * IN for k in range(1, 1 + int(LONG / (6 * IN)))]
    best = 99
    for choice in itertools.product(firsts, repeat=rows):
        joints = [[x for x in np.arange(f, width - 1e-6, LONG)] for f in choice]
        if any(abs(a - b) < 12 * IN - 1e-6 for low, high in itertools.pairwise(joints) for a in low for b in high):
            continue
        sizes = [s for js in joints for s in lengths(Span(0, width, 0, 1), js, 0.0)]
        if min(sizes) < 6 * IN - 1e-6 or np.ceil(sum(sizes) / LONG - 1e-9) >= best:
            continue
        best = min(best, exact_bins(sizes, LONG))
    assert ours <= best


def test_walls_stay_near_the_packing_bound() -> None:
    over = []
    for seed in range(20):
        region, corners = wall(seed)
        _, cuts = sheet_pieces(lay_sheets(claim(region, corners=tuple(corners)), FOAM, IN), IN)
        bound = pack(cuts, CATALOG, Scope()).bounds[0]
        over.append(bound.stock_used - bound.packing_bound_stock)
    assert max(over) <= 2 and sum(over) <= 1.3 * len(over)  # the bound lets pieces be sliced lengthwise


def test_a_second_layer_keeps_off_the_joints_underneath() -> None:
    region = box(0, 0, 7.3, 4.0)
    first = lay_sheets(claim(region), FOAM, IN)
    second = lay_sheets(claim(region, above="x"), FOAM, IN, first.joints)
    for a in first.joints:
        for b in second.joints:
            same_way = (a.bounds[2] - a.bounds[0] < 1e-6) == (b.bounds[2] - b.bounds[0] < 1e-6)
            axis = 0 if a.bounds[2] - a.bounds[0] < 1e-6 else 1
            beside = min(a.bounds[3 - axis], b.bounds[3 - axis]) - max(a.bounds[1 - axis], b.bounds[1 - axis]) > 1e-3
            assert not (same_way and beside and abs(a.bounds[axis] - b.bounds[axis]) < 6 * IN - 1e-6)


def test_panels_end_on_studs() -> None:
    studs = tuple(0.019 + k * 16 * IN for k in range(1, 20))
    laid = lay_sheets(claim(box(0, 0, 6.0, 2.6), supports=studs, gap_m=0.003175), FOAM, IN)
    upright = [j.bounds[0] for j in laid.joints if j.bounds[2] - j.bounds[0] < 1e-6]
    assert upright and all(min(abs(x - s) for s in studs) < 1e-6 for x in upright)


def test_seam_tape_follows_every_joint_once() -> None:
    laid = lay_sheets(claim(box(0, 0, 7.3, 4.0).difference(box(2, 1, 3, 2.5)), tape="seam-tape-3"), FOAM, IN)
    runs = seam_runs(laid, 3 * IN, 9)
    taped = sum(np.hypot(r.end[0] - r.start[0], r.end[1] - r.start[1]) for r in runs)
    assert taped == pytest.approx(sum(j.length for j in laid.joints), abs=1e-3)


def test_holes_are_measured_from_the_sheet_s_own_edges() -> None:
    pipe = box(3.0, 1.9, 3.1, 2.0)
    laid = lay_sheets(claim(box(0, 0, 5, 2.4).difference(pipe), snug=(("pipe", 3.05, 1.95, 0.1, 0.1),)), FOAM, IN)
    (piece,) = [p for p in sheet_pieces(laid, IN)[0] if "holes" in p.facts]
    (hole,) = piece.facts["holes"]
    x0, y0, *_ = piece.polygon.bounds
    assert (x0 + hole["from_left_m"], y0 + hole["from_bottom_m"]) == pytest.approx((3.05, 1.95))


def test_a_region_without_an_inside_is_a_finding() -> None:
    laid = lay_sheets(claim(Polygon([(0, 0), (5, 0), (0, 0)])), FOAM, IN)
    assert [f.code for f in sheeting_findings(laid, FOAM)] == ["sheet.no_area"]


def test_off_cuts_are_taken_shortest_first() -> None:
    pool = Offcuts(2.0, 1.0, 0.1, [0.5, 1.0])
    pool.cut(0.8)
    assert pool.opened == 0 and pool.free == [pytest.approx(0.2), 0.5]
    pool.cut(1.5)
    assert pool.opened == 1 and pool.free == [pytest.approx(0.2), 0.5, 0.5]


@pytest.mark.parametrize("feet", [12, 20, 30])
@pytest.mark.parametrize("first", [3, 7, 10, 16])
def test_standing_panels_meet_on_studs_too(feet: int, first: int) -> None:
    panel = CATALOG["osb-panel"]
    studs = tuple((first + 16 * k) * IN for k in range(60) if first + 16 * k < feet * 12)
    asked = claim(box(0, 0, feet * 12 * IN, 8 * 12 * IN), supports=studs, gap_m=IN / 8, lay="standing")
    laid = lay_sheets(asked, panel, IN)
    upright = [j.bounds[0] for j in laid.joints if j.bounds[2] - j.bounds[0] < 1e-6]
    assert len(upright) >= feet * 12 / 48 - 1
    assert all(min(abs(x - s) for s in studs) < 1e-5 for x in upright)
    assert all(b.polygon.bounds[2] - b.polygon.bounds[0] <= panel.needed("width_m") + 1e-6 for b in laid.boards)


def test_joints_between_studs_are_told() -> None:
    panel = CATALOG["osb-panel"]
    for apart, told in ((16, False), (120, True)):
        studs = tuple(k * apart * IN for k in range(1, 40) if k * apart < 360)
        laid = lay_sheets(claim(box(0, 0, 360 * IN, 96 * IN), supports=studs, lay="either", gap_m=IN / 8), panel, IN)
        assert ("sheet.off_stud" in {f.code for f in sheeting_findings(laid, panel)}) is told
