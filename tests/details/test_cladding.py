"""Cladding: areas by hand, boards by hand, nothing in the way of water or air, clearances checked."""

from __future__ import annotations

import os
import random
from dataclasses import replace

import pytest
from shapely import Point
from shapely.ops import unary_union
from skin_jobs import FT, IN, face, feet, mixed, opening, plan, random_house, rect, skin

from lapwright.details.base import Piece
from lapwright.plan.graph import Plan
from lapwright.scope.model import Assembly, Layer
from lapwright.survey.model import Attachment, Zone

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))


def pieces(made: Plan, role: str, surface: str = "a") -> list[Piece]:
    return [p for p in made.layout.pieces if p.role == role and p.surface == surface and p.layer == "cladding"]


def inches(piece: Piece) -> list[float]:
    return [round(v / IN, 2) for v in piece.polygon.bounds]


def test_siding_of_a_plain_wall_by_hand() -> None:
    made = plan([face("a", 0, rect(0, 0, 20, 9), None, None)], closed=False)
    # 3-1/2 in end boards on both sides, 1/2 in open at the top for the gap
    want = (20 * 12 - 7) * (9 * 12 - 0.5) * IN**2
    assert sum(p.polygon.area for p in pieces(made, "siding")) == pytest.approx(want, rel=1e-6)
    rows = {r.product: r for r in made.order.rows}
    assert rows["board-siding"].need == pytest.approx(want, rel=1e-6)
    asked = want * (1 + 0.15) * 1.05  # waste and spare of the catalog's sheet, packs of 100 sq ft
    assert rows["board-siding"].packs == -(-asked // (100 * FT**2))
    assert rows["starter-strip"].need == pytest.approx(
        2 * (20 * 12 - 7) * IN, rel=1e-4
    )  # below, and the closure at the top


def test_boards_round_a_window_by_hand() -> None:
    made = plan(
        [face("a", 0, rect(0, 0, 20, 9), None, None, openings=(opening("a", "w", 8, 3, 3, 4, "before"),))], closed=False
    )
    assert sorted(map(inches, pieces(made, "casing"))) == sorted(
        [[92.5, 36, 96, 84], [132, 36, 135.5, 84], [92.5, 84, 135.5, 85.25], [92.5, 32.5, 135.5, 36]]
    )
    assert [92.5, 31.0, 135.5, 32.5] in map(
        inches, pieces(made, "closure")
    )  # behind the course cut under the sill board
    flashing = [p for p in made.layout.pieces if p.role == "head-flashing" and p.plane == "face"]
    # the head board ends where the flashing sits on it; the siding is held 1/4 to 3/8 in above it (common practice)
    assert {inches(p)[1] for p in flashing} == {85.25}
    over = unary_union([p.polygon for p in pieces(made, "siding")])
    for x in (93.0, 100.0, 134.0):
        assert not over.intersects(Point(x * IN, (85.25 + 0.2) * IN))
        assert over.contains(Point(x * IN, (85.25 + 0.45) * IN))


def test_a_door_has_no_sill_board() -> None:
    made = plan([face("a", 0, rect(0, 0, 20, 9), None, None, openings=(opening("a", "d", 8, 0, 3, 7),))], closed=False)
    assert len(pieces(made, "casing")) == 3
    assert all(not (96 < inches(p)[0] < 131) for p in pieces(made, "starter"))
    assert sum(p.polygon.bounds[2] - p.polygon.bounds[0] for p in pieces(made, "starter")) == pytest.approx(
        (20 * 12 - 2 * 3.5 - 36 - 2 * 3.5) * IN
    )


def test_corner_boards_outside_and_inside() -> None:
    def ring(turn: float) -> Plan:
        faces = [face("a", 0, rect(0, 0, 20, 9), None, "b", turn=turn), face("b", 1, rect(0, 0, 20, 9), "a", None)]
        return plan(faces, closed=False)

    outside, inside = ring(90), ring(-90)
    assert [(p.product, p.surface) for s in "ab" for p in pieces(outside, "corner-board", s)] == [
        ("trim-1x6", "a"),
        ("trim-1x6", "b"),
    ]
    assert [(p.product, p.surface) for s in "ab" for p in pieces(inside, "corner-board", s)] == [("trim-1x4", "a")]
    assert inches(pieces(outside, "corner-board", "a")[0]) == [234.5, 0, 240, 108]


def test_the_end_beside_old_cladding_leaves_a_joint() -> None:
    zones = (Zone("new", "a", rect(0, 0, 12, 9), "remove", "new"), Zone("kept", "a", rect(12, 0, 8, 9), "keep", "old"))
    made = plan([face("a", 0, rect(0, 0, 20, 9), None, None, zones)], closed=False)
    right = max(pieces(made, "end-board"), key=lambda p: p.polygon.bounds[2])
    assert inches(right)[2] == 144 - 0.5
    bead = [p for p in made.layout.pieces if p.role == "joint-bead"]
    assert bead and not any(p.polygon.intersection(q.polygon).area > 1e-7 for p in bead for q in pieces(made, "siding"))


def test_siding_stays_off_roofs_ledgers_and_chimneys() -> None:
    things = (
        Attachment("porch", "a", "porch_roof", (2 * FT, 8 * FT), (10 * FT, 8 * FT)),
        Attachment("shed", "a", "roof", (22 * FT, 5 * FT), (30 * FT, 9 * FT)),
        Attachment("deck", "a", "deck_ledger", (12 * FT, 3 * FT), (20 * FT, 3 * FT), depth_m=9.25 * IN),
        Attachment("stack", "a", "chimney", (31 * FT, 0), (33 * FT, 0), polygon=rect(31, 0, 2, 18)),
    )
    made = plan([face("a", 0, rect(0, 0, 40, 18), None, None, attachments=things)], closed=False)
    over = unary_union([p.polygon for p in pieces(made, "siding")])
    for x in (2.5, 6.0, 9.5):
        assert not over.intersects(Point(x * FT, 8 * FT + 0.9 * IN))
        assert over.contains(Point(x * FT, 8 * FT + 2.01 * IN))  # 1-2 in above a roof, no more
    for t in (0.1, 0.5, 0.9):
        on = Point((22 + 8 * t) * FT, (5 + 4 * t) * FT)
        assert over.distance(on) <= 1.6 * IN and not over.contains(on)
    for x, y in ((16, 2.5), (32, 9)):
        assert not over.intersects(Point(x * FT, y * FT))
    starters = {round(p.polygon.bounds[1] / FT, 1) for p in pieces(made, "starter")}
    assert {0.0, 3.0, 8.1} <= starters  # at the base, above the ledger, above the porch roof
    said = [c for c in made.checks if c.place == "a/main/cladding"]
    roofs = next(c for c in said if c.id.endswith("/roofs"))
    assert (roofs.lower, roofs.upper, roofs.count) == (1.0, 2.0, 4)


def test_wood_siding_is_checked_six_inches_above_earth() -> None:
    made = plan([face("a", 0, rect(0, 0, 20, 9), None, None)], closed=False)
    earth = next(c for c in made.checks if c.id.endswith("siding/earth"))
    assert (earth.lower, earth.measured_in) == (6.0, "in")  # IRC R317.1
    assert "R317.1" in earth.source


@pytest.mark.parametrize(
    ("siding", "task"), [("board-siding", "siding"), ("shingle-siding", "shingles"), ("panel-siding", "panels")]
)
def test_hours_follow_the_kind_of_siding(siding: str, task: str) -> None:
    made = plan([face("a", 0, rect(0, 0, 20, 9), None, None)], closed=False, assemblies=(skin(siding=siding),))
    work = next(s for s in made.steps if s.id == "a/main/cladding/siding")
    area = sum(p.polygon.area for p in pieces(made, "siding")) / FT**2
    pace = {"siding": (25 + 50) / 2, "shingles": (20 + 40) / 2, "panels": (60 + 120) / 2}[
        task
    ]  # sq ft/h of two, rates.yaml
    assert work.hours == pytest.approx(area / pace, rel=1e-3)


def test_fiber_cement_warns_of_dust() -> None:
    made = plan([face("a", 0, rect(0, 0, 20, 9), None, None)], closed=False, assemblies=(skin(siding="lap-siding"),))
    work = next(s for s in made.steps if s.id == "a/main/cladding/siding")
    assert any("1926.1153" in c for c in work.cautions)


def test_short_nails_are_said_with_the_length_that_reaches() -> None:
    def codes(*inner: Layer) -> list[str]:
        made = Assembly("new", (Layer("cladding", "board-siding"), *inner, Layer("barrier", "self-adhered-sheet")))
        done = plan([face("a", 0, rect(0, 0, 20, 9), None, None)], closed=False, assemblies=(made,))
        return [f.what + f.fix for f in done.findings if f.code == "cladding.nail_short"]

    board = Layer("sheathing", material="sheathing-board", thickness_m=0.75 * IN, existing=True)
    assert codes() == []  # 2-1/2 in nail, 3/4 in siding: 1-3/4 in into the stud
    # 2-1/2 less 3/4 siding and 3/8 mat: 1-3/8 in into old boards and stud together
    assert codes(Layer("mat", "mesh-mat"), board) == []
    assert codes(Layer("mat", "mesh-mat"), Layer("sheathing", material="gypsum-board", thickness_m=0.5 * IN)) != []
    # 2-1/2 less 3/4 siding, 1 in of foam, 3/4 boards beyond it: nothing is left; 1-1/4 asked, so 3-3/4 in or longer
    short = codes(Layer("insulation", "xps-iv", thickness_m=1 * IN), board)
    assert len(short) == 1 and 'reach 0"' in short[0] and '1-1/4"' in short[0] and '3-3/4"' in short[0]


def test_order_of_work_trim_starter_siding_after_the_gap() -> None:
    made = mixed()
    steps = {s.id: s for s in made.steps}
    siding = steps["g/main/cladding/siding"]
    assert siding.needs[:2] == ("g/main/cladding/starter", "g/main/cladding/trim")
    assert "g/main/mat/outlets" in steps["g/main/cladding/trim"].needs
    seal = steps["g/main-low-left/seal"]
    assert "g/main/cladding/siding" in seal.needs


@pytest.mark.parametrize("seed", range(300, 300 + 3 * SOAK))
def test_random_walls_are_clad_once_and_nowhere_else(seed: int) -> None:
    """Any point of new wall lies under siding or a board, or within the clearances; no two cover each other."""
    made = random_house(seed)
    rng = random.Random(seed)
    for f in made.job.survey.faces:
        mine = [
            p
            for p in made.layout.pieces
            if p.surface == f.id and p.layer == "cladding" and p.role not in ("starter", "closure")
        ]
        clad = unary_union([p.polygon for p in mine])
        assert clad.area == pytest.approx(sum(p.polygon.area for p in mine), abs=2e-4)
        new = unary_union([z.polygon for z in f.zones if z.decision != "keep"])
        assert clad.difference(new.buffer(1e-4)).area < 1e-6
        for o in f.openings:
            assert clad.intersection(o.polygon).area < 1e-6
        open_ = [rect(o.box[0] / FT - 0.5, o.box[3] / FT, (o.box[2] - o.box[0]) / FT + 1, 0.16) for o in f.openings]
        open_ += [o.polygon.buffer(1e-3) for o in f.openings] + [new.boundary.buffer(1.1 * IN)]
        rest = new.difference(unary_union(open_))
        for _ in range(60):
            at = Point(rng.uniform(0, f.width_m), rng.uniform(0, float(f.outline.bounds[3])))
            if rest.contains(at):
                assert clad.distance(at) < 1.1 * IN, (f.id, at)


def test_a_slope_is_clad_up_to_the_rake() -> None:
    outline = feet((0, 0), (24, 0), (24, 10), (12, 20), (0, 10))
    made = plan([face("a", 0, outline, None, None)], closed=False)
    ends = 2 * 3.5 * (10 * 12) * IN**2
    top = 0.5 * IN * 2 * (12**2 + 10**2) ** 0.5 * FT
    want = outline.area - ends - top
    assert sum(p.polygon.area for p in pieces(made, "siding")) == pytest.approx(want, abs=0.02)
    assert not [p for p in pieces(made, "closure")]  # cut to the slope, nothing level there


def test_trim_of_a_curved_opening_is_bought_by_its_curve() -> None:
    from lapwright.geometry import circle
    from lapwright.survey.model import Opening

    hole = Opening("r", "a", "window", circle((10 * FT, 5 * FT), 3 * FT), "round", "kept")
    made = plan([replace(face("a", 0, rect(0, 0, 20, 9), None, None), openings=(hole,))], closed=False)
    bent = pieces(made, "casing")
    assert len(bent) == 1 and bent[0].facts["quantity"][1] == "m"
    assert bent[0].facts["quantity"][0] == pytest.approx(3.14159265 * 3 * FT, rel=2e-3)
