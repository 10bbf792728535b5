"""The gap: every bay opens below and above, by a raster that knows nothing of bays; furring by arithmetic."""

from __future__ import annotations

import math
import os
import random

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon
from shapely.ops import unary_union
from skin_jobs import FT, IN, face, feet, mixed, opening, plan, random_house, rect, rings_broken, skin

from lapwright.details.base import Piece
from lapwright.geometry import circle
from lapwright.plan.graph import Plan
from lapwright.survey.model import Attachment, Face, Framing, Opening, Penetration, Zone

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
CELL = 1 * IN
WIDE = 12  # cells: what is narrower than a foot is passed beside it


def blocked_by(f: Face) -> list[Polygon]:
    """Things that cross the wall, read off the survey by hand for the cases below."""
    out = [o.polygon for o in f.openings]
    for a in f.attachments:
        if a.polygon is not None:
            out.append(a.polygon)
        else:
            (x0, y0), (x1, y1) = a.start, a.end
            deep = a.depth_m or (6 * IN if "roof" in a.kind else 1 * IN)
            up = 1 * IN if "roof" in a.kind else 0.0
            out.append(Polygon([(x0, y0 - deep), (x1, y1 - deep), (x1, y1 + up), (x0, y0 + up)]))
    out += [p.polygon for p in f.penetrations]
    return out


def raster(f: Face, made: Plan) -> tuple[np.ndarray, float, float]:
    """Return free cells (row 0 lowest) of the new zones less what crosses the wall, and the lower-left corner."""
    x0, y0, x1, y1 = f.outline.bounds
    nx, ny = math.ceil((x1 - x0) / CELL), math.ceil((y1 - y0) / CELL)
    xs, ys = x0 + (np.arange(nx) + 0.5) * CELL, y0 + (np.arange(ny) + 0.5) * CELL
    gx, gy = np.meshgrid(xs, ys)
    free = np.zeros((ny, nx), dtype=bool)
    for z in f.zones:
        a = made.job.scope.assemblies.get(z.assembly or "")
        if z.decision != "keep" and a is not None and (a.product("mat") or a.product("furring")):
            free |= shapely.contains_xy(z.polygon, gx, gy)
    for shape in blocked_by(f):
        if shape.bounds[2] - shape.bounds[0] > 12 * IN + 1e-9:
            free &= ~shapely.contains_xy(shape, gx, gy)
    return free, x0, y0


def columns_without(made: Plan, name: str, role: str) -> list[tuple[float, float]]:
    """Walk every free cell straight down (inlet) or up (outlet) to the end of its gap; return the ends without a screen."""
    f = made.job.survey.face(name)
    free, x0, y0 = raster(f, made)
    screens = unary_union(
        [p.polygon for p in made.layout.pieces if p.surface == name and p.role == role and p.plane == "face"]
    )
    near = screens.buffer(1.6 * CELL)
    grid = free if role == "screen-inlet" else free[::-1]
    ends = grid & ~np.vstack([np.zeros((1, grid.shape[1]), dtype=bool), grid[:-1]])
    # a column of gap only a few cells high is closed by trim; one that continues past a hair is no end
    runs = np.zeros(grid.shape, dtype=int)
    for row in range(grid.shape[0] - 1, -1, -1):
        runs[row] = np.where(grid[row], 1 + (runs[row + 1] if row + 1 < grid.shape[0] else 0), 0)
    out = []
    for row, col in zip(*np.nonzero(ends & (runs >= 4)), strict=True):
        y = row if role == "screen-inlet" else grid.shape[0] - 1 - row
        spot = Point(x0 + (col + 0.5) * CELL, y0 + (y + 0.5) * CELL)
        if not near.covers(spot):
            out.append((round(spot.x / FT, 2), round(spot.y / FT, 2)))
    return out


def bare(made: Plan) -> list[tuple[str, str, tuple[float, float]]]:
    return [
        (f.id, role, at)
        for f in made.job.survey.faces
        for role in ("screen-inlet", "screen-outlet")
        for at in columns_without(made, f.id, role)
    ]


def codes(made: Plan) -> list[str]:
    return [f.code for f in made.layout.findings if f.code.startswith("gap.no")]


@pytest.mark.parametrize("gap", ["mat", "furring"])
def test_every_column_of_gap_is_open_at_both_ends(gap: str) -> None:
    made = mixed()
    made.job.scope.assemblies["new"] = skin(gap=gap)  # type: ignore[index]
    assert bare(made) == []
    assert codes(made) == []


@pytest.mark.parametrize("seed", range(200, 200 + 3 * SOAK))
def test_random_houses_are_open_at_both_ends(seed: int) -> None:
    made = random_house(seed)
    ends = bare(made)
    total = sum(f.outline.area for f in made.job.survey.faces) / CELL / FT
    assert len(ends) <= total * 1e-3, ends[:5]  # tips of wedges narrower than a screen


def busy(gap: str = "mat") -> Plan:
    """One wall with a porch roof, a ledger, a band, a chimney, a sloping roof, a round window and a big duct."""
    things = (
        Attachment("porch", "a", "porch_roof", (2 * FT, 8 * FT), (10 * FT, 8 * FT)),
        Attachment("deck", "a", "deck_ledger", (14 * FT, 3 * FT), (22 * FT, 3 * FT), depth_m=9.25 * IN),
        Attachment("band", "a", "belly_band", (12 * FT, 10 * FT), (30 * FT, 10 * FT), depth_m=9.25 * IN),
        Attachment("stack", "a", "chimney", (25 * FT, 0), (28 * FT, 0), polygon=rect(25, 0, 3, 18)),
        Attachment("shed", "a", "roof", (32 * FT, 9 * FT), (40 * FT, 5 * FT)),
    )
    openings = (
        opening("a", "w1", 4, 2, 3, 4, "before"),
        Opening("round", "a", "window", circle((17 * FT, 14 * FT), 3 * FT), "round", "kept"),
        opening("a", "slit", 10.5, 12, 0.75, 3, "kept"),
    )
    wall = face("a", 0, rect(0, 0, 40, 18), None, None, openings=openings, attachments=things)
    duct = Penetration("duct", "a", "duct", circle((36 * FT, 13 * FT), 16 * IN))
    return plan([Face(**{**wall.__dict__, "penetrations": (duct,)})], closed=False, assemblies=(skin(gap=gap),))


@pytest.mark.parametrize("gap", ["mat", "furring"])
def test_roofs_ledgers_bands_and_round_holes_cut_the_gap(gap: str) -> None:
    made = busy(gap)
    assert bare(made) == []
    assert codes(made) == []
    names = {p.claim for p in made.layout.pieces if p.role.startswith("screen") and p.product}
    assert any("inlet-round" in n for n in names) and any("outlet-round" in n for n in names)
    # the bent screen is bought by the length of the curve: half a circle of 3 ft each
    bought = [
        p.facts["quantity"]
        for p in made.layout.pieces
        if p.claim.endswith("-round") and p.role.startswith("screen") and "quantity" in p.facts
    ]
    assert [q for q, _ in bought] == pytest.approx([math.pi * 1.5 * FT] * 2, rel=2e-3)
    assert {u for _, u in bought} == {"m"}


def test_a_narrow_sill_is_no_bay_and_a_wide_one_is() -> None:
    for width, want in ((0.9, 0), (1.0, 0), (1.1, 1)):
        wall = face("a", 0, rect(0, 0, 20, 9), None, None, openings=(opening("a", "w", 8, 3, width, 3, "kept"),))
        made = plan([wall], closed=False)
        under = [
            p
            for p in made.layout.pieces
            if p.role == "screen-outlet" and p.plane == "face" and p.polygon.bounds[3] < 4 * FT
        ]
        assert len(under) == want, width


def test_a_bay_that_ends_at_a_wall_without_gap_is_said() -> None:
    zones = (
        Zone("low", "a", rect(0, 0, 20, 6), "remove", "flat"),
        Zone("high", "a", rect(0, 6, 20, 6), "remove", "new"),
    )
    made = plan(
        [face("a", 0, rect(0, 0, 20, 12), None, None, zones)], closed=False, assemblies=(skin(gap="none", name="flat"),)
    )
    said = [f for f in made.findings if f.code.startswith("gap.no")]
    assert [(f.code, f.level) for f in said] == [("gap.no_inlet", "warn")]
    assert "20' 0\"" in said[0].what
    upside = (
        Zone("low", "a", rect(0, 0, 20, 6), "remove", "new"),
        Zone("high", "a", rect(0, 6, 20, 6), "remove", "flat"),
    )
    made = plan(
        [face("a", 0, rect(0, 0, 20, 12), None, None, upside)],
        closed=False,
        assemblies=(skin(gap="none", name="flat"),),
    )
    assert codes(made) == ["gap.no_outlet"]


def test_mat_and_furring_side_by_side_are_one_gap() -> None:
    zones = (
        Zone("low", "a", rect(0, 0, 20, 6), "remove", "new"),
        Zone("high", "a", rect(0, 6, 20, 6), "remove", "furred"),
    )
    made = plan([face("a", 0, rect(0, 0, 20, 12), None, None, zones)], closed=False,
                assemblies=(skin(gap="furring", name="furred"),))  # fmt: skip
    rows = sorted((p.role, p.place) for p in made.layout.pieces if p.role.startswith("screen") and p.plane == "face")
    assert rows == [("screen-inlet", "a/low/mat"), ("screen-outlet", "a/high/furring")]


# ---------------------------------------------------------------- mat


def test_the_mat_is_butted_and_covers_the_wall_once() -> None:
    made = mixed()
    rng = random.Random(5)
    assert rings_broken(made) == []
    for f in made.job.survey.faces:
        mats = [p for p in made.layout.pieces if p.surface == f.id and p.role == "course" and p.layer == "mat"]
        if not mats:
            continue
        whole = sum(p.polygon.area for p in mats)
        assert unary_union([p.polygon for p in mats]).area == pytest.approx(whole, abs=1e-3)  # nowhere two layers
        want = unary_union([z.polygon for z in f.zones if z.decision != "keep"]).difference(
            unary_union([o.polygon for o in f.openings])
        )
        assert whole == pytest.approx(want.area, rel=1e-3)
        for _ in range(100):
            at = Point(rng.uniform(0, f.width_m), rng.uniform(0, 20 * FT))
            covered = any(p.polygon.buffer(1e-3).contains(at) for p in mats)
            assert covered == want.contains(at) or want.boundary.distance(at) < 2e-3
    assert {(x.over, x.under) for x in made.layout.laps if "/mat/c" in x.over and "/mat/c" in x.under} == set()


def test_the_mat_runs_round_a_corner_in_one_piece() -> None:
    faces = [face("a", 0, rect(0, 0, 20, 9), None, "b"), face("b", 1, rect(0, 0, 20, 9), "a", None)]
    made = plan(faces, closed=False)
    at = {p.id: p for p in made.layout.pieces}
    for number in {p.facts["course"] for p in at.values() if p.role == "course" and p.layer == "mat"}:
        cuts = [
            c for c in made.layout.cuts
            if all(at[p].layer == "mat" and at[p].facts.get("course") == number for p in c.pieces)
            and {at[p].surface for p in c.pieces} == {"a", "b"}
        ]  # fmt: skip
        assert len(cuts) == 1 and len(cuts[0].folds) == 1


def test_screens_use_the_whole_width_of_their_roll() -> None:
    made = mixed()
    wide = [c.flat.bounds[3] for c in made.layout.cuts if c.product == "insect-screen"]
    assert wide and wide == pytest.approx([6 * IN] * len(wide), abs=1e-6)


# ---------------------------------------------------------------- furring


def strips(made: Plan, at: str) -> list[Piece]:
    return [p for p in made.layout.pieces if p.role == "furring" and p.facts["at"] == at]


def furred(outline: Polygon, openings: tuple[Opening, ...] = (), framing: Framing | None = None) -> Plan:
    wall = face("a", 0, outline, None, None, openings=openings, framing=framing)
    return plan([wall], closed=False, assemblies=(skin(gap="furring"),))


def test_furring_on_a_plain_wall_by_arithmetic() -> None:
    for feet_wide in (8, 11, 20, 24.5):
        made = furred(rect(0, 0, feet_wide, 9))
        inches = feet_wide * 12
        # 2-1/2 in strips: one flush at each end; studs every 16 in, left out where they would overlap those
        want = [16.0 * k for k in range(1, 100) if 16 * k - 1.25 >= 2.5 and 16 * k + 1.25 <= inches - 2.5]
        assert [round(p.facts["center_m"] / IN, 3) for p in strips(made, "stud")] == want
        assert [round(p.facts["center_m"] / IN, 3) for p in strips(made, "end")] == [1.25, inches - 1.25]
        assert sum(p.polygon.area for p in strips(made, "stud")) == pytest.approx(len(want) * 2.5 * IN * 9 * FT)
        rows = {r.product: r for r in made.order.rows}
        assert rows["furring-1x3"].need == pytest.approx((len(want) + 2) * 9 * FT, rel=1e-3)


def test_furring_stops_an_inch_short_of_a_window_and_stands_beside_it() -> None:
    made = furred(rect(0, 0, 20, 9), (opening("a", "w", 8, 3, 3, 4, "kept"),))
    through = [s for s in strips(made, "stud") if 8 * FT < s.polygon.centroid.x < 11 * FT]
    spans = sorted({(round(s.polygon.bounds[1] / IN, 2), round(s.polygon.bounds[3] / IN, 2)) for s in through})
    assert spans == [(0.0, 35.0), (85.0, 108.0)]
    beside = strips(made, "jamb")
    assert [[round(v / IN, 2) for v in s.polygon.bounds] for s in beside] == [[93.5, 36, 96, 84], [132, 36, 134.5, 84]]


def test_measured_studs_are_taken_and_unknown_ones_are_looked_for() -> None:
    known = furred(rect(0, 0, 10, 9), framing=Framing(studs_m=tuple(x * IN for x in (0.75, 20, 41.5, 64, 119.25))))
    assert [round(p.facts["center_m"] / IN, 2) for p in strips(known, "stud")] == [20, 41.5, 64]
    assert not [f for f in known.findings if f.code == "gap.studs_assumed"]
    assert not [s for s in known.steps if s.id.endswith("find-studs")]
    unknown = furred(rect(0, 0, 10, 9))
    assert [f.level for f in unknown.findings if f.code == "gap.studs_assumed"] == ["note"]
    search = [s for s in unknown.steps if s.id.endswith("find-studs")]
    assert search and '16"' in search[0].action.replace("1' 4\"", '16"')
    assert search[0].id in next(s for s in unknown.steps if s.id.endswith("furring/strips")).needs


def test_no_furring_lies_level_crosses_another_or_leaves_the_wall() -> None:
    made = mixed()
    made.job.scope.assemblies["new"] = skin(gap="furring")  # type: ignore[index]
    for f in made.job.survey.faces:
        mine = [p for p in made.layout.pieces if p.role == "furring" and p.surface == f.id]
        new = unary_union([z.polygon for z in f.zones if z.decision != "keep"])
        for p in mine:
            x0, _, x1, _ = p.polygon.bounds
            assert x1 - x0 == pytest.approx(2.5 * IN) and p.polygon.difference(new.buffer(1e-4)).area < 1e-7
            assert not any(p.polygon.intersection(o.polygon).area > 1e-9 for o in f.openings)
        assert unary_union([p.polygon for p in mine]).area == pytest.approx(sum(p.polygon.area for p in mine), abs=1e-6)


def test_long_furring_is_butted_from_sticks() -> None:
    made = furred(feet((0, 0), (24, 0), (24, 10), (12, 20), (0, 10)))
    lengths = [c.flat.bounds[2] for c in made.layout.cuts if c.product == "furring-1x3"]
    assert max(lengths) <= 12 * FT + 1e-9
    assert sum(lengths) == pytest.approx(
        sum(p.polygon.area for p in made.layout.pieces if p.role == "furring") / (2.5 * IN)
    )
