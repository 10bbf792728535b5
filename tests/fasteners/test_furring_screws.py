"""Furring through foam: from a job file to screw, findings, order, steps and checks; the code's table stands beside the sum."""

from __future__ import annotations

import csv
import json
import math
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from lapwright import catalog, fasteners
from lapwright.fasteners import table
from lapwright.fasteners.cases import held
from lapwright.fasteners.choose import END_M
from lapwright.fasteners.wall import Loads, Wall
from lapwright.loads.rows import IN, PSF
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.plan.load import open_plan

CATALOG, _ = catalog.load()
DATA = Path(__file__).parents[1] / "outside" / "data" / "fasteners" / "furring_through_foam.csv"
LAYERS = """
    - {layer: cladding, product: board-siding}
    - {layer: furring, product: furring-2x3}
    - {layer: insulation, product: xps-iv, thickness: 2"}
    - {layer: barrier, product: self-adhered-sheet}
    - {layer: sheathing, material: sheathing-board, thickness: 3/4", existing: yes}
"""
JOB = """
job: Screw Test
place: North Fork
wind: {speed: 115 mph, exposure: B}
faces:
  - id: a
    width: 20'
    height: 14'
    framing: {stud: 2x4, spacing: 16", first: 16"}
    decision: cover
    assembly: skin
    openings:
      - {id: w1, left: 6', sill: 3', width: 3', height: 4', state: kept}
assemblies:
  skin:
"""


def planned(tmp_path: Path, layers: str = LAYERS, job: str = JOB) -> Plan:
    (tmp_path / "house.yaml").write_text(job + layers.lstrip("\n"), encoding="utf-8")
    return open_plan(tmp_path)


def of(plan: Plan, code: str = "fasteners.") -> dict[str, str]:
    return {f.code: f.level for f in plan.findings if f.code.startswith(code)}


def row(plan: Plan) -> dict[str, Any]:
    (only,) = document(plan, ["fasteners"])["fasteners"]
    return dict(only)


def wall(foam_in: float, weight_psf: float, stud_in: float = 16, named: str | None = None) -> Wall:
    return Wall(
        CATALOG["furring-1x3"], 0.75 * IN, foam_in * IN, 0.75 * IN, CATALOG["board-siding"], 0.75 * IN,
        weight_psf * PSF, stud_in * IN, named,
    )  # fmt: skip


def test_the_table_of_the_program_is_the_published_one() -> None:
    names = {"nail0.131": "furring-nail-131-314", "nail0.162": "furring-nail-162-312", "No10 wood screw": "furring-screw-10-4", "1/4 lag": "lag-14-4"}
    lines = [s for s in DATA.read_text(encoding="utf-8").splitlines() if not s.startswith("#")]
    for r in csv.DictReader(lines):
        got = table.answer(
            CATALOG[names[r["fastener"]]],
            float(r["spacing_in_furring_in"]) * IN, float(r["furring_oc_in"]) * IN, float(r["cladding_psf"]) * PSF,
        )  # fmt: skip
        want = r["published_max_foam_in"]
        assert got.thickest_m == pytest.approx(0.0 if want == "DR" else float(want) * IN), r


def test_the_sum_of_the_program_agrees_with_the_table_where_only_weight_counts() -> None:
    """Without wind, slip is what the table is made of: the sum must hold at the printed thickness and fail 0.06 in beyond."""
    for size, spacing, weight, stud in (
        ("furring-screw-10-4", 12, 18, 16), ("furring-screw-10-4", 16, 18, 16), ("lag-14-4", 12, 18, 24), ("furring-nail-162-312", 8, 18, 24),
        ("furring-screw-10-4", 24, 3, 24), ("lag-14-4", 24, 3, 24),
    ):  # fmt: skip
        printed = table.answer(CATALOG[size], spacing * IN, stud * IN, weight * PSF).thickest_m
        assert printed is not None
        for more, holds in ((0.0, True), (0.06, False)):
            one = wall(printed / IN + more, weight, stud)
            cases = {c.words: c.used for c in held(CATALOG[size], spacing * IN, one, Loads(1.0, weight * PSF, ())).cases}
            assert (cases["slips more than 0.015 in"] <= 1) is holds, (size, spacing, weight, cases)


def test_a_house_with_foam_gets_its_screw_without_a_word_of_warning(tmp_path: Path) -> None:
    plan = planned(tmp_path)
    assert of(plan) == {}
    made = row(plan)
    screw = CATALOG[made["product"]]
    depth = 1.5 + 2.0 + 0.75  # strip, foam, boards: nothing of it holds
    assert made["reach_m"] == pytest.approx(made["length_m"] - depth * IN, abs=1e-4)
    assert made["reach_m"] >= screw.needed("penetration_m") - 1e-6
    assert made["used"] == max(c["used"] for c in made["cases"]) and made["holds"] and made["table"]["covers"]
    assert {c["words"] for c in made["cases"] if c["used"] == made["used"]} == {made["governing"]}
    schema = json.loads(resources.files("lapwright.plan").joinpath("schema.json").read_text("utf-8"))
    assert schema["properties"]["fasteners"]["items"] == {"$ref": "#/$defs/fastening"}
    jsonschema.validate(made, schema["$defs"]["fastening"])


def test_every_strip_has_screws_at_both_ends_and_no_gap_beyond_the_spacing(tmp_path: Path) -> None:
    plan = planned(tmp_path)
    made = row(plan)
    strips = [p for p in plan.layout.pieces if p.role == "furring"]
    screws = [p for p in plan.layout.pieces if p.role == "screws"]
    assert all(p.layer == "fastener" and p.cut is None for p in screws)
    total = 0.0
    for mark in screws:
        x = mark.polygon.centroid.x
        mine = [s for s in strips if s.polygon.buffer(1e-6).covers(mark.polygon)] or [
            s for s in strips if abs(s.polygon.centroid.x - x) < 1e-6 and s.polygon.intersects(mark.polygon)
        ]
        least = 0
        for s in mine:
            _, low, _, high = s.polygon.bounds
            inner = high - low - 2 * END_M
            least += 2 if inner <= 0 else math.ceil(inner / made["spacing_m"] - 1e-6) + 1
        assert mark.facts["quantity"][0] >= least > 0
        total += mark.facts["quantity"][0]
    assert made["count"] == total
    (bought,) = [r for r in plan.order.rows if r.product == made["product"]]
    assert bought.need == total
    assert "furring-screws" not in {r.product for r in plan.order.rows}  # not counted twice
    (step,) = [s for s in plan.steps if s.id.endswith("/furring/strips")]
    assert f"{total:.0f} pieces" in step.action and "a/main/insulation/layer-1" in step.needs
    checks = {c.id.rsplit("/", 1)[-1]: c for c in plan.checks if "/furring/strips/" in c.id}
    assert {"stud", "length", "pull"} <= set(checks)
    assert checks["length"].lower == pytest.approx(25.4 * (1.5 + 2 + 0.75 + CATALOG[made["product"]].needed("penetration_m") / IN), abs=0.06)


@pytest.mark.parametrize(
    ("change", "code", "level", "words"),
    [
        (('thickness: 2"', 'thickness: 12"'), "fasteners.none", "stop", "Design required"),
        (("board-siding", "stone-face"), "fasteners.beyond_table", "warn", "at most 1.2 in of foam"),
        (('thickness: 2"', 'thickness: 5"'), "fasteners.beyond_table", "warn", "Design required"),
        (("furring-2x3", "furring-1x3"), "fasteners.siding_nail", "warn", "2x furring"),
        (('    - {layer: sheathing, material: sheathing-board, thickness: 3/4", existing: yes}\n', ""), "fasteners.no_sheathing", "stop", "Foam braces nothing"),
        (("    - {layer: barrier", "    - {layer: fastener, product: furring-screw-10-4}\n    - {layer: barrier"), "fasteners.short", "stop", "boards do not count"),
        (("    - {layer: barrier", "    - {layer: fastener, product: cap-staples}\n    - {layer: barrier"), "fasteners.wrong_kind", "stop", "holds as"),
        (('product: xps-iv, thickness: 2"', "r: R-10"), "fasteners.no_thickness", "stop", "How thick"),
    ],
)  # fmt: skip
def test_what_cannot_hold_is_told_with_its_mend(
    tmp_path: Path, change: tuple[str, str], code: str, level: str, words: str
) -> None:
    (tmp_path / "catalog.yaml").write_text("stone-face:\n  like: board-siding\n  title: Thin stone\n  area weight: 9 psf\n")
    assert change[0] in LAYERS
    plan = planned(tmp_path, LAYERS.replace(*change))
    found = [f for f in plan.findings if f.code == code]
    assert [f.code for f in plan.findings if f.code.startswith("fasteners.")] == [code]
    assert [f.level for f in found] == [level]
    said = f"{found[0].what} {found[0].why} {found[0].fix}"
    assert words in said and found[0].where.line


def test_heavy_cladding_that_nothing_holds_is_a_stop(tmp_path: Path) -> None:
    (tmp_path / "catalog.yaml").write_text("stone-face:\n  like: board-siding\n  title: Stone\n  area weight: 60 psf\n")
    plan = planned(tmp_path, LAYERS.replace("board-siding", "stone-face").replace('thickness: 2"', 'thickness: 4"'))
    (found,) = [f for f in plan.findings if f.code == "fasteners.design_required"]
    assert found.level == "stop" and "engineer" in found.fix and "Design required" in found.what


def test_what_nobody_wrote_is_said(tmp_path: Path) -> None:
    job = JOB.replace("wind: {speed: 115 mph, exposure: B}\n", "").replace('    framing: {stud: 2x4, spacing: 16", first: 16"}\n', "")
    plan = planned(tmp_path, LAYERS.replace(', thickness: 3/4"', ""), job)
    (found,) = [f for f in plan.findings if f.code == "fasteners.guessed"]
    for words in ("115 mph", "exposure B", "studs 16 in apart"):
        assert words in found.what
    assert of(plan, "gap.studs") == {"gap.studs_assumed": "note"}


def test_a_tower_is_beyond_the_wind_tables(tmp_path: Path) -> None:
    plan = planned(tmp_path, job=JOB.replace("height: 14'", "height: 70'"))
    (found,) = [f for f in plan.findings if f.code == "fasteners.wind"]
    assert found.level == "stop" and "60 ft" in f"{found.what} {found.why}"


def test_more_wind_and_more_foam_never_use_a_screw_less() -> None:
    screw = CATALOG["furring-screw-10-6"]
    last = 0.0
    for foam in (0.5, 1, 2, 3, 4):
        for suction in (10, 20, 40):
            used = held(screw, 16 * IN, wall(foam, 3), Loads(suction * PSF, 3 * PSF, ())).governing.used
            assert used >= held(screw, 16 * IN, wall(foam, 3), Loads(suction * 0.9 * PSF, 3 * PSF, ())).governing.used
        assert used >= last
        last = used


def test_furring_without_foam_is_left_as_it_was(tmp_path: Path) -> None:
    plan = planned(tmp_path, LAYERS.replace('    - {layer: insulation, product: xps-iv, thickness: 2"}\n', ""))
    assert document(plan, ["fasteners"])["fasteners"] == [] and of(plan) == {}
    assert "furring-screws" in {r.product for r in plan.order.rows}
    assert fasteners.wall_of(None, plan.job.survey.faces[0], CATALOG) is None


def test_the_example_has_no_stop_and_no_warning_of_its_screws() -> None:
    plan = open_plan(Path(__file__).parents[2] / "examples" / "foam-wall")
    assert [f.code for f in plan.findings if f.level != "note"] == []
    made = row(plan)
    assert made["places"] == ["yard/main/furring", "side/main/furring"] and made["holds"] and made["table"]["covers"]
    assert made["guessed"] == []


def test_a_thickness_typed_on_furring_or_siding_is_the_one_taken(tmp_path: Path) -> None:
    typed = LAYERS.replace("product: furring-2x3", 'product: furring-2x3, thickness: 2"')
    typed = typed.replace("product: board-siding", 'product: board-siding, thickness: 1"')
    plan = planned(tmp_path, typed)
    got = fasteners.wall_of(plan.job.scope.assemblies["skin"], plan.job.survey.faces[0], plan.catalog)
    assert got is not None
    assert (got.furring_m, got.cladding_m) == pytest.approx((2 * IN, 1 * IN))
    assert got.through_m == pytest.approx((2 + 2 + 0.75) * IN)


def test_a_calm_place_still_gets_the_least_suction_of_the_code(tmp_path: Path) -> None:
    plan = planned(tmp_path, job=JOB.replace("115 mph", "40 mph"))
    face = plan.job.survey.faces[0]
    got = fasteners.wall_of(plan.job.scope.assemblies["skin"], face, plan.catalog)
    assert got is not None
    assert fasteners.loads_of(got, face, plan.job.survey).suction_pa == pytest.approx(10 * PSF)
