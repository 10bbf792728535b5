"""Sheets over an area: covered, staggered, no slivers; counts against an exhaustive search and the packing bound."""

from __future__ import annotations

import itertools
import os
import random
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from shapely import Polygon, union_all

from lapwright.catalog.load import builtin
from lapwright.cuts import pack
from lapwright.details.sheet_claim import SheetClaim
from lapwright.geometry import box
from lapwright.layout.offcuts import Stack
from lapwright.layout.sheet_pieces import seam_runs, sheet_pieces, sheeting_findings
from lapwright.layout.sheets import Sheeting, lay_sheets
from lapwright.plan.graph import Plan
from lapwright.scope.model import Scope
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

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


@cache
def laid_wall(seed: int) -> Sheeting:
    region, corners = wall(seed)
    return lay_sheets(claim(region, corners=tuple(corners)), FOAM, IN)


@pytest.mark.parametrize("seed", range(50 * SOAK))
def test_random_walls_are_covered_once_by_sheets_that_exist(seed: int) -> None:
    region, corners = wall(seed)
    laid = laid_wall(seed)
    ask = laid.claim
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


def cut_every_way(span: tuple[float, float], step: float, sliver: float) -> list[tuple[float, ...]]:
    """Every set of joints on a grid that leaves no board longer than a sheet and none narrower than a sliver."""
    out: list[tuple[float, ...]] = []

    def go(joints: tuple[float, ...]) -> None:
        at = joints[-1] if joints else span[0]
        if span[1] - at <= LONG + 1e-6:
            out.append(joints)
        if len(joints) > (span[1] - span[0]) / LONG:  # no more boards than the fewest and one
            return
        for k in range(1, 1 + int(LONG / step + 1e-6)):
            x = round(at + k * step, 6)
            if x - at >= sliver - 1e-6 and span[1] - x >= sliver - 1e-6:
                go((*joints, x))

    go(())
    return out


@pytest.mark.parametrize(
    ("width", "rows", "window"),
    [(3.0, 2, None), (4.2, 2, None), (3.4, 3, None), (3.6, 2, (1.2, 2.1, 1)), (4.4, 2, (0.9, 2.0, 0)), (3.3, 3, (1.1, 1.9, 1))],
)
def test_small_walls_take_no_more_sheets_than_the_best_of_all_joints(
    width: float, rows: int, window: tuple[float, float, int] | None
) -> None:
    """All joints of all rows on a grid of 1 ft under the same rules; the boards of each counted by a program."""
    region, corners = box(0, 0, width, rows * HIGH), []
    if window:
        hole = box(window[0], window[2] * HIGH, window[1], (window[2] + 1) * HIGH)
        region, corners = region.difference(hole), [(float(x), float(y)) for x, y in list(hole.exterior.coords)[:4]]
    laid = lay_sheets(claim(region, corners=tuple(corners), off_m=0.0), FOAM, IN)
    _, cuts = sheet_pieces(laid, IN)
    ours = len(pack(cuts, CATALOG, Scope()).stock)
    assert ours <= laid.opened and laid.bound_m <= ours * LONG + 1e-6
    by_row = []
    for row in range(rows):
        spans = [(0.0, width)] if not window or window[2] != row else [(0.0, window[0]), (window[1], width)]
        ways = [cut_every_way(s, 12 * IN, 6 * IN) for s in spans]
        by_row.append(
            [
                ([x for js in choice for x in js], [b - a for s, js in zip(spans, choice, strict=True) for a, b in itertools.pairwise((s[0], *js, s[1]))])
                for choice in itertools.product(*ways)
            ]
        )
    best = min(ours, 99)
    seen: set[tuple[float, ...]] = set()
    for choice in itertools.product(*by_row):
        sizes = tuple(sorted(round(s, 6) for _, row in choice for s in row))
        if sizes in seen or np.ceil(sum(sizes) / LONG - 1e-9) >= best:
            continue
        if any(abs(a - b) < 12 * IN - 1e-6 for (low, _), (high, _) in itertools.pairwise(choice) for a in low for b in high):
            continue
        seen.add(sizes)
        if sum(s > LONG / 2 + 1e-6 for s in sizes) < best:  # no two of these share a sheet
            best = min(best, exact_bins(list(sizes), LONG))
    assert ours == best


def test_walls_take_about_as_many_sheets_as_no_packing_beats() -> None:
    """50 walls: in all within 3 % of what no packing of their boards beats, each by no more than two sheets; two in
    three of them proven. The bound lets boards be sliced lengthwise, so a part of the rest is its own."""
    used = least = proven = 0
    for seed in range(50):
        laid = laid_wall(seed)
        row = pack(sheet_pieces(laid, IN)[1], CATALOG, Scope()).bounds[0]
        assert row.stock_used <= laid.opened + 1  # what the layout counts is about what packing finds
        assert laid.claim.region.area / HIGH - 1e-6 <= laid.bound_m <= row.stock_used * LONG + 1e-6
        assert row.stock_used - row.packing_bound_stock <= 2
        used, least, proven = used + row.stock_used, least + row.packing_bound_stock, proven + row.proven
    assert used <= 1.03 * least
    assert proven > 33


def test_the_floor_of_the_demo_takes_no_more_sheets_than_any_layout() -> None:
    """An L with posts, a pipe and a sump: the bound on every layout is reached."""
    outline = Polygon([(0, 0), (3.505, 0), (3.505, 1.575), (7.468, 1.575), (7.468, 6.706), (0, 6.706)])
    for x, y, size in ((3.658, 2.743, 0.1), (3.658, 4.877, 0.1), (6.096, 6.096, 0.1), (0.762, 6.096, 0.457)):
        outline = outline.difference(box(x - size / 2, y - size / 2, x + size / 2, y + size / 2))
    laid = lay_sheets(claim(outline, lay="either"), FOAM, IN)
    row = pack(sheet_pieces(laid, IN)[1], CATALOG, Scope()).bounds[0]
    assert row.stock_used == np.ceil(laid.bound_m / LONG - 1e-9)


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


def test_boards_keep_off_the_joints_of_new_panels_underneath() -> None:
    text = (Path(__file__).parents[2] / "examples" / "foam-wall" / "house.yaml").read_text(encoding="utf-8")
    for line in [line for line in text.splitlines() if "layer: sheathing" in line]:
        text = text.replace(line, "    - {layer: sheathing, product: osb-panel}")
    plan = Plan(job_of(parse_yaml(text), Path("house.yaml"), CATALOG), CATALOG)
    claims = [c for c in plan.claims if isinstance(c, SheetClaim)]
    boards = [c for c in claims if c.layer == "insulation"]
    assert boards and all(c.above for c in boards) and {c.layer for c in claims} == {"insulation", "sheathing"}
    for board in boards:
        (under,) = [c for c in claims if c.layer == "sheathing" and c.surface == board.surface]
        panels = lay_sheets(under, CATALOG[under.product], IN)
        mine = sorted(p.polygon.bounds for p in plan.layout.pieces if p.claim == board.key and p.layer == "insulation")
        want = lay_sheets(board, CATALOG[board.product], IN, panels.joints)
        assert mine == sorted(b.polygon.bounds for b in want.boards)  # the layout knows the panels' joints
        upright = [j.bounds for j in want.joints if j.bounds[2] - j.bounds[0] < 1e-6]
        below = [j.bounds for j in panels.joints if j.bounds[2] - j.bounds[0] < 1e-6]
        close = sum(
            abs(a[0] - b[0]) < board.layer_off_m - 1e-6 and min(a[3], b[3]) - max(a[1], b[1]) > 1e-3
            for a in upright
            for b in below
        )
        assert close <= want.broken  # none, or told


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


def test_off_cuts_are_taken_before_a_sheet_is_opened() -> None:
    stack = Stack((20, 10), 1).cut([((12, 10), ())])
    assert (stack.opened, stack.free) == (1, ((8, 10),))
    stack = stack.cut([((5, 10), ())])
    assert (stack.opened, stack.free) == (1, ((3, 10),))
    stack = stack.cut([((9, 3), ()), ((15, 3), ())])  # across the off-cut; the second has no room there
    assert stack.opened == 2
    hollow = Stack((20, 10), 1).cut([((20, 10), ((6, 4),)), ((6, 4), ())])  # a board out of what an opening leaves
    assert (hollow.opened, hollow.free) == (1, ())


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
