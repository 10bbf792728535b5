"""The drop test against a tracer of single drops that shares no code with it (`tracer.py`)."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest
import tracer
from traced import SHELTER_M, differ, thrown, walls_of

from conftest import SOAK, plan_of
from lapwright.continuity.build import drop_test
from lapwright.continuity.rows import read_rows
from lapwright.hazards.clear import out_m
from lapwright.plan.document import document, edge_row

DROPS = 8_000 if SOAK == 1 else 10_000 * SOAK  # on the demo: 100,000 with the usual soak of 10
ARRANGEMENTS = 20 * SOAK


@pytest.mark.parametrize("name", ["demo", "two-mistakes", "foam-wall"])
def test_single_drops_on_a_house_do_what_the_drop_test_says(name: str) -> None:
    plan = plan_of(name)
    doc = document(plan, ("surfaces", "pieces", "laps", "edges"))
    walls = walls_of(doc, seed=11, columns=60 * min(SOAK, 5))
    count: Counter[str] = Counter()
    wrong: list[str] = []
    for surface, wall in walls:
        mine = [e for e in doc["edges"] if e["surface"] == surface["id"]]
        share = DROPS // (len(walls) * (1 if name == "demo" else 4))
        face = plan.job.survey.face(surface["id"])
        eave = [n.away_m - out_m(face, plan.job.scope, plan.catalog) for n in face.nearby if n.kind == "overhang"]
        got, bad = differ(surface, wall, mine, share, seed=12, shade=max(SHELTER_M, *eave, 0.0))
        count += got
        wrong += bad
    assert wrong == []
    least = 0 if name == "foam-wall" else 1  # two small walls on which hardly a drop is trapped
    assert count["out"] > 1000 and count["trapped"] > 20 * least
    assert count["edge out"] > 100 * least and count["edge trapped"] > 100 * least


def test_single_drops_on_thrown_sheets_do_what_the_drop_test_says(tmp_path: Path) -> None:
    file = tmp_path / "sheets.json"
    count: Counter[str] = Counter()
    wrong: list[str] = []
    for seed in range(ARRANGEMENTS):
        rows = thrown(seed)
        file.write_text(json.dumps(rows), encoding="utf-8")
        found = drop_test(read_rows(file))
        wall = tracer.Wall(rows["pieces"], rows["laps"], seed, columns=60)
        got, bad = differ(rows["surfaces"][0], wall, [edge_row(e) for e in found.edges], 200, seed)
        count += got
        wrong += [f"seed {seed}: {b}" for b in bad]
    assert wrong == []
    assert count["trapped"] > 10 * ARRANGEMENTS and count["edge out"] > 5 * ARRANGEMENTS


def test_with_the_glue_of_one_sheet_gone_the_two_still_agree(tmp_path: Path) -> None:
    """Each stuck sheet of an arrangement lets go in its turn, the others hold: the drop test is asked anew each time."""
    file = tmp_path / "sheets.json"
    count: Counter[str] = Counter()
    wrong: list[str] = []
    for seed in range(1000, 1000 + max(ARRANGEMENTS // 4, 1)):
        whole = thrown(seed)
        for gone in [p["id"] for p in whole["pieces"] if p["held"] != "loose"]:
            pieces = [{**p, "held": "loose"} if p["id"] == gone else p for p in whole["pieces"]]
            laps = [{**x, "held": "loose"} if x["over"] == gone else x for x in whole["laps"]]
            rows = {**whole, "pieces": pieces, "laps": laps}
            file.write_text(json.dumps(rows), encoding="utf-8")
            found = drop_test(read_rows(file))
            wall = tracer.Wall(pieces, laps, seed, columns=30)
            got, bad = differ(rows["surfaces"][0], wall, [edge_row(e) for e in found.edges], 60, seed)
            count += got
            wrong += [f"seed {seed}, {gone} gone: {b}" for b in bad]
    assert wrong == []
    assert count["trapped"] > 10 and count["out"] > 100


def test_the_tracer_itself_finds_the_way_of_a_drop() -> None:
    def sheet(name: str, low: float, high: float, held: str = "loose") -> dict[str, object]:
        ring = [[0, low], [1, low], [1, high], [0, high], [0, low]]
        return {"id": name, "polygon": ring, "layer": "barrier", "held": held, "installed": 1}

    def lap(over: str, under: str, low: float, high: float, held: str = "loose") -> dict[str, object]:
        return {"over": over, "under": under, "held": held, "polygon": [[0, low], [1, low], [1, high], [0, high], [0, low]]}

    right = tracer.Wall([sheet("low", 0, 1), sheet("up", 0.9, 2)], [lap("up", "low", 0.9, 1)], 1, 5)
    assert all(right.trace(2, 1.5).out for _ in range(50))
    backward = tracer.Wall([sheet("low", 0, 1), sheet("up", 0.9, 2)], [lap("low", "up", 0.9, 1)], 1, 5)
    assert all(backward.trace(2, 1.5).behind == "low" for _ in range(50))
    glued = tracer.Wall([sheet("low", 0, 1), sheet("up", 0.9, 2)], [lap("low", "up", 0.9, 1, "adhered")], 1, 5)
    assert all(glued.trace(2, 1.5).out for _ in range(50))
    assert all(not glued.trace(2, 1.5, glue=False).out for _ in range(50))
    scant = tracer.Wall([sheet("low", 0, 1), sheet("up", 0.98, 2)], [lap("up", "low", 0.98, 1)], 1, 5)
    assert {scant.trace(2, 1.5).out for _ in range(200)} == {True, False}  # 20 mm: some drops climb over it
