"""Top of the wall: the strip closes the air layer along every eave and rake, and stays inside the wall."""

from __future__ import annotations

import math
import os
import random

import pytest
from shapely import LineString, Point
from shapely.ops import unary_union
from skin_jobs import FT, GABLE, IN, face, feet, mixed, opening, plan, random_house, rect, rings_broken

from lapwright.plan.graph import Plan

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))


def top_lines(made: Plan) -> list[tuple[str, LineString]]:
    return [(p.face.id, LineString(p.line)) for p, _ in made.places if p.kind in ("eave", "rake") and p.line]


def bare_tops(made: Plan, seed: int = 3) -> list[str]:
    """Return the points 1 in below a top line, inside new skin and off openings, that no strip covers."""
    rng = random.Random(seed)
    out = []
    for name, line in top_lines(made):
        f = made.job.survey.face(name)
        strips = unary_union([p.polygon for p in made.layout.pieces
                              if p.surface == name and p.plane == "face" and p.role in ("top-strip", "peak-patch", "corner-patch", "top-film")])  # fmt: skip
        new = unary_union([z.polygon for z in f.zones if z.decision != "keep"])
        (x0, y0), (x1, y1) = line.coords
        nx, ny = (y1 - y0) / line.length, -(x1 - x0) / line.length  # to the right of left-to-right: down
        for _ in range(40):
            at = line.interpolate(rng.uniform(0, line.length))
            spot = Point(at.x + nx * IN, at.y + ny * IN)
            if not new.contains(spot) or any(o.polygon.buffer(1e-3).contains(spot) for o in f.openings):
                continue
            if strips.distance(spot) > 1e-4:
                out.append(f"{name} {spot.x / FT:.2f} {spot.y / FT:.2f}")
    return out


def test_every_top_is_closed_and_every_order_makes_a_stack() -> None:
    made = mixed()
    assert {p.kind for p, _ in made.places} >= {"eave", "rake"}
    assert bare_tops(made) == []
    assert rings_broken(made) == []


@pytest.mark.parametrize("seed", range(4 * SOAK))
def test_random_houses_are_closed_at_the_top(seed: int) -> None:
    made = random_house(seed)
    assert bare_tops(made, seed) == []
    assert rings_broken(made) == []


@pytest.mark.parametrize("rise", [2, 6, 12, 24])
def test_no_strip_sticks_out_of_a_gable_of_any_slope(rise: float) -> None:
    outline = feet((0, 0), (24, 0), (24, 10), (12, 10 + rise), (0, 10))
    made = plan([face("g", 0, outline, None, None)], closed=False)
    strips = [p for p in made.layout.pieces if p.plane == "face" and p.role in ("top-strip", "peak-patch")]
    assert {p.role for p in strips} == {"top-strip", "peak-patch"}
    for piece in strips:
        assert piece.polygon.difference(outline.buffer(1e-5)).area < 1e-7
    assert bare_tops(made) == []
    # by Pythagoras: a square-cut strip stops short of a plumb peak by its width times the slope of the other rake
    mine = [c for c in made.layout.cuts if "/rake" in c.id and "/strip" in c.id]
    laps = (len(mine) - 2) * 4 * IN
    steep = max(0.0, 4 * IN * (rise / 12 - 12 / rise) / 2)
    want = 2 * (math.hypot(12, rise) * FT - steep)
    assert sum(c.flat.bounds[2] for c in mine) - laps == pytest.approx(want, abs=1e-3)


def test_the_strip_lies_over_the_last_course_by_two_inches_at_least() -> None:
    made = mixed()
    pieces = {p.id: p for p in made.layout.pieces}
    rows = [x for x in made.layout.laps if "top-strip" in (pieces[x.over].role, pieces[x.under].role)]
    courses = [x for x in rows if "course" in (pieces[x.over].role, pieces[x.under].role)]
    assert courses
    for lap in courses:
        assert pieces[lap.over].role == "top-strip"
    wide = [x for x in courses if x.asked_m > 0]
    assert min(x.got_m for x in wide) >= 2 * IN  # IRC R703.2


def test_no_course_lap_near_the_top_of_a_plain_wall() -> None:
    for height in (5.375, 9, 10, 12, 14.5, 18.25):
        made = plan([face("a", 0, rect(0, 0, 20, height), None, None)], closed=False)
        tops = sorted(
            {round(p.facts["top_m"], 4) for p in made.layout.pieces if p.role == "course" and p.layer == "barrier"}
        )
        assert tops[-1] == pytest.approx(height * FT)
        for top in tops[:-1]:
            assert top <= (height * 12 - 6) * IN + 1e-6


def test_closed_soffit_is_a_warning_until_it_is_opened() -> None:
    wall = face("a", 0, rect(0, 0, 20, 9), None, None, eaves="closed")
    made = plan([wall], closed=False)
    said = [f for f in made.findings if f.code == "top.closed_soffit"]
    assert [f.level for f in said] == ["warn"]
    assert "eave-opened" in said[0].fix and "a/eave" in said[0].fix
    assert {t.id: t.air for t in made.layout.ties}["a/eave"] == "open"
    opened = plan([wall], closed=False, details={"a/eave": "eave-opened"})
    assert not [f for f in opened.findings if f.code == "top.closed_soffit"]
    assert {t.id: t.air for t in opened.layout.ties}["a/eave"] == "tied"
    order = [s.id for s in opened.steps if s.place == "a/eave"]
    assert order == ["a/eave/open", "a/eave/strip", "a/eave/close"]


def test_vented_soffit_keeps_its_intake() -> None:
    made = plan([face("a", 0, rect(0, 0, 20, 9), None, None, eaves="vented")], closed=False)
    mine = [s for s in made.steps if s.place == "a/eave"]
    assert any("Never close an attic intake" in c for s in mine for c in s.cautions)
    hold = [c for c in made.checks if c.place == "a/eave" and "intake" in c.measure]
    assert len(hold) == 1 and hold[0].hold and hold[0].lower == 1.0


def test_an_opening_that_reaches_the_top_interrupts_the_strip() -> None:
    wall = face("a", 0, rect(0, 0, 20, 9), None, None, openings=(opening("a", "w", 6, 5, 4, 4, "kept"),))
    made = plan([wall], closed=False)
    strips = [p for p in made.layout.pieces if p.role == "top-strip" and p.plane == "face"]
    spans = sorted((round(p.polygon.bounds[0] / FT, 3), round(p.polygon.bounds[2] / FT, 3)) for p in strips)
    assert spans == [(0.0, 6.0), (10.0, 20.0)]


def test_top_strips_meet_round_the_corner() -> None:
    faces = [face("a", 0, GABLE, "b", "b"), face("b", 1, rect(0, 0, 30, 10), "a", "a")]
    made = plan(faces)
    patches = [p for p in made.layout.pieces if p.role == "corner-patch"]
    assert sorted({p.claim for p in patches}) == ["a/rake-144/corner", "b/eave/corner"]
    for claim in {p.claim for p in patches}:
        ends = {(p.surface, round(p.polygon.bounds[0], 3) == 0.0) for p in patches if p.claim == claim}
        assert len(ends) == 2  # one part ends at the right edge of one wall, the other begins at the left of the next
