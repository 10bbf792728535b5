"""Readings files and small houses that the tests of tightness share."""

from __future__ import annotations

import os
from pathlib import Path

from hypothesis import settings

from lapwright.scope.read import job_of
from lapwright.survey.model import Survey
from lapwright.yamlfile import parse_yaml

DEMO = Path(__file__).parent.parent.parent / "examples" / "demo"
SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))  # random counts are multiplied by this
TEXTBOOK = "dp_Pa,flow_m3_h\n10,237\n20,364\n30,444\n40,625\n50,688\n60,704\n"

# 10 x 6 m, two stories, hand-workable: volume 60 x (2.4 + 2.4), envelope 32 x 5.2 + 2 x 60.
HOUSE = """
bare_numbers: m
place: {name: Somewhere, elevation: 1000}
fuel_burning: [boiler]
assemblies: {skin: [{layer: barrier, product: self-adhered-sheet}]}
faces:
  - id: south
    width: 10
    turn: 90
    height: 6
    decision: remove
    assembly: skin
    openings:
      - {id: w1, left: 1, sill: 1, width: 2, height: 1.5, state: after, bedroom: yes}
      - {id: w2, left: 5, sill: 1, width: 1, height: 1.5, state: kept}
      - {id: d1, kind: door, left: 7, sill: 0, width: 1, height: 2, state: after}
    penetrations:
      - {id: dryer, kind: duct, at: [9, 0.5], size: 0.1, through: dryer}
      - {id: bath, kind: duct, at: [9, 4], size: 0.1, through: bath fan}
      - {id: pipe, kind: pipe, at: [0.5, 0.5], size: 0.03, through: water}
  - {id: east, width: 6, turn: 90, height: 6, decision: remove, assembly: skin}
  - {id: north, width: 10, turn: 90, height: 6, decision: keep}
  - {id: west, width: 6, turn: 90, height: 6, decision: remove, assembly: skin}
storeys:
  - {id: first, floor: 0, ceiling: 2.4}
  - {id: second, floor: 2.8, ceiling: 5.2}
lowest_floor: {kind: crawl, depth: 1}
"""


def many(count: int = 100) -> settings:
    """Return settings for so many random cases, the same ones every time unless they are multiplied."""
    return settings(max_examples=count * SOAK, deadline=None, derandomize=SOAK == 1)


def house(text: str = HOUSE) -> Survey:
    """Return the survey of a job's text."""
    return job_of(parse_yaml(text), Path("house.yaml")).survey


def law(
    C: float = 100.0, n: float = 0.65, head: str = "", pressures: tuple[float, ...] = (10, 20, 30, 40, 50, 60)
) -> str:
    """Return readings that follow an exact power law."""
    return f"{head}dp_Pa,flow_m3_h\n" + "".join(f"{p},{C * p**n:.9f}\n" for p in pressures)
