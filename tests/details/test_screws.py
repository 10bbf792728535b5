"""Screws of furring through foam on random houses: near both ends of each stick, no further apart than asked, all bought."""

from __future__ import annotations

import os

import pytest
from shapely.ops import unary_union
from skin_jobs import FT, IN, random_house

from lapwright.plan.document import document
from lapwright.scope.model import Assembly, Layer

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
FOAM = Assembly(
    "new",
    (
        Layer("cladding", "lap-siding"),
        Layer("furring", "furring-2x3"),
        Layer("insulation", "xps-iv", thickness_m=2 * IN),
        Layer("barrier", "self-adhered-sheet"),
        Layer("sheathing", material="board", thickness_m=0.75 * IN, existing=True),
    ),
)


@pytest.mark.parametrize("seed", range(300, 300 + 2 * SOAK))
def test_screws_of_a_random_house_are_close_enough_and_all_bought(seed: int) -> None:
    made = random_house(seed)
    made.job.scope.assemblies["new"] = FOAM  # type: ignore[index]
    rows = document(made, ["fasteners"])["fasteners"]
    assert rows and all(r["holds"] for r in rows)
    strips = [p for p in made.layout.pieces if p.role == "furring"]
    screws = [p for p in made.layout.pieces if p.role == "screws"]
    for face in made.job.survey.faces:
        wood = unary_union([p.polygon.buffer(1e-6) for p in strips if p.surface == face.id])
        drawn = [p.polygon for p in screws if p.surface == face.id]
        assert all(wood.buffer(1e-4).covers(d) for d in drawn)  # never beside a strip
        bare = [p for p in strips if p.surface == face.id and not any(p.polygon.intersection(d).area > 0 for d in drawn)]
        assert bare == []
    for mark in screws:
        _, low, _, high = mark.polygon.bounds
        count, long = mark.facts["quantity"][0], high - low
        assert count >= 2 and (long - 6 * IN) <= (count - 1) * mark.facts["spacing_m"] + 1e-6
        assert long < 1 * FT or count <= 2 * long / mark.facts["spacing_m"] + 4  # nor far too many
    total = sum(p.facts["quantity"][0] for p in screws)
    bought = {r.product: r.need for r in made.order.rows}
    assert sum(bought[p] for p in {str(s.product) for s in screws}) == total == sum(r["count"] for r in rows)
    assert "furring-screws" not in bought
