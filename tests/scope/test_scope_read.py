"""Reading what is wanted: assemblies, crew, stock, prices, settings, and what hangs already."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from lapwright.catalog.load import load
from lapwright.findings import BadJob
from lapwright.scope.model import Job
from lapwright.scope.read import job_of, read_job
from lapwright.yamlfile import parse_yaml

EVERYTHING = Path(__file__).parents[1] / "data" / "everything"
FT = 0.3048


def job(text: str) -> Job:
    return job_of(parse_yaml(text), Path("house.yaml"), load()[0])


def test_layers_are_read_outside_to_inside_in_si() -> None:
    wall = job(
        "assemblies:\n  wall:\n"
        "    - {layer: cladding, product: board-siding}\n"
        '    - {layer: insulation, product: xps-iv, thickness: 1-1/2"}\n'
        '    - {layer: sheathing, material: sheathing-board, thickness: 3/4", existing: yes}\n'
        "    - {layer: cavity, r: R-13}\n"
        "    - {layer: lining, r: 0.45, permeance: 5}\n"
    ).scope.assemblies["wall"]
    assert [x.layer for x in wall.layers] == ["cladding", "insulation", "sheathing", "cavity", "lining"]
    assert wall.product("cladding") == "board-siding" and wall.product("sheathing") is None
    assert wall.layers[1].thickness_m == pytest.approx(0.0381)
    assert wall.layers[2].existing and wall.layers[2].material == "sheathing-board"
    assert wall.layers[3].r_m2K_W == pytest.approx(13 * 0.1761101838, rel=1e-9)  # h ft2 F/Btu, NIST SP 811
    assert wall.layers[4].r_m2K_W == pytest.approx(0.45 * 0.1761101838, rel=1e-9)
    assert wall.layers[4].permeance == pytest.approx(5 * 57.2135e-12)
    assert [x.where.line for x in wall.layers] == [3, 4, 5, 6, 7]


def test_a_metric_job_gives_plain_figures_in_si() -> None:
    layer = (
        job("units: metric\nassemblies: {wall: [{layer: lining, r: 2.3, permeance: 60}]}")
        .scope.assemblies["wall"]
        .layers[0]
    )
    assert (layer.r_m2K_W, layer.permeance) == (2.3, pytest.approx(60e-12))


def test_crew_stock_prices_and_settings() -> None:
    scope = job(
        "crew: {people: 4, wage: 45, rates: {tear_off: 80 sq ft/h, strip: 30 ft/h, opening: 90 min}}\n"
        "stock: [{product: self-adhered-sheet, length: 50', count: 2}]\n"
        "prices: {mesh-mat: 120}\ncurrency: CAD\nunfound: [10, 20]\n"
        'settings: {courses: {course-lap: 4", stagger: 0.6 m, least: 40 F, rows: 3, side: left}}\n'
        "accept: [{code: lap.relies_on_glue, place: front/ledger, reason: probed}]\n"
    ).scope
    assert (scope.crew.people, scope.crew.wage_per_h) == (4, 45.0)
    assert scope.crew.rates == {
        "tear-off": pytest.approx(80 * FT**2), "strip": pytest.approx(30 * FT), "opening": pytest.approx(1.5),
    }  # fmt: skip
    assert scope.on_hand == (("self-adhered-sheet", pytest.approx(50 * FT), None, 2),)
    assert (scope.prices, scope.currency, scope.unfound_ratio) == ({"mesh-mat": 120.0}, "CAD", (0.1, 0.2))
    assert scope.settings == {
        "courses": {
            "course_lap": pytest.approx(0.1016), "stagger": pytest.approx(0.6), "least": pytest.approx(40 / 9),
            "rows": 3.0, "side": "left",
        }
    }  # fmt: skip
    assert scope.accept == (("lap.relies_on_glue", "front/ledger", "probed"),)


def test_a_layer_that_stands_may_be_of_something_unknown() -> None:
    (finding,) = job("assemblies: {wall: [{layer: lining, material: horsehair-plaster, existing: yes}]}").findings
    assert (finding.code, finding.level, finding.where.line) == ("job.unknown_material", "note", 1)


def test_without_a_catalog_names_are_not_checked() -> None:
    text = "assemblies: {wall: [{layer: mat, product: mash-mat}]}"
    assert job_of(parse_yaml(text), Path("house.yaml")).scope.assemblies["wall"].product("mat") == "mash-mat"
    with pytest.raises(BadJob):
        job(text)


@pytest.fixture
def built(tmp_path: Path) -> Path:
    """A copy of the job whose first course hangs."""
    shutil.copytree(EVERYTHING, tmp_path / "job")
    return tmp_path / "job"


def _say(folder: Path, built: str) -> Path:
    head, _, tail = (EVERYTHING / "house.yaml").read_text().partition("built:\n")
    (folder / "house.yaml").write_text(head + f"built: {built}\naccept:" + tail.partition("accept:")[2])
    return folder


def test_what_hangs_is_taken_over_with_its_cuts_and_rolls(built: Path) -> None:
    plan = json.loads((built / "built" / "plan.json").read_text())
    got = read_job(built).scope.built
    assert list(got.pieces) == plan["pieces"][:1]
    assert list(got.cuts) == plan["cuts"][:1]
    assert list(got.stock) == plan["stock"][:1]
    assert list(got.lines) == plan["lines"]


def test_a_star_takes_all_and_named_rolls_come_along(built: Path) -> None:
    plan = json.loads((built / "built" / "plan.json").read_text())
    got = read_job(_say(built, "{from: built/plan.json, pieces: [front/*], lines: [front]}")).scope.built
    assert list(got.pieces) == plan["pieces"] and list(got.stock) == plan["stock"] and list(got.lines) == plan["lines"]
    rolls = read_job(_say(built, "{from: built/plan.json, rolls: ['*/02']}")).scope.built
    assert not rolls.pieces and not rolls.cuts and [r["id"] for r in rolls.stock] == ["self-adhered-sheet/02"]


@pytest.mark.parametrize("what", ["pieces: [front/main/barier/1]", "rolls: [self-adhered-sheet/9]", "lines: [frnt]"])
def test_a_name_that_the_earlier_plan_does_not_hold_is_refused(built: Path, what: str) -> None:
    with pytest.raises(BadJob) as caught:
        read_job(_say(built, f"{{from: built/plan.json, {what}}}"))
    assert [f.code for f in caught.value.findings] == ["job.unknown"]
    assert "earlier plan has no" in caught.value.findings[0].what and "Did you mean" in caught.value.findings[0].fix


def test_reading_a_job_never_runs_its_code(built: Path) -> None:
    """The job's own detail file ends the program when it runs; the job is read all the same."""
    assert read_job(built).scope.own_details == ("details/vent.py",)


def test_reading_is_light_to_import() -> None:
    """Neither scipy nor pint nor the web comes along: `lapwright --help` and checks stay quick."""
    code = "import sys, lapwright.scope.read; print([m for m in ('scipy', 'pint', 'pandas', 'fastapi', 'highspy') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_unknown_products_are_told_in_the_same_go_as_a_misspelled_name() -> None:
    text = (
        "faces:\n  - {id: front, widht: 20', eave_height: 9'}\n"
        "assemblies:\n  new: [{layer: barrier, product: self-adherd-sheet}, nothing]\n"
        "stock: [{product: mesh-matt, length: 10 m, count: 1}]\n"
    )
    with pytest.raises(BadJob) as caught:
        job(text)
    said = {(f.where.line, f.fix) for f in caught.value.findings}
    assert {(4, "Did you mean self-adhered-sheet?"), (5, "Did you mean mesh-mat?")} <= said
    assert any(f.where.line == 2 and "widht" in f.what for f in caught.value.findings)
