"""What comes through the wall: collars lapped shingle-wise, film to the gauge, nothing wrapped that must not be."""

from __future__ import annotations

import math
import os
import random

import pytest
from pipe_jobs import ONE_OF_EACH, house, random_pipes, through
from shapely import Point
from shapely.ops import unary_union
from skin_jobs import FT, IN, loops_of_laps, opening

from lapwright.continuity.build import drop_test, walls
from lapwright.details.base import Piece
from lapwright.details.penetration_case import carries
from lapwright.findings import Finding
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from rules import broken_rules

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
SHEETS = ("self-adhered-sheet", "fastened-sheet")
NAMES = [p.id for p in ONE_OF_EACH]


@pytest.fixture(scope="module", params=SHEETS)
def all_kinds(request: pytest.FixtureRequest) -> Plan:
    return house(ONE_OF_EACH, barrier=request.param)


def holes(made: Plan) -> dict[str, list[object]]:
    """Everything through the wall, with the clearance of hot vents: what courses leave out on purpose."""
    return {
        f.id: [o.polygon for o in f.openings]
        + [p.polygon.buffer(1 * IN + 1e-3 if carries(p.through) == "hot" else 0.0) for p in f.penetrations]
        for f in made.job.survey.faces
    }


def pieces_of(made: Plan, name: str) -> list[Piece]:
    return [p for p in made.layout.pieces if p.place == f"a/{name}"]


def broken(made: Plan, points: int = 300) -> list[str]:
    keys = ("job", "surfaces", "assemblies", "pieces", "cuts", "laps")
    return broken_rules(document(made, keys), holes(made), points=points)


def dropped(made: Plan) -> list[Finding]:
    """What the drop test, which knows nothing of details, says about the pieces of penetrations."""
    found = drop_test(walls(made.job.survey, made.layout.pieces, made.layout.laps)).findings
    places = tuple(f"a/{p.id}/" for p in made.job.survey.faces[0].penetrations)
    return [f for f in found if any(name in f"{f.what} " for name in places)]


@pytest.mark.parametrize("name", NAMES)
def test_every_kind_has_steps_with_pieces_checks_and_a_closed_tie(all_kinds: Plan, name: str) -> None:
    steps = [s for s in all_kinds.steps if s.place == f"a/{name}"]
    assert len(steps) >= 2
    assert all(s.pieces or s.reason for s in steps)
    assert all(s.hours > 0 and s.hours_source for s in steps)
    listed = [p for s in steps for p in s.pieces]
    assert sorted(listed) == sorted(p.id for p in pieces_of(all_kinds, name))  # every piece is put on in one step
    assert [c for c in all_kinds.checks if c.place == f"a/{name}"]
    (tie,) = [t for t in all_kinds.layout.ties if t.id == f"a/{name}"]
    assert (tie.water, tie.air) == ("tied", "tied")


@pytest.mark.parametrize("name", NAMES)
def test_the_first_step_names_the_thing_its_size_and_its_height(all_kinds: Plan, name: str) -> None:
    first = next(s for s in all_kinds.steps if s.place == f"a/{name}")
    assert name in first.action and "above the line" in first.action and '"' in first.action


def test_the_plan_of_all_kinds_keeps_the_geometry_rules(all_kinds: Plan) -> None:
    assert broken(all_kinds, 1500) == []
    assert loops_of_laps(all_kinds) == []
    assert dropped(all_kinds) == []
    codes = {f.code for f in all_kinds.findings}
    assert not codes & {"lap.short", "penetration.tight", "details.none.penetration"}
    assert not [f for f in all_kinds.findings if f.code == "details.none" and "penetration" in f.what]


@pytest.mark.parametrize("seed", range(12 * SOAK))
def test_random_walls_have_no_ring_of_laps_and_no_bare_spot(seed: int) -> None:
    made = random_pipes(seed)
    assert loops_of_laps(made) == []
    assert broken(made, 60) == []
    assert [f.what for f in made.findings if f.code == "lap.short"] == []
    told = {f.where.thing for f in made.findings if f.code == "penetration.tight"}
    face = made.job.survey.faces[0]
    crowd = [(o.id, o.polygon, 4 * IN) for o in face.openings] + [(p.id, p.polygon, 9 * IN) for p in face.penetrations]
    close = {p.id for p in face.penetrations if any(n != p.id and p.polygon.distance(g) < d for n, g, d in crowd)}
    for f in dropped(made):  # where there is no room it relies on film, and is told; only in a crowd is it a stop
        who = {name for name in told if f"a/{name}/" in f.what}
        assert who and (f.level == "warn" or who & close), f.what


@pytest.mark.parametrize("name", ["dryer", "odd", "gas", "vent", "wide", "lamp", "panel", "meter", "flue"])
def test_water_running_down_goes_out_over_each_piece_at_a_collar(all_kinds: Plan, name: str) -> None:
    """Going up over a collar: first it lies over the course, then, from one height on, the course lies over it."""
    (collar,) = [p for p in pieces_of(all_kinds, name) if p.role == "collar"]
    courses = {p.id for p in all_kinds.layout.pieces if p.role == "course"}
    over = [x.polygon for x in all_kinds.layout.laps if x.over == collar.id and x.under in courses]
    under = [x.polygon for x in all_kinds.layout.laps if x.under == collar.id and x.over in courses]
    x0, y0, x1, y1 = collar.polygon.bounds
    rng = random.Random(7)
    highest_over, lowest_under = y0, y1
    for _ in range(400):
        at = Point(rng.uniform(x0, x1), rng.uniform(y0, y1))
        if any(g.covers(at) for g in over):
            highest_over = max(highest_over, at.y)
        if any(g.covers(at) for g in under):
            lowest_under = min(lowest_under, at.y)
    assert highest_over <= lowest_under
    top = next(p for p in ONE_OF_EACH if p.id == name).polygon.bounds[3]
    assert top < lowest_under < y1  # the flap comes down to just above the thing
    shape = unary_union(over)
    assert (
        shape.bounds[0] < x0 + 1e-3 and shape.bounds[1] < y0 + 1e-3 and shape.bounds[2] > x1 - 1e-3
    )  # all round the sides


# Outside diameters of nominal pipes in inches, ASME B36.10 table 1 (published figures).
PIPES = {
    "1/2": 0.840,
    "3/4": 1.050,
    "1": 1.315,
    "1-1/4": 1.660,
    "1-1/2": 1.900,
    "2": 2.375,
    "2-1/2": 2.875,
    "3": 3.500,
    "4": 4.500,
}
BOOTS = {"1/2": 1, "3/4": 1, "1": 1, "1-1/4": 2, "1-1/2": 2, "2": 2, "2-1/2": None, "3": 4, "4": 4}


@pytest.mark.parametrize("nominal", sorted(PIPES))
def test_a_pipe_gets_the_boot_whose_title_names_its_size(nominal: str) -> None:
    made = house((through("p", "pipe", 10, 5, PIPES[nominal]),))
    (collar,) = [p for p in pieces_of(made, "p") if p.role == "collar"]
    size = BOOTS[nominal]
    assert collar.product == ("self-adhered-sheet" if size is None else f"penetration-boot-{size}")
    if size is not None:
        assert next(r for r in made.order.rows if r.product == collar.product).need == 1


@pytest.mark.parametrize(
    ("size", "product"),
    [(4, "duct-collar-4"), (6, "duct-collar-6"), (5, "self-adhered-sheet"), ((10, 3), "self-adhered-sheet")],
)
def test_a_duct_without_a_collar_of_its_size_gets_one_cut(size: object, product: str) -> None:
    made = house((through("p", "duct", 10, 5, size, "dryer"),))  # type: ignore[arg-type]
    (collar,) = [p for p in pieces_of(made, "p") if p.role == "collar"]
    assert collar.product == product
    assert (collar.cut is None) == product.startswith("duct")


def test_film_round_a_cable_is_its_ring_times_the_gauge() -> None:
    made = house((through("p", "cable", 10, 5, 1.5),))
    (film,) = [p for p in pieces_of(made, "p") if p.layer == "film"]
    ring = math.pi * ((0.75 + 2) ** 2 - 0.75**2)  # 2 in all round, square inches
    liters = 1.5 * ring * 0.020 * 0.016387064  # and half as much up the cable; 20 mil; 1 cu in = 0.016387 L
    number, measure = film.facts["quantity"]
    assert measure == "L" and number == pytest.approx(liters, rel=0.03)  # chords within 1 mm


def test_a_bundle_gets_two_coats_over_a_backing_in_that_order(all_kinds: Plan) -> None:
    steps = [s.id.rsplit("/", 1)[1] for s in all_kinds.steps if s.place == "a/lines"]
    assert steps == ["prepare", "backing", "coat-1", "coat-2", "joint"]
    first, second = (next(p for p in pieces_of(all_kinds, "lines") if p.claim.endswith(f"coat-{n}")) for n in (1, 2))
    assert [x.over for x in all_kinds.layout.laps if {x.over, x.under} == {first.id, second.id}] == [second.id]


@pytest.mark.parametrize("clear_in", [1.0, 6.0])
def test_sheet_film_tape_and_wood_stay_off_a_hot_vent(clear_in: float) -> None:
    made = house((through("flue", "pipe", 10, 8, 4, "flue of the boiler"),),
                 settings={"penetration-hot-vent": {"hot_clear": clear_in * IN}})  # fmt: skip
    center = Point(10 * FT, 8 * FT)
    near = [
        p
        for p in made.layout.pieces
        if p.surface == "a" and p.plane == "face" and p.layer in ("barrier", "strip", "film", "tape", "cladding", "mat")
    ]
    closest = min(p.polygon.distance(center) for p in near)
    assert closest >= 2 * IN + clear_in * IN - 1.5e-3  # the hole is drawn in chords within 1 mm
    (plate,) = [p for p in pieces_of(made, "flue") if p.role == "collar"]
    assert plate.product == "coil-stock"
    steps = [s for s in made.steps if s.place == "a/flue"]
    assert all(any("licensed" in c for c in s.cautions) for s in steps)
    (check,) = [c for c in made.checks if c.id == "a/flue/prepare/clear"]
    assert check.lower == pytest.approx(clear_in * 25.4) and check.hold


def test_a_meter_is_not_wrapped_unless_the_utility_takes_it_off() -> None:
    meter = through("m", "meter", 10, 5, (12, 18), "gas")
    stays, taken = house((meter,)), house((meter,), details={"a/m": "penetration-meter-released"})
    inner = meter.polygon.buffer(-2e-3)
    for made, wrapped in ((stays, False), (taken, True)):
        courses = unary_union([p.polygon for p in made.layout.pieces if p.role == "course" and p.surface == "a"])
        assert courses.buffer(1e-3).covers(inner) == wrapped
        assert courses.intersects(inner) == wrapped
        over = [
            p
            for p in made.layout.pieces
            if p.layer in ("strip", "film", "tape") and p.surface == "a" and p.polygon.intersects(inner)
        ]
        assert over == []
        cautions = {c for s in made.steps if s.place == "a/m" for c in s.cautions}
        assert any("Never wrap a meter" in c and "NEW FACE" in c.upper() for c in cautions)
    assert {t.water for t in taken.layout.ties if t.id == "a/m"} == {"tied"}
    assert loops_of_laps(taken) == [] and loops_of_laps(stays) == []


def test_siding_dies_on_a_block_under_a_head_flashing_whose_leg_is_under_the_course(all_kinds: Plan) -> None:
    for name in ("lamp", "panel", "meter"):
        mine = pieces_of(all_kinds, name)
        metal = next(p for p in mine if p.role == "head-flashing" and p.plane == "face")
        wood = unary_union([p.polygon for p in mine if p.layer == "cladding"])
        assert metal.polygon.bounds[1] == pytest.approx(wood.bounds[3])
        assert metal.polygon.bounds[0] < wood.bounds[0] and metal.polygon.bounds[2] > wood.bounds[2]
        courses = {p.id for p in all_kinds.layout.pieces if p.role == "course"}
        flaps = [x for x in all_kinds.layout.laps if x.under == metal.id and x.over in courses]
        assert max(x.got_m for x in flaps) >= 2 * IN
        below = [x.polygon.bounds for x in all_kinds.layout.laps if x.over == metal.id and x.under in courses]
        assert max((b[3] for b in below), default=0.0) < min(x.polygon.bounds[1] for x in flaps)
        assert max((b[3] - metal.polygon.bounds[1] for b in below), default=0.0) <= 0.5 * IN  # the slit is just above the fold


def test_one_at_a_window_is_told_and_still_has_no_ring_of_laps() -> None:
    made = house((through("p", "duct", 13.4, 5, 4, "bath fan"),), (opening("a", "w1", 10, 3, 3, 4, "before"),))
    (found,) = [f for f in made.findings if f.code == "penetration.tight"]
    assert found.level == "warn" and "w1" in found.what and found.where.thing == "p"
    assert loops_of_laps(made) == [] and broken(made) == []
    step = next(s for s in made.steps if s.id == "a/p/collar")
    assert "relies on glue" in step.action


def test_clear_of_a_window_the_collar_shrinks_instead() -> None:
    made = house((through("p", "duct", 14.1, 5, 4, "bath fan"),), (opening("a", "w1", 10, 3, 3, 4, "before"),))
    (collar,) = [p for p in pieces_of(made, "p") if p.role == "collar"]
    strips = unary_union([p.polygon for p in made.layout.pieces if p.place == "a/w1" and p.plane == "face"])
    assert collar.polygon.intersection(strips).area < 1e-9
    assert collar.polygon.bounds[0] >= (13 * 12 + 8) * IN - 1e-6  # ears of the window's strips reach 8 in


def test_two_close_together_share_the_room() -> None:
    made = house((through("p", "duct", 10, 5, 4, "bath fan"), through("q", "duct", 10, 5 + 9 / 12, 4, "dryer")))
    low, high = ([p for p in pieces_of(made, n) if p.role in ("collar", "head-tape")] for n in "pq")
    assert all(a.polygon.intersection(b.polygon).area < 1e-9 for a in low for b in high)
    assert loops_of_laps(made) == []


SAYS = {
    "dryer": "no screen", "bath fan": "never in the wall", "gas": "call the utility", "power": "Treat wires as live",
    "water": "Shut off", "combustion air": "never wrapped", "flue": "combustion test", "heat pump": "licensed technician",
}  # fmt: skip


@pytest.mark.parametrize("runs", sorted(SAYS))
def test_what_runs_in_it_decides_the_caution(runs: str) -> None:
    made = house((through("p", "pipe", 10, 5, 4, runs),))
    steps = [s for s in made.steps if s.place == "a/p"]
    assert all(any(SAYS[runs] in c for c in s.cautions) for s in steps)


def test_what_the_survey_does_not_say_is_asked() -> None:
    made = house((through("p", "pipe", 10, 5, 2),))
    assert all(any("find out" in c for c in s.cautions) for s in made.steps if s.place == "a/p")


def test_a_wall_without_a_barrier_leaves_the_hole_and_claims_no_collar() -> None:
    from skin_jobs import CATALOG

    from lapwright.scope.model import Assembly, Layer

    thin = Assembly("new", (Layer("cladding", "board-siding"), Layer("sheathing", material="board", existing=True)))
    made = house((through("p", "duct", 10, 5, 4, "dryer"),))
    job = made.job.__class__(
        **{
            **made.job.__dict__,
            "scope": made.job.scope.__class__(**{**made.job.scope.__dict__, "assemblies": {"new": thin}}),
        }
    )
    bare = Plan(job, CATALOG)
    assert pieces_of(bare, "p") == []
    assert [s for s in bare.steps if s.place == "a/p"]
