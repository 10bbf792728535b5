"""A wall of fastened sheet with openings in all four states and a deck ledger: nothing stops it, no side is open."""

from __future__ import annotations

from pathlib import Path

from lapwright.catalog.load import load
from lapwright.plan.graph import Plan
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

HOUSE = """
job: Wrapped wall
place: South Fork
faces:
  - id: front
    width: 40'
    height: 10'
    base: -6"
    eaves: open
    framing: {stud: 2x4, spacing: 16", first: 3/4"}
    decision: remove
    assembly: skin
    openings:
      - {id: w1, left: 2' 6", sill: 3', width: 3', height: 4', state: before, unit: window-unit}
      - {id: w2, left: 8', sill: 3', width: 3', height: 4', state: after, unit: window-unit}
      - {id: w3, left: 13', sill: 3', width: 3', height: 4', state: kept}
      - {id: w4, left: 18', sill: 3', width: 3', height: 4', state: insert, unit: insert-unit}
    penetrations:
      - {id: tap, kind: pipe, at: [5', 1'], size: 1", through: water}
    attachments:
      - {id: deck, kind: deck_ledger, left: 24', right: 36', top: 3', depth: 9-1/4"}
assemblies:
  skin:
    - {layer: cladding, product: board-siding}
    - {layer: mat, product: mesh-mat}
    - {layer: barrier, product: fastened-sheet}
    - {layer: sheathing, material: sheathing-board, thickness: 3/4", existing: yes}
"""


def test_a_fastened_wall_with_everything_in_it_comes_out_sound() -> None:
    catalog = load()[0]
    plan = Plan(job_of(parse_yaml(HOUSE), Path("house.yaml"), catalog), catalog)
    assert {o.state for o in plan.job.survey.faces[0].openings} == {"before", "after", "kept", "insert"}
    assert [f for f in plan.proofs if f.level == "stop"] == []
    assert [f for f in plan.proofs if f.code.startswith(("edge.", "lap.", "drain.", "cut."))] == []
    assert all(cut.stock is not None for cut in plan.packing.cuts if plan.catalog[cut.product].form == "roll")
