"""Small arrangements of sheets with the verdict that the code's words give (IRC R703.2: what is above laps over what is
below by 2 in or more, joints 6 in or more; R703.1.1: a drainage plane drains to the outside), and faults of the file."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from conftest import plan_of
from lapwright.continuity.area import drained
from lapwright.continuity.build import drop_test
from lapwright.continuity.model import DropRules, Over, Sheet
from lapwright.continuity.rows import read_rows, said
from lapwright.continuity.wall import Wall
from lapwright.findings import BadJob
from lapwright.plan.document import document

IN = 0.0254


def box(x0: float, y0: float, x1: float, y1: float) -> list[list[float]]:
    return [[x * IN, y * IN] for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))]


def piece(name: str, *at: float, **more: Any) -> dict[str, Any]:
    return {"id": name, "polygon": box(*at), "held": "loose", **more}


LOW = piece("low", 0, 0, 100, 50)
CASES: dict[str, tuple[list[dict[str, Any]], list[tuple[str, str]], list[str]]] = {
    "upper over lower by 2 in": ([LOW, piece("up", 0, 48, 100, 90)], [("up", "low")], []),
    "upper over lower by 1 in, loose": ([LOW, piece("up", 0, 49, 100, 90)], [("up", "low")], ["edge.open"]),
    "upper over lower by 1 in, adhered": (
        [{**LOW, "held": "adhered"}, piece("up", 0, 49, 100, 90, held="adhered")], [("up", "low")], [],
    ),
    "lower over upper": ([LOW, piece("up", 0, 48, 100, 90)], [("low", "up")], ["lap.reverse"]),
    "lower over upper, adhered": (
        [{**LOW, "held": "adhered"}, piece("up", 0, 48, 100, 90, held="adhered")], [("low", "up")], ["lap.reverse"],
    ),
    "lower over upper, taped an inch past the edge": (
        [LOW, piece("up", 0, 48, 100, 90), piece("tape", 0, 48.5, 100, 52.5, layer="tape", held="taped")],
        [("low", "up"), ("tape", "up"), ("tape", "low")], ["lap.reverse_taped"],
    ),
    "lower over upper, taped half an inch past the edge above": (
        [LOW, piece("up", 0, 48, 100, 90), piece("tape", 0, 47, 100, 50.5, layer="tape", held="taped")],
        [("low", "up"), ("tape", "up"), ("tape", "low")], ["lap.reverse"],
    ),
    "lower over upper, taped, nobody looks at it": (
        [LOW, piece("up", 0, 48, 100, 90), piece("tape", 0, 48, 100, 52, layer="tape", held="taped", checked=False)],
        [("low", "up"), ("tape", "up"), ("tape", "low")], ["lap.reverse"],
    ),
    "lower over upper, sealed with liquid past the edge": (
        [LOW, piece("up", 0, 48, 100, 90), piece("film", 0, 48, 100, 52, layer="film", held="adhered")],
        [("low", "up"), ("film", "up"), ("film", "low")], ["lap.reverse_taped"],
    ),
    "side lap of 6 in": (
        [piece("left", 0, 0, 60, 50), piece("right", 54, 0, 120, 50)], [("right", "left")], [],
    ),
    "side lap of 4 in, loose": (
        [piece("left", 0, 0, 60, 50), piece("right", 56, 0, 120, 50)], [("right", "left")],
        ["edge.side_open", "edge.side_open"],
    ),
    "side lap of 4 in, taped": (
        [piece("left", 0, 0, 60, 50, held="taped"), piece("right", 56, 0, 120, 50, held="taped")], [("right", "left")], [],
    ),
    "a gap between two courses": (
        [LOW, piece("up", 0, 52, 100, 90)], [], ["edge.no_outlet", "edge.open"],
    ),
    "a side lap of 8 in over a strip that ends on the bare wall, loose": (
        [piece("strip", 30, 20, 60, 40), piece("left", 0, 0, 46, 50, held="adhered"), piece("right", 44, 0, 100, 50)],
        [("left", "strip"), ("right", "strip"), ("right", "left")], ["edge.side_open", "edge.side_open", "lap.traps", "lap.traps"],
    ),
    "a strip over the course below and under the one above": (
        [LOW, piece("strip", 20, 40, 80, 60), piece("up", 0, 48, 100, 90)],
        [("strip", "low"), ("up", "low"), ("up", "strip")], [],
    ),
    "a window's bottom flange taped shut": (
        [LOW, piece("unit", 30, 40, 70, 80, layer="unit", held="fastened"), piece("up", 0, 46, 100, 90),
         piece("tape", 28, 38, 72, 42, layer="tape", held="taped")],
        [("unit", "low"), ("tape", "unit"), ("tape", "low"), ("up", "unit"), ("up", "low")], ["drain.sealed"],
    ),
}  # fmt: skip


# An opening 40 in wide and 30 high in a wall of two courses, the lower cut out for it: what IRC R703.4 says of flashing at
# openings, trim and ledgers (applied shingle-fashion, extending to the surface of the wall finish or to the barrier for
# drainage). The unit's flange is the unit.
COURSES = [
    {"id": "low", "polygon": [[x * IN, y * IN] for x, y in
     ((0, 0), (100, 0), (100, 60), (70, 60), (70, 20), (30, 20), (30, 60), (0, 60), (0, 0))], "held": "adhered"},
    piece("up", 0, 57, 100, 90, held="adhered"),
]  # fmt: skip
SILL = piece("sill", 22, 12, 78, 20.5, layer="strip", held="adhered")
JAMBS = [piece("left", 22, 16, 30.5, 60, layer="strip", held="adhered"), piece("right", 69.5, 16, 78, 60, layer="strip", held="adhered")]
HEAD = piece("head", 22, 56, 78, 68, layer="strip", held="adhered")
TRIM = piece("trim", 0, 40, 100, 44, layer="flashing", held="fastened")
FLASHED: dict[str, tuple[list[dict[str, Any]], list[tuple[str, str]], list[str]]] = {
    "sill, jambs and head strip, each over the one below, the upper course over the head": (
        [COURSES[0], SILL, *JAMBS, HEAD, COURSES[1]],
        [("sill", "low"), ("left", "low"), ("right", "low"), ("left", "sill"), ("right", "sill"), ("head", "left"),
         ("head", "right"), ("head", "low"), ("up", "head"), ("up", "left"), ("up", "right"), ("up", "low")], [],
    ),
    "the head strip beneath the jamb strips, the course 3 in down over both": (
        [COURSES[0], SILL, HEAD, *JAMBS, COURSES[1]],
        [("sill", "low"), ("head", "low"), ("left", "low"), ("right", "low"), ("left", "sill"), ("right", "sill"),
         ("left", "head"), ("right", "head"), ("up", "head"), ("up", "left"), ("up", "right"), ("up", "low")], [],
    ),
    "the head strip stuck over the upper course": (
        [COURSES[0], SILL, *JAMBS, COURSES[1], HEAD],
        [("sill", "low"), ("left", "low"), ("right", "low"), ("left", "sill"), ("right", "sill"), ("head", "left"),
         ("head", "right"), ("head", "low"), ("head", "up"), ("up", "left"), ("up", "right"), ("up", "low")], ["lap.reverse"],
    ),
    "the sill strip stuck over the jamb strips": (
        [COURSES[0], *JAMBS, SILL, HEAD, COURSES[1]],
        [("sill", "low"), ("left", "low"), ("right", "low"), ("sill", "left"), ("sill", "right"), ("head", "left"),
         ("head", "right"), ("head", "low"), ("up", "head"), ("up", "left"), ("up", "right"), ("up", "low")],
        ["lap.reverse", "lap.reverse"],
    ),
    "flashing over projecting trim, behind the course above and over the one below": (
        [piece("low", 0, 0, 100, 43), TRIM, piece("up", 0, 41, 100, 90)], [("trim", "low"), ("up", "trim"), ("up", "low")], [],
    ),
    "flashing over projecting trim, on the face of the course above": (
        [piece("low", 0, 0, 100, 43), piece("up", 0, 41, 100, 90), TRIM], [("trim", "low"), ("trim", "up"), ("up", "low")],
        ["lap.reverse"],
    ),
    "flashing at a ledger, its leg an inch behind the course above": (
        [piece("low", 0, 0, 100, 41), TRIM, piece("up", 0, 43, 100, 90)], [("trim", "low"), ("up", "trim")], ["edge.open", "edge.open"],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("pieces", "laps", "codes"), FLASHED.values(), ids=FLASHED.keys())
def test_flashing_is_judged_as_the_code_text_has_it(
    tmp_path: Path, pieces: list[dict[str, Any]], laps: list[tuple[str, str]], codes: list[str]
) -> None:
    data = {
        "surfaces": [{"id": "wall", "outline": box(0, 0, 100, 90), "openings": [{"polygon": box(30, 20, 70, 60)}]}],
        "pieces": [{**p, "surface": "wall"} for p in pieces],
        "laps": [{"over": a, "under": b} for a, b in laps],
    }
    file = tmp_path / "sheets.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    found = drop_test(read_rows(file)).findings
    assert sorted(f.code for f in found) == sorted(codes), [(f.code, f.what) for f in found]


def written(tmp_path: Path, pieces: list[dict[str, Any]], laps: list[tuple[str, str]]) -> Path:
    file = tmp_path / "sheets.json"
    file.write_text(
        json.dumps({"pieces": pieces, "laps": [{"over": a, "under": b} for a, b in laps]}), encoding="utf-8"
    )
    return file


@pytest.mark.parametrize(("pieces", "laps", "codes"), CASES.values(), ids=CASES.keys())
def test_the_verdict_is_that_of_the_code_text(
    tmp_path: Path, pieces: list[dict[str, Any]], laps: list[tuple[str, str]], codes: list[str]
) -> None:
    found = drop_test(read_rows(written(tmp_path, pieces, laps)))
    assert sorted(f.code for f in found.findings) == sorted(codes)


@pytest.mark.parametrize(("adhesive", "code"), [("acrylic", "lap.reverse_taped"), ("asphalt", "lap.reverse")])
def test_tape_over_a_backward_lap_counts_only_on_what_it_goes_together_with(
    tmp_path: Path, adhesive: str, code: str
) -> None:
    (tmp_path / "catalog.yaml").write_text(f"flashing-tape-4: {{adhesive: {adhesive}}}\n", encoding="utf-8")
    sheet = {"product": "self-adhered-sheet"}
    pieces = [
        {**LOW, **sheet}, piece("up", 0, 48, 100, 90, **sheet),
        piece("tape", 0, 48, 100, 52, layer="tape", held="taped", product="flashing-tape-4"),
    ]  # fmt: skip
    (found,) = drop_test(read_rows(written(tmp_path, pieces, [("low", "up"), ("tape", "up"), ("tape", "low")]))).findings
    assert found.code == code
    assert ("Rubberized asphalt sticks badly" in found.why) == (adhesive == "asphalt")


FAULTS: dict[str, tuple[Any, str]] = {
    "no list": ({}, "pieces.missing"),
    "a polygon that crosses itself": ({"pieces": [{"id": "a", "polygon": [[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]}]}, "pieces.polygon"),
    "two of one name": ({"pieces": [LOW, LOW]}, "pieces.twice"),
    "a layer that there is not": ({"pieces": [{**LOW, "layer": "paint"}]}, "pieces.layer"),
    "a lap of nobody": ({"pieces": [LOW], "laps": [{"over": "low", "under": "ghost"}]}, "laps.unknown"),
    "a lap of two that are apart": (
        {"pieces": [LOW, piece("far", 0, 80, 100, 90)], "laps": [{"over": "far", "under": "low"}]}, "laps.apart",
    ),
    "laps that go round in a ring": (
        {"pieces": [LOW, piece("mid", 0, 40, 100, 60), piece("up", 0, 45, 100, 90)],
         "laps": [{"over": "low", "under": "mid"}, {"over": "mid", "under": "up"}, {"over": "up", "under": "low"}]}, "laps.ring",
    ),
    "two laps that contradict": (
        {"pieces": [LOW, piece("up", 0, 48, 100, 90)],
         "laps": [{"over": "up", "under": "low"}, {"over": "low", "under": "up"}]}, "laps.both",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("data", "code"), FAULTS.values(), ids=FAULTS.keys())
def test_a_fault_of_the_file_is_told(tmp_path: Path, data: Any, code: str) -> None:
    file = tmp_path / "sheets.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(BadJob) as bad:
        read_rows(file)
    assert code in [f.code for f in bad.value.findings]
    assert all(f.fix for f in bad.value.findings)


def test_the_command_answers_with_edges_and_findings(tmp_path: Path) -> None:
    pieces, laps, _ = CASES["lower over upper"]
    file = written(tmp_path, pieces, laps)
    run = subprocess.run(
        [sys.executable, "-c", "from lapwright.cli import main; main()", "continuity", "--pieces", str(file), "--json"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 1
    said = json.loads(run.stdout)
    assert [f["code"] for f in said["findings"]] == ["lap.reverse"]
    assert {"piece", "segment", "role", "state", "length_m", "drains_m2"} <= set(said["edges"][0])


def test_a_piece_that_touches_nothing_is_told(tmp_path: Path) -> None:
    file = written(tmp_path, [LOW, piece("up", 0, 48, 100, 90), piece("far", 200, 0, 220, 20)], [("up", "low")])
    assert [(f.code, f.where.thing) for f in said(read_rows(file), file.name)] == [("pieces.alone", "far")]


@pytest.mark.parametrize("name", ["one-face", "demo"])
def test_a_plan_of_the_program_is_such_an_arrangement(tmp_path: Path, name: str) -> None:
    plan = plan_of(name)
    file = tmp_path / "plan.json"
    file.write_text(json.dumps(document(plan, ("surfaces", "pieces", "laps"))), encoding="utf-8")
    found = drop_test(read_rows(file))
    assert found.findings == ()
    # lengths are rounded to 0.1 mm there, which moves where stretches begin, not what they are
    for state in ("shingled", "relies_on_glue"):
        want, got = (sum(e.length_m for e in edges if e.state == state) for edges in (plan.drops.edges, found.edges))
        assert got == pytest.approx(want, rel=0.01)


def facts(role: str, layer: str, **more: Any) -> dict[str, Any]:
    return piece("part", 20, 49.5, 60, 52, layer=layer, role=role, installed=2, facts=more)


SHAPES: dict[str, tuple[dict[str, Any], list[str]]] = {
    "a head flashing that slopes out, with dams": (facts("head-flashing", "flashing", slope_deg=10, end_dams=True), []),
    "a head flashing that is level": (facts("head-flashing", "flashing", slope_deg=1, end_dams=True), ["flashing.slope"]),
    "a head flashing without dams": (facts("head-flashing", "flashing", slope_deg=8, end_dams=False), ["flashing.end_dams"]),
    "a head flashing without a drip": (facts("head-flashing", "flashing", slope_deg=8, end_dams=True, drip=False), ["flashing.drip"]),
    "a pan without end dams": (facts("sill-pan", "flashing", back_dam=True, end_dams=False), ["pan.dams"]),
    "a pan without a back dam": (facts("sill-pan", "flashing", back_dam=False, end_dams=True), ["pan.dams"]),
}  # fmt: skip


@pytest.mark.parametrize(("part", "codes"), SHAPES.values(), ids=SHAPES.keys())
def test_flashings_and_pans_are_judged_by_what_they_say(tmp_path: Path, part: dict[str, Any], codes: list[str]) -> None:
    up = piece("up", 0, 48, 100, 90, installed=3)
    file = written(tmp_path, [{**LOW, "installed": 1}, part, up], [("part", "low"), ("up", "part"), ("up", "low")])
    got = [f.code for f in drop_test(read_rows(file)).findings if f.code.split(".")[0] in ("flashing", "pan")]
    assert got == codes


@pytest.mark.parametrize("metal", [False, True])
def test_a_plane_that_ends_behind_kept_cladding_is_a_stop(metal: bool) -> None:
    course = Sheet("up", "w", shapely.box(0, 1, 4, 3), "barrier", order=2)
    flashing = Sheet("metal", "w", shapely.box(0, 1, 4, 1.1), "flashing", order=1, held="fastened")
    lap = Over("up", "metal", "w", flashing.polygon)
    wall = Wall(
        "w", shapely.box(0, 0, 4, 3), [course, *([flashing] if metal else [])], [lap] if metal else [],
        kept=shapely.box(0, 0, 4, 1), folds={"metal": shapely.LineString([(0, 1), (4, 1)])},
    )  # fmt: skip
    assert [(f.code, f.where.thing) for f in drop_test([wall]).findings] == ([] if metal else [("edge.behind_kept", "up")])


def test_the_end_of_a_head_flashing_must_drop_onto_the_barrier(tmp_path: Path) -> None:
    part = {**facts("head-flashing", "flashing", slope_deg=10, end_dams=True), "polygon": box(80, 60, 140, 64)}
    data = {
        "surfaces": [{"id": "wall", "outline": box(0, 0, 200, 100)}],
        "pieces": [{**p, "surface": "wall"} for p in (piece("low", 0, 0, 100, 62), part, piece("up", 0, 61, 100, 99))],
        "laps": [{"over": "part", "under": "low"}, {"over": "up", "under": "part"}, {"over": "up", "under": "low"}],
    }
    file = tmp_path / "sheets.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    assert "flashing.ends" in [f.code for f in drop_test(read_rows(file)).findings]


def test_what_drains_to_an_edge_is_the_wall_above_it_up_to_a_roof_and_what_a_roof_pours() -> None:
    wall = Wall(
        "w", shapely.box(0, 0, 4, 3), [Sheet("a", "w", shapely.box(0, 0, 4, 1), "barrier"), Sheet("b", "w", shapely.box(0, 0.9, 4, 3), "barrier", order=1)],
        [], roofs=shapely.box(1, 2, 2, 2.2), pours=[(3.0, 2.0, 7.5)],
    )  # fmt: skip

    ends = np.array([(1.0, 1.0, 0.0, 1.0), (2.0, 1.0, 1.0, 1.0), (3.2, 1.0, 2.8, 1.0)])
    got = drained(wall, ends, np.zeros(3, dtype=bool), DropRules())
    assert got == pytest.approx([2.0, 1.0, 0.4 * 2 + 7.5])
    wall.eave_m = 0.5
    assert drained(wall, ends[:1], np.zeros(1, dtype=bool), DropRules()) == pytest.approx([1.5])


def test_an_eave_shades_the_wall_as_far_down_as_it_hangs_out() -> None:
    sheets = [Sheet("a", "w", shapely.box(0, 0, 4, 2.6), "barrier")]
    wall = Wall("w", shapely.box(0, 0, 4, 3), sheets, [])
    assert [f.code for f in drop_test([wall]).findings] == ["edge.open"]
    wall = Wall("w", shapely.box(0, 0, 4, 3), sheets, [], eave_m=0.45)
    assert drop_test([wall]).findings == ()
