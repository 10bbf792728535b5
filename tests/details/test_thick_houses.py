"""Random houses in thick skins, their units in, mid and out: the rules that every layout must keep, and no stop that is ours.

The rules are those of `rules.py` (asked at random points, written apart from the layout); what a thin skin of the same
house brings up already is not held against the thick one.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest
from shapely.geometry import box
from skin_jobs import CATALOG, loops_of_laps, random_house, rings_broken

from conftest import SOAK
from lapwright.details.base import Piece
from lapwright.plan.graph import Plan
from lapwright.scope.model import Assembly, Layer

IN = 0.0254
FOAMS = ("xps-iv", "eps-ii", "mineral-wool-board")


def thick_house(seed: int) -> Plan:
    """The random house of that seed in one or two layers of foam, with or without furring."""
    base, rng = random_house(seed), random.Random(seed * 7 + 1)
    foam = [Layer("insulation", rng.choice(FOAMS), thickness_m=rng.choice((1, 1.5, 2)) * IN) for _ in range(rng.choice((1, 1, 2)))]
    gap = rng.choice((Layer("furring", "furring-1x3"), Layer("furring", "furring-2x3"), Layer("mat", "mesh-mat")))
    sheet = rng.choice(("self-adhered-sheet", "self-adhered-sheet", "fastened-sheet"))
    boards = Layer("sheathing", material="board", existing=True)
    skin = Assembly("new", (Layer("cladding", "board-siding"), gap, *foam, Layer("barrier", sheet), boards))
    faces = []
    for face in base.job.survey.faces:
        openings = [
            replace(o, position=rng.choice(("in", "mid", "out")), buck=rng.choice((None, "lumber-buck"))) if o.state in ("before", "after") else o
            for o in face.openings
        ]  # fmt: skip
        faces.append(replace(face, openings=tuple(openings)))
    survey = replace(base.job.survey, faces=tuple(faces))
    return Plan(replace(base.job, survey=survey, scope=replace(base.job.scope, assemblies={**base.job.scope.assemblies, "new": skin})), CATALOG)


def thin_house(plan: Plan) -> Plan:
    """The same house with a mat in the place of foam and furring."""
    skin = plan.job.scope.assemblies["new"]
    thin = replace(skin, layers=(skin.layers[0], Layer("mat", "mesh-mat"), *skin.layers[-2:]))
    return Plan(replace(plan.job, scope=replace(plan.job.scope, assemblies={**plan.job.scope.assemblies, "new": thin})), CATALOG)


def inner(piece: Piece) -> tuple[float, float]:
    """Depths between which a piece in the reveal lies."""
    x0, y0, x1, y1 = piece.polygon.bounds
    return (x0, x1) if piece.plane == "jamb" else (y0, y1)


@pytest.mark.parametrize("seed", range(3 * SOAK))
def test_a_thick_skin_keeps_the_rules(seed: int) -> None:
    plan = thick_house(seed)
    assert rings_broken(plan, 50) == [] and loops_of_laps(plan) == []
    before = Counter(f.code for f in thin_house(plan).proofs if f.level == "stop")
    now = Counter(f.code for f in plan.proofs if f.level == "stop" and not f.code.startswith("fasteners."))
    assert now - before == Counter(), [f.what for f in plan.proofs if f.level == "stop"]
    cuts = {c.id: c for c in plan.packing.cuts}
    assert all(c.stock for c in cuts.values() if c.product in ("plywood-buck", "lumber-buck", "coil-stock", "trim-1x6", "trim-1x4"))
    for face in plan.job.survey.faces:
        mine = [p for p in plan.layout.pieces if p.surface == face.id]
        for opening in face.openings:
            x0, sill, x1, head = opening.box
            here = [p for p in mine if p.place == f"{face.id}/{opening.id}"]
            bucks = [p for p in here if p.role == "buck"]
            assert bool(bucks) == (opening.position in ("mid", "out"))
            if not bucks:
                continue
            front = {round(inner(p)[0], 6) for p in bucks}
            assert len(front) == 1  # all four boards end in one plane, and the strips reach it
            assert {round(inner(p)[0], 6) for p in here if p.role in ("sill-strip", "jamb-strip", "head-strip") and p.plane in ("sill", "jamb", "head")} <= front | {0.0}
            unit = next(p for p in here if p.role == "unit")
            room = box(x0, sill, x1, head).buffer(2 * IN, join_style="mitre")
            assert room.covers(unit.polygon)
            thick = max(float(p.facts["thick_m"]) for p in bucks)
            flange = 1.25 * IN if opening.position == "out" else 0.0
            assert unit.polygon.bounds[2] - unit.polygon.bounds[0] <= x1 - x0 - 2 * thick + 2 * flange + 1e-6
