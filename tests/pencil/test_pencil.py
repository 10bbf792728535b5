"""The pencil test finds every tie that was taken away, and nothing else; where it cannot see, it says so."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest
import shapely
from houses import random_house
from shapely import LineString, Point

from conftest import SOAK
from lapwright.catalog.load import load
from lapwright.details.base import TieClaim
from lapwright.details.places import is_new
from lapwright.geometry import merged
from lapwright.layout.build import Tie, resolve_ties
from lapwright.pencil import LAYERS, PencilTest, pencil_test
from lapwright.plan.graph import Plan
from lapwright.plan.load import open_plan
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

EXAMPLES = Path(__file__).parents[2] / "examples"
JOBS = ("demo", "metric", "one-face", "two-mistakes", "foam-wall")
CATALOG = load()[0]
HOUSES = 12 * SOAK
REMOVED = 40  # ties taken from each random house, in draws of one to five
FROM_EXAMPLE = 100 * SOAK


@lru_cache(maxsize=4)
def job(name: str) -> Plan:
    return open_plan(EXAMPLES / name)


def plan_of(text: str) -> Plan:
    return Plan(job_of(parse_yaml(text), Path("house.yaml"), CATALOG), CATALOG)


def trace(plan: Plan, ties: list[Tie] | None = None) -> PencilTest:
    return pencil_test(plan.context, plan.layout.ties if ties is None else ties)


def spoil(ties: list[Tie], rng: random.Random) -> tuple[list[Tie], set[tuple[str, str]], list[Tie]]:
    """Take one to five ties away, or one layer of each; return what is left, what must be found, and the ties."""
    closed = [t for t in ties if "tied" in (t.water, t.air, t.heat)]
    if not closed:
        return ties, set(), []
    hit = rng.sample(closed, min(len(closed), rng.randint(1, 5)))
    left, lost = [t for t in ties if t not in hit], set()
    for tie in hit:
        layers = [x for x in LAYERS if getattr(tie, x) == "tied"]
        if rng.random() < 0.5:
            lost |= {(tie.id, x) for x in layers}
        else:
            layer = rng.choice(layers)
            left.append(replace(tie, **{layer: "open"}))  # type: ignore[arg-type]
            lost.add((tie.id, layer))
    rng.shuffle(left)
    return left, lost, hit


def check_removals(plan: Plan, rng: random.Random, count: int) -> int:
    """Take away `count` ties or more, a few at a time; return how many."""
    ties, done = list(plan.layout.ties), 0
    before = set(trace(plan).gaps)
    while done < count:
        left, lost, hit = spoil(ties, rng)
        if not hit:
            return done
        after = trace(plan, left)
        assert set(after.gaps) - before == lost
        assert before <= set(after.gaps)
        joints = {j.id: j for j in after.joints}
        told = {f.where.thing for f in after.findings if f.code == "layer.gap"}
        for tie in hit:
            joint = joints[tie.id]
            assert joint.surface == tie.surface
            assert abs(joint.length_m - tie.length_m) < 0.051 or joint.kind in ("eave", "chimney", "deck_ledger")
            assert LineString(joint.line).hausdorff_distance(LineString(tie.line)) < 0.3
            assert len(joint.closes) > 30
            assert any(joint.id.startswith(thing or "?") for thing in told)
        done += len(hit)
    return done


@pytest.mark.parametrize("name", JOBS)
def test_it_finds_exactly_the_ties_taken_from_an_example(name: str) -> None:
    assert check_removals(job(name), random.Random(name), FROM_EXAMPLE) >= FROM_EXAMPLE


def test_it_finds_exactly_the_ties_taken_from_random_houses() -> None:
    done = 0
    for seed in range(HOUSES):
        done += check_removals(plan_of(random_house(seed).text), random.Random(seed), REMOVED)
    assert done >= HOUSES * REMOVED * 3 // 4


def test_heat_is_traced_where_boards_lie_outside() -> None:
    """By hand: the foam wall's boards meet at its corner and reach round every opening and the hose; the survey says nothing
    of foundation, roof and what is beyond the ends."""
    states = {j.id: j.states["heat"] for j in trace(job("foam-wall")).joints}
    open_ended = {f"{face}/{part}" for face, end in (("yard", "end-left"), ("side", "end-right")) for part in ("base", "eave", end)}
    assert {i for i, s in states.items() if s == "not_given"} == open_ended
    assert {s for i, s in states.items() if i not in open_ended} == {"tied"}
    ties = [replace(t, heat="open") if t.id == "yard/corner-side" else t for t in job("foam-wall").layout.ties]
    assert trace(job("foam-wall"), ties).gaps == [("yard/corner-side", "heat")]


def test_a_new_floor_is_traced_to_the_foundation() -> None:
    edge = next(j for j in trace(job("demo")).joints if j.id == "basement/floor/edge")
    assert dict(edge.states) == {"water": "not_asked", "air": "tied", "vapor": "tied", "heat": "tied"}
    left = [t for t in job("demo").layout.ties if t.id != "basement/floor/edge"]
    assert set(trace(job("demo"), left).gaps) == {("basement/floor/edge", x) for x in ("air", "vapor", "heat")}


def test_boards_that_stop_short_of_an_opening_tie_no_heat() -> None:
    plan = job("foam-wall")
    claim = TieClaim("x", ("a", "b"), "yard", ((3.962, 0.813), (4.877, 0.813)), None, None, None, ("foam",))
    boards = [p for p in plan.layout.pieces if p.layer == "insulation" and p.surface == "yard"]
    assert [t.heat for t in resolve_ties([claim], boards)] == ["tied"]
    short = [replace(p, polygon=p.polygon.difference(shapely.box(3.5, 0.3, 5.4, 2.5))) for p in boards]
    assert [t.heat for t in resolve_ties([claim], short)] == ["open"]


@pytest.mark.parametrize("seed", range(4 * SOAK))
def test_no_stretch_of_new_skin_ends_without_a_joint(seed: int) -> None:
    """From the definition: walk the edge of all new skin of a face, and round its openings, in steps of 4 in."""
    plan = plan_of(random_house(seed).text)
    check_edges(plan)


@pytest.mark.parametrize("name", JOBS)
def test_no_stretch_of_an_example_ends_without_a_joint(name: str) -> None:
    check_edges(job(name))


def check_edges(plan: Plan) -> None:
    lines: dict[str, list[LineString]] = {}
    for j in trace(plan).joints:
        lines.setdefault(j.surface, []).append(LineString(j.line))
    for face in plan.job.survey.faces:
        near = shapely.union_all(lines.get(face.id, [])).buffer(0.06)
        if face.adjoins != "outside":
            continue
        rooms = merged(
            shapely.Polygon([a.start, a.end, (a.end[0], -99.0), (a.start[0], -99.0)])
            for a in face.attachments
            if a.kind in ("roof", "porch_roof", "eave", "roof_return") and a.below == "inside"
        )
        doors = merged(o.polygon for o in face.openings).buffer(0.06)
        right = next((f for f in plan.job.survey.faces if f.id == face.left), None)
        new = merged(z.polygon for z in face.zones if is_new(z))
        edges = [p.exterior for p in getattr(new, "geoms", [new]) if not p.is_empty]
        edges += [r for p in getattr(new, "geoms", [new]) if not p.is_empty for r in p.interiors]
        for ring in edges:
            for step in range(int(ring.length / 0.1)):
                spot = ring.interpolate(step * 0.1)
                if spot.within(rooms.buffer(1e-6)) or spot.within(doors) or near.covers(spot):
                    continue
                if spot.x < 1e-3 and right is not None:  # a corner is told by the face on its left
                    at = [LineString([(right.width_m, y) for _, y in m.coords]) for m in lines.get(right.id, [])
                          if all(abs(x - right.width_m) < 1e-3 for x, _ in m.coords)]  # fmt: skip
                    if any(m.distance(Point(right.width_m, spot.y)) < 0.06 for m in at):
                        continue
                raise AssertionError(f"{face.id}: new skin ends at {spot.x:.2f}, {spot.y:.2f} and no joint is there")


# ------------------------------------------------------------ what it cannot see, and says so


def codes(plan: Plan) -> dict[str, list[str]]:
    out: dict[str, list[str]] = {}
    for f in trace(plan).findings:
        out.setdefault(f.code, []).append(f"{f.what} {f.fix}")
    return out


ONE = (EXAMPLES / "one-face" / "house.yaml").read_text()


def test_a_missing_floor_and_ceiling_are_asked_for_and_are_no_gap() -> None:
    plan = plan_of(ONE)
    found = codes(plan)
    assert "layer.gap" not in found
    assert any("lowest_floor" in text for text in found["layer.untraced"])
    assert any("storeys" in text for text in found["layer.untraced"])
    assert trace(plan).closes("air") is None


def test_kept_walls_are_neither_pass_nor_gap() -> None:
    result = trace(job("demo"))
    kept = [p for p in result.patches if p.kind == "kept"]
    assert {p.id for p in kept} == {"add-east/main", "add-north/main", "add-west/main", "east/old-shingles"}
    old = [j for j in result.joints if j.kind == "old"]
    assert old and all(set(j.states.values()) <= {"not_seen", "not_asked"} for j in old)
    assert result.gaps == []


def test_the_window_without_a_head_strip_is_the_only_gap_of_the_two_mistakes() -> None:
    found = [f for f in trace(job("two-mistakes")).findings if f.code == "layer.gap"]
    assert [f.where.thing for f in found] == ["east/w4"]
    assert "head strip" in found[0].fix.lower()


def test_a_closed_soffit_breaks_the_air_and_the_fix_opens_it() -> None:
    plan = plan_of(ONE.replace("eaves: open", "eaves: closed") if "eaves: open" in ONE else _closed(ONE))
    gaps = trace(plan).gaps
    assert [g for g in gaps if g[1] == "water"] == []
    assert [g for g in gaps if g[1] == "air"]
    assert "soffit" in codes(plan)["layer.gap"][0]


def _closed(text: str) -> str:
    lines = text.splitlines()
    at = next(i for i, line in enumerate(lines) if line.strip().startswith("height:"))
    indent = lines[at][: len(lines[at]) - len(lines[at].lstrip())]
    return "\n".join([*lines[:at], f"{indent}eaves: closed", *lines[at:]])


def test_a_wall_without_a_barrier_is_one_gap_and_not_one_per_joint() -> None:
    text = "\n".join(line for line in ONE.splitlines() if "layer: barrier" not in line)
    plan = plan_of(text)
    found = codes(plan)
    assert "layer.gap" not in found
    assert len(found["layer.no_barrier"]) == 1
    assert trace(plan).closes("water") is False


def test_insulation_and_a_vapor_layer_are_taken_from_the_assembly() -> None:
    at = next(line for line in ONE.splitlines() if "layer: barrier" in line)
    indent = at[: len(at) - len(at.lstrip())]
    more = f'{indent}- {{layer: insulation, material: cellulose, thickness: 3-1/2", existing: yes}}\n'
    more += f"{indent}- {{layer: vapor, material: kraft, existing: yes}}"
    found = codes(plan_of(ONE.replace(at, f"{at}\n{more}")))
    assert "layer.heat_not_given" not in found and "layer.vapor_not_given" not in found


def test_a_heat_tie_that_is_open_is_a_gap_of_heat_alone() -> None:
    plan = job("one-face")
    ties = [replace(t, heat="open") if i == 0 else t for i, t in enumerate(plan.layout.ties)]
    assert trace(plan, ties).gaps == [(ties[0].id, "heat")]


def test_a_job_without_faces_has_nothing_to_trace() -> None:
    plan = job("one-face")
    bare = replace(plan.context, survey=replace(plan.job.survey, faces=(), loops=()))
    assert pencil_test(bare, ()) == PencilTest((), (), (), ())
