"""The order of work, read off the laps: nothing goes on before what it lies over, or is tucked behind what hangs."""

from __future__ import annotations

import networkx as nx
import pytest

from conftest import EXAMPLES, plan_of
from lapwright.details.base import PieceClaim, RunClaim
from lapwright.plan.graph import Plan


def graph(plan: Plan) -> nx.DiGraph:
    """Return the steps with an arrow from each to what it needs."""
    out = nx.DiGraph()
    for step in plan.steps:
        out.add_node(step.id)
        out.add_edges_from((step.id, need) for need in step.needs)
    return out


def out_of_order(plan: Plan) -> list[str]:
    """Return what is wrong: laps whose earlier piece is not needed by the later one, tucked ones that nobody asked for."""
    arrows = graph(plan)
    assert nx.is_directed_acyclic_graph(arrows)
    before = {n: nx.descendants(arrows, n) for n in arrows}
    pieces = {p.id: p for p in plan.layout.pieces}
    claims = {c.key: c for c in plan.claims if isinstance(c, PieceClaim | RunClaim)}
    out = []
    for lap in plan.layout.laps:
        over, under = pieces[lap.over], pieces[lap.under]
        if "existing" in (over.layer, under.layer) or over.step not in before or under.step not in before:
            continue
        tucked = under.installed > over.installed
        later, earlier = (under, over) if tucked else (over, under)
        if later.step != earlier.step and earlier.step not in before[later.step]:
            out.append(f"{later.id} ({later.step}) does not wait for {earlier.id} ({earlier.step})")
        said = claims.get(over.claim), claims.get(under.claim)
        asked = any(c is not None and (c.over_field is not None or c.over or c.under) for c in said)
        if tucked and lap.kind != "tie-in" and not asked and not over.role == under.role == "course":
            out.append(f"{lap.id} is tucked, and nobody asked for it")
    return out


@pytest.mark.parametrize("example", sorted(p.parent.name for p in EXAMPLES.glob("*/house.yaml")))
def test_nothing_goes_on_before_what_it_laps(example: str) -> None:
    plan = plan_of(example)
    assert len(plan.layout.laps) > 40
    assert out_of_order(plan) == []


def test_the_wall_is_made_ready_when_everything_before_the_courses_hangs() -> None:
    """Boundary strips, roofs, ledgers and what penetrations need first come before the lines are snapped."""
    plan = plan_of("demo")
    arrows = graph(plan)
    pieces = {p.id: p for p in plan.layout.pieces}
    courses: dict[str, int] = {}
    for p in pieces.values():
        if p.role == "course" and p.layer == "barrier":
            courses[p.place] = min(courses.get(p.place, p.installed), p.installed)
    checked = 0
    for lap in plan.layout.laps:
        over, under = pieces[lap.over], pieces[lap.under]
        for course, other in ((over, under), (under, over)):
            ready = f"{course.place}/prepare"
            if course.place not in courses or other.role == "course" or course.role != "course" or ready not in arrows:
                continue
            mates = [p.installed for p in pieces.values() if p.step == other.step]
            if other.step in arrows and max(mates) < courses[course.place]:
                checked += 1
                assert other.step in nx.descendants(arrows, ready), (other.id, ready)
    assert checked > 50
    for face in plan.job.survey.faces:
        for p in face.penetrations:
            if f"{face.id}/{p.id}/prepare" in arrows and f"{face.id}/main/barrier/prepare" in arrows:
                checked += 1
                zones = [z for z in face.zones if z.polygon.intersects(p.polygon)]
                ready = [f"{face.id}/{z.id}/barrier/prepare" for z in zones]
                assert all(f"{face.id}/{p.id}/prepare" in nx.descendants(arrows, r) for r in ready if r in arrows)
