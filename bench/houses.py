"""Houses to measure on: the demo, the demo with one window moved, and row houses of any length."""

from __future__ import annotations

import shutil
from pathlib import Path

from bench.timing import ROOT

DEMO = ROOT / "examples" / "demo"
WINDOW = "{id: w3, left: 3', sill: 11'"  # of the demo's front

MODULE = """
    height: 18'
    decision: remove
    assembly: skin
    framing: {stud: 2x4, spacing: 16"}
    openings:
      - {id: w1, left: 2', sill: 3', width: 3', height: 4' 6", state: before, unit: window-unit}
      - {id: w2, left: 8' 6", sill: 2' 6", width: 2' 8", height: 5', state: after, unit: window-unit}
      - {id: w3, left: 2', sill: 11', width: 3', height: 4' 6", state: after, unit: window-unit}
      - {id: w4, left: 8' 6", sill: 11' 6", width: 2' 8", height: 4', state: before, unit: window-unit}
    penetrations:
      - {id: hose, kind: pipe, at: [6' 6", 14"], size: 1", through: water}
      - {id: lamp, kind: box, at: [12' 9", 6' 8"], size: [4", 4"], through: power}
"""
TAIL = """
assemblies:
  skin:
    - {layer: cladding, product: board-siding}
    - {layer: mat, product: mesh-mat}
    - {layer: barrier, product: self-adhered-sheet}
    - {layer: sheathing, material: sheathing-board, thickness: 3/4", existing: yes}
"""


def moved(folder: Path, inches: int) -> Path:
    """Write the demo with one upper window moved to the right; return its folder."""
    text = (DEMO / "house.yaml").read_text(encoding="utf-8")
    assert WINDOW in text
    folder.mkdir(parents=True, exist_ok=True)
    new = WINDOW.replace("left: 3'", f"left: 3' {inches}\"")
    (folder / "house.yaml").write_text(text.replace(WINDOW, new), encoding="utf-8")
    shutil.copy(DEMO / "catalog.yaml", folder)
    return folder


def row_house(folder: Path, modules: int) -> Path:
    """Write a closed house with `modules` (odd) bays of 14 ft in front and behind; return its folder.

    Every other bay stands out by 2 ft. A bay has four openings and two penetrations.
    """
    if modules % 2 == 0:
        raise ValueError(f"modules is {modules}; an odd number ends in the plane it began in")
    rows = []
    for side, end in (("front", "east"), ("back", "west")):
        for i in range(modules):
            last = i == modules - 1
            out = i % 2 == 0  # the next bay stands out: an inside corner, two feet, an outside corner
            rows.append(f"  - id: {side}{i + 1}\n    width: 14'\n    turn: {90 if last or not out else -90}{MODULE}")
            if not last:
                rows.append(
                    f"  - {{id: {side}{i + 1}j, width: 2', turn: {90 if out else -90}, height: 18', decision: remove, assembly: skin}}\n"
                )
        rows.append(f"  - {{id: {end}, width: 24', turn: 90, height: 18', decision: remove, assembly: skin}}\n")
    folder.mkdir(parents=True)
    text = f"job: Row of {modules}\nyear_built: 1930\nfaces:\n{''.join(rows)}\nloops:\n  main: {{closed: yes}}\n{TAIL}"
    (folder / "house.yaml").write_text(text, encoding="utf-8")
    return folder
