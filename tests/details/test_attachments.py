"""Things fixed to the wall: roofs, ledgers, bands, chimneys, eaves. Courses go over the upper leg; what pours is led off."""

from __future__ import annotations

import itertools
import math
import os
import random

import pytest
from pipe_jobs import house
from shapely import LineString, Point, Polygon
from shapely.ops import unary_union
from skin_jobs import CATALOG, FT, IN, feet, loops_of_laps, opening

from conftest import holes_of
from lapwright.continuity.build import drop_test, walls
from lapwright.details.base import Piece
from lapwright.findings import Finding
from lapwright.geometry import box
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.survey.model import Attachment
from rules import broken_rules

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
SHEETS = ("self-adhered-sheet", "fastened-sheet")


def fixed(name: str, kind: str, start: tuple[float, float], end: tuple[float, float], **more: object) -> Attachment:
    """An attachment on face "a", its line in feet."""
    (x0, y0), (x1, y1) = start, end
    return Attachment(name, "a", kind, (x0 * FT, y0 * FT), (x1 * FT, y1 * FT), **more)  # type: ignore[arg-type]


def stack(x: float, wide: float, low: float, high: float) -> Attachment:
    return fixed("stack", "chimney", (x, high), (x + wide, high), polygon=feet((x, low), (x + wide, low), (x + wide, high), (x, high)))


EACH: dict[str, tuple[Attachment, ...]] = {
    "slope": (fixed("r", "roof", (4, 9), (16, 13), projection_m=3.0, ends=("eave", "open")),),
    "slope-down": (fixed("r", "roof", (4, 13), (16, 9), projection_m=3.0, ends=("wall", "eave")),),
    "rooms": (fixed("r", "roof", (4, 13), (16, 9), projection_m=4.0, below="inside", ends=("wall", "eave")),),
    "porch": (fixed("r", "porch_roof", (6, 9), (22, 9), projection_m=2.0),),
    "pours": (fixed("r", "porch_roof", (6, 9), (22, 9), projection_m=2.0, ends=("eave", "eave")),),
    "deck": (fixed("r", "deck_ledger", (6, 3), (20, 3), depth_m=9.25 * IN),),
    "low-deck": (fixed("r", "deck_ledger", (6, 0.9), (20, 0.9), depth_m=9.25 * IN),),
    "band": (fixed("r", "belly_band", (0, 9), (40, 9), depth_m=7.25 * IN),),
    "stack": (stack(12, 4, 0, 18),),
    "short-stack": (stack(12, 4, 0, 11),),
    "return": (fixed("r", "roof_return", (0, 9), (3, 9), projection_m=0.4, ends=("open", "eave")),),
    "eave": (fixed("r", "eave", (0, 18), (40, 18), depth_m=8 * IN),),
    "low-eave": (fixed("r", "eave", (5, 10), (18, 10), depth_m=8 * IN, projection_m=0.5),),
}


@pytest.fixture(scope="module", params=SHEETS)
def made(request: pytest.FixtureRequest) -> dict[str, Plan]:
    return {name: house(attachments=what, barrier=request.param) for name, what in EACH.items()}


def mine(plan: Plan, name: str | None = None, role: str | None = None) -> list[Piece]:
    places = {f"a/{a.id}" for a in plan.job.survey.faces[0].attachments}
    return [p for p in plan.layout.pieces if p.place in places and role in (None, p.role) and p.plane == "face"]


def dropped(plan: Plan) -> list[Finding]:
    return [f for f in drop_test(walls(plan.job.survey, plan.layout.pieces, plan.layout.laps)).findings]


def broken(plan: Plan, points: int = 400) -> list[str]:
    keys = ("job", "surfaces", "assemblies", "pieces", "cuts", "laps")
    return broken_rules(document(plan, keys), holes_of(plan), points=points)


def off_the_wall(plan: Plan) -> list[str]:
    """Pieces of attachments that leave the wall or lie on an opening."""
    face = plan.job.survey.faces[0]
    wall = face.outline.difference(unary_union([o.polygon.buffer(-1e-3) for o in face.openings]))
    return [p.id for p in mine(plan) if p.layer in ("strip", "flashing") and p.polygon.difference(wall.buffer(1e-3)).area > 1e-5]


@pytest.mark.parametrize("name", sorted(EACH))
def test_every_kind_has_steps_checks_closed_ties_and_keeps_the_rules(made: dict[str, Plan], name: str) -> None:
    plan = made[name]
    place = f"a/{EACH[name][0].id}"
    steps = [s for s in plan.steps if s.place == place]
    assert steps and all(s.pieces or s.reason for s in steps) and all(s.hours > 0 for s in steps)
    assert sorted(p for s in steps for p in s.pieces) == sorted(p.id for p in plan.layout.pieces if p.place == place)
    assert [c for c in plan.checks if c.place == place]
    ties = [t for t in plan.layout.ties if t.id == place or t.id.startswith(f"{place}/")]
    assert ties and all("open" not in (t.water, t.air) for t in ties)
    assert not [f for f in plan.findings if f.code in ("lap.short", "details.none") or f.code.startswith("roof.")]
    assert loops_of_laps(plan) == []
    assert broken(plan) == []
    assert off_the_wall(plan) == []
    assert dropped(plan) == []


@pytest.mark.parametrize("name", ["slope", "slope-down", "rooms", "porch", "pours", "deck", "short-stack", "return", "low-eave"])
def test_the_course_lies_over_the_upper_leg_everywhere(made: dict[str, Plan], name: str) -> None:
    """At random points of every flashing, above the slit just over its fold: the course is over it."""
    plan = made[name]
    rng = random.Random(3)
    courses = {p.id for p in plan.layout.pieces if p.role == "course"}
    seen = 0
    for metal in mine(plan):
        if metal.layer != "flashing":
            continue
        over = [x.polygon for x in plan.layout.laps if x.under == metal.id and x.over in courses]
        x0, y0, x1, y1 = metal.polygon.bounds
        fold = (y0 + 2.5 * IN) if metal.role == "kick-out" else (y0 + 0.5 * IN)
        for _ in range(40):
            at = Point(rng.uniform(x0, x1), rng.uniform(fold, y1))
            if metal.polygon.buffer(-2e-3).contains(at) and not any(
                LineString([(x, 0), (x, 20)]).distance(at) < 2e-3 for x in (0.0,)
            ):
                assert any(g.buffer(1e-3).covers(at) for g in over), f"{metal.id} bare at {at}"
                seen += 1
    assert seen > 30


# Step flashings on a slope: exposure = piece less lap, 8 in pieces with 2 in laps cover 6 in each.
@pytest.mark.parametrize(("run_in", "count"), [(8, 1), (14, 2), (14.1, 3), (20, 3), (152, 25), (153, 26)])
def test_step_flashings_are_counted_by_exposure(run_in: float, count: int) -> None:
    x = run_in * IN * math.cos(math.atan(0.5))
    y = run_in * IN * math.sin(math.atan(0.5))
    roof = Attachment("r", "a", "roof", (2.0, 2.8), (2.0 + x, 2.8 + y), projection_m=3.0)
    pieces = mine(house(attachments=(roof,)), role="step-flashing")
    assert len(pieces) == count


@pytest.mark.parametrize("name", ["slope", "slope-down", "rooms"])
def test_step_flashings_lap_two_inches_upper_over_lower(made: dict[str, Plan], name: str) -> None:
    plan = made[name]
    pieces = sorted(mine(plan, role="step-flashing"), key=lambda p: p.polygon.centroid.y)
    laps = {(x.over, x.under): x for x in plan.layout.laps}
    for low, high in itertools.pairwise(pieces):
        lap = laps[high.id, low.id]  # KeyError: no lap, or the wrong way
        assert lap.got_m >= 2 * IN - 1e-4
    covered = unary_union([p.polygon for p in pieces])
    item = plan.job.survey.faces[0].attachments[0]
    assert covered.buffer(1e-4).covers(LineString([item.start, item.end]))
    assert [r.need for r in plan.order.rows if r.product == "step-flashing"] == [len(pieces)]


@pytest.mark.parametrize(
    ("kind", "line", "ends", "at"),
    [
        ("roof", ((4, 9), (16, 13)), ("eave", "open"), [4]),
        ("roof", ((4, 13), (16, 9)), ("open", "eave"), [16]),
        ("porch_roof", ((6, 9), (22, 9)), ("eave", "eave"), [6, 22]),
        ("porch_roof", ((6, 9), (22, 9)), ("wall", "open"), []),
    ],
)
def test_a_kick_out_stands_outside_each_end_that_pours(kind: str, line: tuple[tuple[float, float], tuple[float, float]], ends: tuple[str, str], at: list[float]) -> None:  # fmt: skip
    plan = house(attachments=(fixed("r", kind, *line, projection_m=2.0, ends=ends),))
    kicks = sorted(mine(plan, role="kick-out"), key=lambda p: p.polygon.bounds[0])
    assert len(kicks) == len(at)
    x_roof = (line[0][0] * FT, line[1][0] * FT)
    for kick, x in zip(kicks, at, strict=True):
        x0, y0, x1, y1 = kick.polygon.bounds
        assert min(abs(x0 - x * FT), abs(x1 - x * FT)) < 1e-6
        assert x1 <= x_roof[0] + 1e-6 or x0 >= x_roof[1] - 1e-6  # beside the roof, not on it
        end = line[0] if x == line[0][0] else line[1]
        assert 6 * IN - 1e-6 <= y1 - end[1] * FT <= 10 * IN + 1e-6  # common practice: 6-10 in tall
        assert y0 <= end[1] * FT - 2 * IN + 1e-6  # over the course below (IRC R703.2)


@pytest.mark.parametrize(("projection_ft", "tall_in"), [(2, 6), (12, 8), (40, 10)])
def test_a_kick_out_grows_with_the_run_off(projection_ft: float, tall_in: float) -> None:
    """Run-off area = projection x length along the wall: 25, 152 and 506 sq ft here (12.65 ft of slope)."""
    plan = house(attachments=(fixed("r", "roof", (4, 9), (16, 13), projection_m=projection_ft * FT, ends=("eave", "open")),))
    (kick,) = mine(plan, role="kick-out")
    assert kick.facts["run_off_m2"] == pytest.approx(math.hypot(12, 4) * projection_ft * FT**2)
    assert kick.facts["height_m"] == pytest.approx(tall_in * IN)


@pytest.mark.parametrize("blocked", ["window", "corner"])
def test_no_room_for_a_kick_out_stops_the_job(blocked: str) -> None:
    if blocked == "window":
        plan = house((), (opening("a", "w1", 16.1, 8, 3, 4, "before"),), EACH["slope-down"])
        assert "w1" in next(f for f in plan.findings if f.code == "roof.no_room").what
    else:
        plan = house(attachments=(fixed("r", "roof", (28, 13), (40, 9), ends=("wall", "eave")),))
    (found,) = [f for f in plan.findings if f.code == "roof.no_room"]
    assert found.level == "stop" and "R903.2.1" in found.source and found.where.thing == "r"


def test_an_eave_at_the_high_end_is_told() -> None:
    plan = house(attachments=(fixed("r", "roof", (4, 9), (16, 13), ends=("open", "eave")),))
    assert [f.level for f in plan.findings if f.code == "roof.high_eave"] == ["warn"]
    assert mine(plan, role="kick-out") == []


def test_rooms_below_a_roof_get_no_barrier_and_no_siding(made: dict[str, Plan]) -> None:
    plan = made["rooms"]
    rooms = feet((4, 0), (16, 0), (16, 9), (4, 13)).buffer(-0.01)
    for p in plan.layout.pieces:
        if p.surface == "a" and p.plane == "face" and p.layer in ("barrier", "mat", "cladding"):
            assert p.polygon.intersection(rooms).area < 1e-4, p.id
    sides = {t.id for t in plan.layout.ties if t.id.startswith("a/r/")}
    assert sides == {"a/r/left", "a/r/right"}


def test_siding_stays_an_inch_and_a_half_above_a_roof(made: dict[str, Plan]) -> None:
    for name in ("porch", "slope", "rooms"):
        plan = made[name]
        item = plan.job.survey.faces[0].attachments[0]
        line = LineString([item.start, item.end])
        siding = [p for p in plan.layout.pieces if p.surface == "a" and p.layer == "cladding" and p.plane == "face" and p.role == "siding"]
        above = [p.polygon for p in siding if p.polygon.centroid.y > 0]
        gap = min(part.distance(line) for g in above if not (part := g.intersection(_above(item))).is_empty)
        assert 1 * IN <= gap <= 2 * IN + 1e-6


def _above(item: Attachment) -> Polygon:
    """The wall above the inner part of a line, a foot in from its ends."""
    line = LineString([item.start, item.end])
    (x0, y0), (x1, y1) = (line.interpolate(d).coords[0] for d in (FT, line.length - FT))
    return Polygon([(x0, y0), (x1, y1), (x1, 20.0), (x0, 20.0)])


def test_a_ledger_is_cut_round_flashed_over_and_probed(made: dict[str, Plan]) -> None:
    plan = made["deck"]
    ledger = box(6 * FT, 3 * FT - 9.25 * IN, 20 * FT, 3 * FT)
    for p in plan.layout.pieces:
        if p.surface == "a" and p.plane == "face" and p.layer in ("barrier", "strip", "flashing", "cladding", "mat"):
            assert p.polygon.intersection(ledger.buffer(-2e-3)).area < 1e-5, p.id
    metal = unary_union([p.polygon for p in mine(plan, role="ledger-flashing")])
    assert metal.bounds[0] <= 6 * FT - 1 * IN + 1e-6 and metal.bounds[2] >= 20 * FT + 1 * IN - 1e-6
    assert metal.bounds[1] == pytest.approx(3 * FT)
    (probe,) = [c for c in plan.checks if c.id == "a/r/strips/rot"]
    assert probe.hold and probe.count >= 7  # every 2 ft of 14 ft
    (note,) = [f for f in plan.findings if f.code == "ledger.cut_round"]
    assert note.level == "note" and "R703.2 (2024)" in note.source and "R703.4" in note.source
    assert any("veneer" in c for s in plan.steps if s.place == "a/r" for c in s.cautions)


def test_a_ledger_that_is_taken_off_is_no_place() -> None:
    plan = house(attachments=(fixed("r", "deck_ledger", (6, 3), (20, 3), depth_m=9.25 * IN, decision="remove"),))
    assert not [p for p, _ in plan.places if p.id == "a/r"]
    assert not [f for f in plan.findings if f.code == "ledger.cut_round"]


def test_the_barrier_runs_on_behind_a_band_and_laps_its_flashing_by_two_inches(made: dict[str, Plan]) -> None:
    plan = made["band"]
    courses = [p for p in plan.layout.pieces if p.role == "course" and p.surface == "a" and p.layer == "barrier"]
    behind = box(1.0, 9 * FT - 7.25 * IN, 11.0, 9 * FT)
    assert unary_union([p.polygon for p in courses]).buffer(1e-3).covers(behind)
    ids = {p.id for p in courses}
    for metal in mine(plan, role="band-flashing"):
        flaps = [x for x in plan.layout.laps if x.under == metal.id and x.over in ids]
        assert max(x.got_m for x in flaps) >= 2 * IN
    joints = [x for x in plan.layout.laps if x.kind == "course" and x.surface == "a"]
    assert all(abs(x.polygon.bounds[1] - 9 * FT) > 1 * IN for x in joints)  # no course lap at the flashing


@pytest.mark.parametrize(("role", "product"), [("band-flashing", "z-flashing"), ("belly-band", "belly-band-board")])
def test_long_runs_are_cut_at_the_stock_length(made: dict[str, Plan], role: str, product: str) -> None:
    stock = CATALOG[product].needed("length_m")
    pieces = mine(made["band"], role=role)
    spans = sorted((p.polygon.bounds[0], p.polygon.bounds[2]) for p in pieces)
    assert all(b - a <= stock + 1e-6 for a, b in spans)
    assert spans[0][0] < 1e-6 and spans[-1][1] > 40 * FT - 1e-6
    lap = CATALOG[product].number("lap_m") or 0.0 if role == "band-flashing" else 0.0
    assert all(b0 - a1 >= lap - 1e-4 for (_, b0), (a1, _) in itertools.pairwise(spans))
    assert len(pieces) == math.ceil((40 * FT - lap) / (stock - lap) - 1e-9)


def test_a_band_higher_than_its_board_is_told() -> None:
    plan = house(attachments=(fixed("r", "belly_band", (0, 9), (40, 9), depth_m=11 * IN),))
    assert [f.level for f in plan.findings if f.code == "band.wide"] == ["warn"]


def test_up_a_chimney_the_upper_length_laps_over_the_lower(made: dict[str, Plan]) -> None:
    plan = made["stack"]
    laps = {(x.over, x.under): x for x in plan.layout.laps}
    for side in ("left", "right"):
        lengths = sorted((p for p in mine(plan, role="counter-flashing") if f"counter-{side}" in p.id), key=lambda p: p.polygon.bounds[1])
        assert len(lengths) >= 2  # 18 ft in 10 ft lengths
        for low, high in itertools.pairwise(lengths):
            assert laps[high.id, low.id].got_m >= 3 * IN
        strips = [p for p in mine(plan, role="joint-strip") if f"side-strip-{side}" in p.id]
        over = unary_union([p.polygon for p in strips]).intersection(unary_union([p.polygon for p in lengths]))
        assert over.area > 0.9 * sum(p.polygon.area for p in lengths) - 0.05  # metal on the strip
    assert {p.product for p in plan.layout.pieces if p.place == "a/stack" and p.layer == "sealant"} == {"sealant", "backer-rod"}
    assert {t.id for t in plan.layout.ties if t.id.startswith("a/stack")} == {"a/stack/left", "a/stack/right"}


def test_the_eave_closes_the_air_and_the_wall_has_no_second_top(made: dict[str, Plan]) -> None:
    plan = made["eave"]
    assert not [p for p, _ in plan.places if p.id == "a/eave"]
    strip = unary_union([p.polygon for p in mine(plan, role="top-strip")])
    assert strip.bounds[3] == pytest.approx(18 * FT - 8 * IN) and strip.bounds[2] - strip.bounds[0] > 39.9 * FT
    assert {t.air for t in plan.layout.ties if t.id.startswith("a/r")} == {"tied"}


def random_wall(seed: int) -> Plan:
    """Roofs, ledgers, bands and chimneys of random size with windows close to them."""
    rng = random.Random(seed)
    things: list[Attachment] = []
    x = rng.uniform(0.5, 5)
    for n in range(rng.randrange(1, 4)):
        wide = rng.uniform(4, 12)
        kind = rng.choice(("roof", "porch_roof", "deck_ledger", "belly_band", "chimney", "roof_return"))
        y = rng.uniform(3, 13)
        ends = (rng.choice(("eave", "wall", "open")), rng.choice(("eave", "wall", "open")))
        if kind == "chimney":
            wide = min(wide, 5)
            things.append(fixed(f"t{n}", kind, (x, y + 4), (x + wide, y + 4), polygon=feet((x, 0), (x + wide, 0), (x + wide, y + 4), (x, y + 4))))
        elif kind == "roof":
            rise = rng.uniform(-4, 4)
            below = rng.choice(("inside", "outside"))
            things.append(fixed(f"t{n}", kind, (x, y), (x + wide, min(max(y + rise, 2.5), 16)), projection_m=rng.uniform(1, 5), below=below, ends=ends))
        else:
            things.append(fixed(f"t{n}", kind, (x, y), (x + wide, y), depth_m=rng.uniform(5, 9) * IN, projection_m=2.0, ends=ends))
        x += wide + rng.uniform(1, 6)
        if x > 26:
            break
    taken = [_body(t) for t in things]
    openings = []
    for n in range(rng.randrange(0, 7)):
        o = opening("a", f"w{n}", rng.uniform(1, 36), rng.uniform(0.5, 14), rng.uniform(1, 4), rng.uniform(1, 3),
                    rng.choice(("before", "after", "kept", "insert")))  # fmt: skip
        room = o.polygon.buffer(0.05)
        if not box(0, 0, 39.5 * FT, 17.5 * FT).covers(o.polygon) or any(room.intersects(t) for t in taken):
            continue
        if all(not o.polygon.buffer(0.6).intersects(q.polygon) for q in openings):
            openings.append(o)
    return house((), tuple(openings), tuple(things), rng.choice(SHEETS))


def _body(item: Attachment) -> Polygon:
    if item.polygon is not None:
        return item.polygon
    (x0, y0), (x1, y1) = item.start, item.end
    low = -1.0 if item.below == "inside" else min(y0, y1) - max(item.depth_m, 6 * IN) - 0.05
    return Polygon([(x0, min(low, y0)), (x1, min(low, y1)), (x1, y1), (x0, y0)])


@pytest.mark.parametrize("seed", range(8 * SOAK))
def test_random_walls_have_no_ring_of_laps_and_no_bare_spot(seed: int) -> None:
    plan = random_wall(seed)
    assert loops_of_laps(plan) == []
    assert broken(plan, 80) == []
    assert off_the_wall(plan) == []
