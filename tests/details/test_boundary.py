"""Old to new: which lies over which, by the words of IRC R703.1.1 and R703.2, on every side of a kept part.

R703.1.1: the wall has a means of draining to the exterior water that enters. R703.2: barrier laid with the
upper layer lapped over the lower not less than 2 in; where joints occur they are lapped not less than 6 in.
"""

from __future__ import annotations

import os
import random
from dataclasses import replace

import pytest
from shapely import Point
from skin_jobs import FT, IN, OLD, face, loops_of_laps, mixed, opening, plan, random_house, rect, rings_broken, skin

from lapwright.continuity.build import drop_test, walls
from lapwright.details.base import Lap, Piece
from lapwright.plan.graph import Plan
from lapwright.survey.model import Zone

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
R703_2_UPPER_OVER_LOWER = 2 * IN
R703_2_JOINT = 6 * IN


def wall(kept: tuple[float, float, float, float], old: str | None = "old", **scope: object) -> Plan:
    """A wall of 30 x 18 ft with one kept rectangle (x, y, width, height in feet)."""
    outline, area = rect(0, 0, 30, 18), rect(*kept)
    zones = (Zone("new", "a", outline.difference(area), "remove", "new"), Zone("kept", "a", area, "keep", old))
    return plan([face("a", 0, outline, None, None, zones)], closed=False, **scope)


def pairs(made: Plan) -> list[tuple[Piece, Piece, Lap]]:
    at = {p.id: p for p in made.layout.pieces}
    return [(at[x.over], at[x.under], x) for x in made.layout.laps]


def rows(made: Plan, over: str, under: str) -> list[Lap]:
    """Return the laps of a role over a role that is asked to be at least something."""
    return [x for a, b, x in pairs(made) if (a.role, b.role) == (over, under) and x.asked_m > 0]


def test_new_above_old_drains_out_over_the_old_cladding() -> None:
    made = wall((0, 0, 30, 5))
    metal = [p for p in made.layout.pieces if p.role == "z-flashing"]
    # R703.2: upper over lower by 2 in: course over the metal's leg, metal over the strip, strip over the old felt
    for over, under in (("course", "z-flashing"), ("z-flashing", "joint-strip"), ("joint-strip", "old-felt")):
        found = rows(made, over, under)
        assert found and min(x.got_m for x in found) >= R703_2_UPPER_OVER_LOWER, (over, under)
        assert not rows(made, under, over)
    # R703.1.1: the drainage plane ends outside: the lip passes the face of the old cladding (20 mm) and turns down
    lips = [p for p in metal if p.plane == "under"]
    reach = {p.id.rsplit("/", 1)[0]: p.polygon.bounds[3] - p.polygon.bounds[1] for p in lips if p.id.endswith("/under")}
    assert reach and min(reach.values()) >= 0.020 + 0.25 * IN
    assert all(p.facts["ends_outside"] == "old cladding" and p.facts["drip"] for p in metal)
    # the metal runs the whole joint, and nothing seals its lower edge
    assert sum(p.polygon.bounds[2] - p.polygon.bounds[0] for p in metal if p.plane == "face") >= 30 * FT
    assert not [p for p in made.layout.pieces if p.layer == "sealant" and "new-kept-below" in p.place]


def test_thick_old_cladding_gets_a_longer_lip_bent_from_coil() -> None:
    thick = replace(OLD, id="old", layers=(replace(OLD.layers[0], thickness_m=0.1),))
    made = plan(
        [face("a", 0, rect(0, 0, 30, 18), None, None, (
            Zone("new", "a", rect(0, 5, 30, 13), "remove", "new"), Zone("kept", "a", rect(0, 0, 30, 5), "keep", "old")))],
        closed=False, assemblies=(thick,),
    )  # fmt: skip
    metal = [p for p in made.layout.pieces if p.role == "z-flashing"]
    assert {p.product for p in metal} == {"coil-stock"}
    assert all(
        c.flat.bounds[2] <= 10 * FT + 1e-6 for c in made.layout.cuts if c.id in {p.cut for p in metal}
    )  # a 10 ft brake
    assert max(p.polygon.bounds[3] for p in metal if p.plane == "under") >= 0.1 + 0.25 * IN
    assert not [f for f in made.packing.findings if f.level == "stop"]


def test_unknown_thickness_is_said() -> None:
    assert [f.level for f in wall((0, 0, 30, 5), None).findings if f.code == "boundary.thickness"] == ["note"]
    assert not [f for f in wall((0, 0, 30, 5)).findings if f.code == "boundary.thickness"]


def test_new_below_old_is_under_the_old_felt() -> None:
    made = wall((0, 12, 30, 6))
    for over, under in (("old-felt", "joint-strip"), ("joint-strip", "course")):
        found = rows(made, over, under)
        assert found and min(x.got_m for x in found) >= R703_2_UPPER_OVER_LOWER, (over, under)
        assert not rows(made, under, over)
    assert not [p for p in made.layout.pieces if p.role == "z-flashing"]


@pytest.mark.parametrize("x", [0, 20])
def test_new_beside_old_is_lapped_as_a_joint(x: float) -> None:
    made = wall((x, 0, 10, 18))
    for over, under in (("course", "joint-strip"), ("joint-strip", "old-felt")):
        found = rows(made, over, under)
        assert found and min(x.got_m for x in found) >= R703_2_JOINT - 1e-4, (over, under)
        assert not rows(made, under, over)
    strips = [p for p in made.layout.pieces if p.role == "joint-strip"]
    assert all(p.facts["movement"] and p.facts["slack_m"] >= 0.25 * IN for p in strips)
    assert {p.product for p in made.layout.pieces if p.layer == "sealant"} == {"sealant", "backer-rod"}


def test_a_tall_joint_laps_upper_over_lower() -> None:
    faces = [face("a", 0, rect(0, 0, 30, 40), None, None, (
        Zone("new", "a", rect(0, 0, 15, 40), "remove", "new"), Zone("kept", "a", rect(15, 0, 15, 40), "keep", "old")))]  # fmt: skip
    for details in ({}, {"a/new-kept-right": "boundary-channel"}):
        made = plan(faces, closed=False, details=details)
        role = "channel" if details else "joint-strip"
        found = [(a, b) for a, b, _ in pairs(made) if a.role == b.role == role]
        assert found
        assert all(a.polygon.bounds[1] > b.polygon.bounds[1] for a, b in found)


def test_an_island_of_old_is_tied_on_all_four_sides() -> None:
    made = wall((10, 6, 6, 5))
    ties = {t.id: t for t in made.layout.ties if "kept" in t.id}
    assert sorted(ties) == [f"a/new-kept-{s}" for s in ("above", "below", "left", "right")]
    assert all(t.water == t.air == "tied" for t in ties.values())
    assert rings_broken(made) == loops_of_laps(made) == []


def test_kept_neighbor_gets_a_return_round_the_corner() -> None:
    faces = [
        face("a", 0, rect(0, 0, 20, 10), None, "b"),
        face("b", 1, rect(0, 0, 20, 10), "a", None, (Zone("all", "b", rect(0, 0, 20, 10), "keep", None),)),
    ]
    made = plan(faces, closed=False)
    there = [p for p in made.layout.pieces if p.surface == "b" and p.role == "return-strip"]
    assert there and all(p.polygon.bounds[2] - p.polygon.bounds[0] >= R703_2_JOINT - 1e-6 for p in there)
    assert sum(p.polygon.area for p in there) == pytest.approx(6 * IN * 10 * FT)
    folds = [f for c in made.layout.cuts if c.id in {p.cut for p in there} for f in c.folds]
    assert {angle for _, angle in folds} == {90.0}
    # at the free end on the left the sheet turns along the edge of the wall
    assert [
        p.plane for p in made.layout.pieces if p.place == "a/end-left" and p.surface == "a" and p.plane != "face"
    ] == ["jamb"]
    assert min(x.got_m for x in rows(made, "course", "return-strip")) >= R703_2_JOINT - 1e-4


def test_every_joint_with_old_begins_with_a_look_behind_it() -> None:
    made = mixed()
    steps = {s.id: s for s in made.steps}
    joints = [p for p, d in made.places if p.kind == "boundary" and p.other_zone is not None]
    assert len(joints) == 9
    for place in joints:
        holds = [c for c in made.checks if c.step == f"{place.id}/probe"]
        assert holds and all(c.hold for c in holds)
        assert steps[f"{place.id}/strip"].needs[0] == f"{place.id}/probe"
        assert "photograph" in steps[f"{place.id}/probe"].action
    felt = [p for p in made.layout.pieces if p.role == "old-felt"]
    assert felt and all(p.facts["not_seen"] and p.cut is None and p.layer == "existing" for p in felt)


def test_two_sheets_meet_shingled() -> None:
    zones = (
        Zone("low", "a", rect(0, 0, 30, 9), "remove", "felted"),
        Zone("high", "a", rect(0, 9, 30, 9), "remove", "new"),
    )
    made = plan([face("a", 0, rect(0, 0, 30, 18), None, None, zones)], closed=False,
                assemblies=(skin("building-felt", name="felted"),))  # fmt: skip
    at = {p.id: p for p in made.layout.pieces}
    found = [x for x in made.layout.laps if "joint-strip" in (at[x.over].role, at[x.under].role)]
    upper = [x for x in found if at[x.over].role == "course"]
    lower = [x for x in found if at[x.under].role == "course"]
    assert upper and lower
    assert all(at[x.over].place == "a/high/barrier" for x in upper)
    assert all(at[x.under].place == "a/low/barrier" for x in lower)
    assert min(x.got_m for x in found if x.asked_m) >= R703_2_UPPER_OVER_LOWER


@pytest.mark.parametrize("seed", range(100, 100 + 4 * SOAK))
def test_random_kept_parts_leave_no_reverse_lap_at_their_joint(seed: int) -> None:
    """Along every joint: what lies over at the joint's upper side comes from above (felt over strip over course)."""
    made = random_house(seed)
    assert rings_broken(made) == []
    assert loops_of_laps(made) == []
    rank = {
        "below": ("course", "z-flashing", "joint-strip", "old-felt"),
        "above": ("old-felt", "joint-strip", "course"),
    }
    rng = random.Random(seed)
    for place, _ in made.places:
        if place.kind != "boundary" or place.sort not in rank or place.line is None:
            continue
        (x0, y0), (x1, _) = place.line
        order = rank[place.sort]
        for _ in range(10):
            spot = Point(rng.uniform(x0, x1), y0 + rng.uniform(-6, 6) * IN)
            for over, under, lap in pairs(made):
                if lap.surface != place.face.id or over.role not in order or under.role not in order:
                    continue
                mine = {p.place for p in (over, under) if p.role != "course"}
                if mine == {place.id} and lap.polygon.contains(spot) and over.role != under.role:
                    assert order.index(over.role) < order.index(under.role), (place.id, over.id, under.id)


def open_edges(made: Plan) -> list[str]:
    """Return the upper and side edges of joint pieces, courses and felt that the drop test finds open."""
    found = drop_test(walls(made.job.survey, made.layout.pieces, made.layout.laps))
    role = {p.id: p.role for p in made.layout.pieces}
    mine = {"joint-strip", "return-strip", "old-felt", "z-flashing", "course", "top-strip"}
    return [f"{e.piece} {e.role} {e.segment}" for e in found.edges
            if e.state == "open" and e.role != "drain" and role[e.piece] in mine]  # fmt: skip


@pytest.mark.parametrize(
    "kept",
    [(0, 0, 30, 5), (0, 12, 30, 6), (20, 0, 10, 18), (0, 0, 10, 18), (10, 6, 6, 5), (0, 0, 8, 5), (20, 10, 10, 8)],
)
def test_water_put_anywhere_at_a_joint_gets_out(kept: tuple[float, float, float, float]) -> None:
    assert open_edges(wall(kept)) == []


def test_water_at_joints_under_a_rake_gets_out() -> None:
    assert open_edges(mixed()) == []


def test_a_window_close_to_the_joint_makes_no_ring_of_laps() -> None:
    for state in ("before", "after", "kept", "insert"):
        for near in (0.3, 0.7):
            outline, area = rect(0, 0, 30, 18), rect(0, 0, 12, 6)
            zones = (
                Zone("new", "a", outline.difference(area), "remove", "new"),
                Zone("kept", "a", area, "keep", "old"),
            )
            made = plan([face("a", 0, outline, None, None, zones,
                              (opening("a", "w1", 4, 6 + near, 3, 4, state), opening("a", "w2", 12 + near, 2, 3, 3, state)))],
                        closed=False)  # fmt: skip
            assert loops_of_laps(made) == [], (state, near)
