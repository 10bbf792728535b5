"""What a job's own detail cuts out is cut out of boards, siding, furring and sheets too, not only of courses."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from shapely import union_all

from lapwright.catalog.load import load
from lapwright.details.base import HoleClaim
from lapwright.details.penetrations import Bracket
from lapwright.geometry import box
from lapwright.plan.graph import Plan
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

CATALOG = load()[0]
LAYERS = ("cladding", "furring", "insulation", "barrier")
CUT = box(2.0, 1.0, 3.0, 1.9)
HOUSE = """
job: Holes
faces:
  - id: a
    width: 5 m
    height: 2.7 m
    decision: remove
    assembly: skin
    framing: {spacing: 16", first: 3/4"}
    penetrations: [{id: p, kind: bracket, at: [2.5 m, 1.4 m], size: 4", detail: wide-plate}]
assemblies:
  skin:
    - {layer: cladding, product: board-siding}
    - {layer: furring, product: furring-1x3}
    - {layer: insulation, product: BOARD}
    - {layer: barrier, product: self-adhered-sheet}
"""


class WidePlate(Bracket):
    """A bracket on a plate a meter wide, round which everything is cut."""

    name = "wide-plate"
    places = ()

    def claims(self, place: Any, ctx: Any) -> Any:
        yield from super().claims(place, ctx)
        for layer in LAYERS:
            yield HoleClaim(place.id, place.face.id, layer, CUT)


@pytest.mark.parametrize("layer", LAYERS)
def test_a_hole_of_an_own_detail_is_cut_in(layer: str) -> None:
    board = next(p.id for p in CATALOG.products.values() if p.layer == "insulation" and p.form == "sheet")
    text = HOUSE.replace("BOARD", board)

    def covered(own: bool) -> float:
        job = job_of(parse_yaml(text if own else text.replace(", detail: wide-plate", "")), Path("house.yaml"), CATALOG)
        pieces = Plan(job, CATALOG, own=[WidePlate()] if own else ()).layout.pieces
        mine = [p.polygon for p in pieces if p.layer == layer and p.plane == "face"]
        return float(union_all(mine).intersection(CUT).area)

    assert covered(own=False) > 0.02
    assert covered(own=True) == pytest.approx(0.0, abs=1e-6)
