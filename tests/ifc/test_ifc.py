"""A job from a building model: a house that the test models itself, and the open models whose folder is named."""

from __future__ import annotations

import json
import math
import os
import re
from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, Point, box

from ifc_model import HEIGHT, L_SHAPE, house
from lapwright.catalog.load import builtin
from lapwright.cli.app import main
from lapwright.findings import BadJob
from lapwright.ifc.model import Hole, Model, WallBody, curved
from lapwright.ifc.rings import walks
from lapwright.ifc.write import start_job
from lapwright.scope.read import read_job

MODELS = os.environ.get("LAPWRIGHT_IFC_DIR", "")
@pytest.mark.parametrize(("turned", "unit"), [(0.0, "MILLIMETRE"), (33.0, "MILLIMETRE"), (-120.0, "METRE"), (0.0, "FOOT")])
def test_a_modeled_house_comes_over_as_it_was_drawn(tmp_path: Path, turned: float, unit: str) -> None:
    started = start_job(house(tmp_path / "m.ifc", turned, unit), tmp_path / "job")
    assert started.counts == {"loops": 1, "faces": 6, "openings": 12, "stories": 2}
    job = read_job(tmp_path / "job", builtin())
    assert [f.code for f in job.findings] == ["tape.closes"]
    faces = job.survey.faces
    want = [math.dist(a, b) for a, b in zip(L_SHAPE, L_SHAPE[1:] + L_SHAPE[:1], strict=True)]
    got = [f.width_m for f in faces]
    doubled = got + got
    assert any(np.allclose(doubled[n : n + 6], want, atol=2e-3) for n in range(6))
    assert sorted(round(f.turn_deg) for f in faces) == [-90, 90, 90, 90, 90, 90]
    for face in faces:
        assert face.outline.bounds[1] == pytest.approx(0, abs=1e-3)
        assert face.outline.bounds[3] == pytest.approx(2 * HEIGHT, abs=2e-3)
        assert len(face.openings) == 2
        for o in face.openings:
            left, sill, right, head = o.box
            assert (left, right) == pytest.approx((1.0, 1.8), abs=3e-3)
            assert sill == pytest.approx(0.0 if o.kind == "door" else 0.9 if head < HEIGHT else HEIGHT + 0.9, abs=3e-3)
    assert [o.kind for f in faces for o in f.openings].count("door") == 1
    assert sum(f.outline.area for f in faces) == pytest.approx(sum(want) * 2 * HEIGHT, rel=1e-3)


def test_without_a_word_on_outer_walls_all_are_taken_and_it_is_said(tmp_path: Path) -> None:
    started = start_job(house(tmp_path / "m.ifc", external=None), tmp_path / "job")
    assert started.counts["faces"] == 6
    assert "ifc.outer_not_said" in {f.code for f in started.findings}


def test_walls_inside_only_are_no_house(tmp_path: Path) -> None:
    with pytest.raises(BadJob) as bad:
        start_job(house(tmp_path / "m.ifc", external=False), tmp_path / "job")
    assert "ifc.no_walls" in {f.code for f in bad.value.findings}
    assert not (tmp_path / "job").exists()


def test_a_job_that_is_there_is_left_alone(tmp_path: Path) -> None:
    model = house(tmp_path / "m.ifc")
    (tmp_path / "house.yaml").write_text("mine", encoding="utf-8")
    with pytest.raises(BadJob, match="there already"):
        start_job(model, tmp_path)
    assert (tmp_path / "house.yaml").read_text(encoding="utf-8") == "mine"
    start_job(model, tmp_path, replace=True)
    assert "faces:" in (tmp_path / "house.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a house\n",
        "ISO-10303-21;\nHEADER;\n",
        "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=IFCWALL(;\nENDSEC;\nEND-ISO-10303-21;\n",
        "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC9'));\nENDSEC;\nDATA;\n#1=IFCWALL();\nENDSEC;\nEND-ISO-10303-21;\n",
    ],
)
def test_what_is_no_model_is_a_finding(tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "m.ifc").write_text(text, encoding="utf-8")
    with pytest.raises(SystemExit) as left:
        main(["ifc", str(tmp_path / "m.ifc"), "--out", str(tmp_path / "job"), "--json"])
    assert left.value.code == 2
    rows = json.loads(capsys.readouterr().out)["findings"]
    assert [r["code"] for r in rows] == ["ifc.broken"] and rows[0]["fix"]
    assert not (tmp_path / "job").exists()


def test_a_model_cut_off_in_the_middle_is_a_finding(tmp_path: Path) -> None:
    whole = house(tmp_path / "m.ifc").read_text(encoding="utf-8")
    for share in (0.3, 0.6, 0.95):
        (tmp_path / "cut.ifc").write_text(whole[: int(len(whole) * share)], encoding="utf-8")
        with pytest.raises(BadJob, match="no IFC model"):
            start_job(tmp_path / "cut.ifc", tmp_path / "job")


# Open models are known by what stands in their text, not by name: (walls, openings) -> what must come over. The folder's
# own page gives the counts; the duplex's windows are counted there too.
OPEN_MODELS = {
    (57, 50): {"faces": 4, "windows": 24},
    (1, 1): {"faces": 1},
    (3, 14): {"faces": 3},
}


def counted(file: Path) -> tuple[int, int]:
    """Walls and openings of a model, by counting lines of its text."""
    text = file.read_text(encoding="latin-1")
    return len(re.findall(r"=\s*IFCWALL(?:STANDARDCASE)?\(", text)), len(re.findall(r"=\s*IFCOPENINGELEMENT\(", text))


@pytest.mark.skipif(not MODELS, reason="LAPWRIGHT_IFC_DIR names no folder of open models: they were not read")
@pytest.mark.parametrize("holds", OPEN_MODELS, ids=str)
def test_open_models(tmp_path: Path, holds: tuple[int, int]) -> None:
    (file,) = [f for f in sorted(Path(MODELS).glob("*.ifc")) if counted(f) == holds]
    facts = OPEN_MODELS[holds]
    started = start_job(file, tmp_path)
    assert started.counts["faces"] == facts["faces"]
    job = read_job(tmp_path, builtin())
    assert {f.code for f in job.findings} <= {"tape.closes", "tape.chain"}
    openings = [o for f in job.survey.faces for o in f.openings]
    if "windows" in facts:
        # every window of the duplex stands in an outer wall; rings of the two apartments' storeys agree
        assert sum(o.kind == "window" for o in openings) >= facts["windows"] - 2
        assert sum(f.width_m for f in job.survey.faces) == pytest.approx(2 * (8.8 + 17.8), abs=0.02)
    else:
        assert len(openings) == holds[1]


def test_a_model_whose_entities_get_lost_is_a_finding(tmp_path: Path) -> None:
    text = house(tmp_path / "m.ifc").read_text(encoding="utf-8").splitlines()
    middle = next(n for n, line in enumerate(text) if "IFCOPENINGELEMENT" in line)
    text[middle] = text[middle].replace("(", "((", 1)
    (tmp_path / "bad.ifc").write_text("\n".join(text), encoding="utf-8")
    with pytest.raises(BadJob) as bad:
        start_job(tmp_path / "bad.ifc", tmp_path / "job")
    assert bad.value.findings[0].code == "ifc.broken"


def test_a_wall_that_does_not_say_where_it_stands_is_listed(tmp_path: Path) -> None:
    model = house(tmp_path / "m.ifc", silent=True)
    said = [f for f in start_job(model, tmp_path / "job").findings if "does not say" in f.what]
    assert said and all(f.level == "note" for f in said)


def test_openings_that_nothing_fills_are_listed_with_their_line(tmp_path: Path) -> None:
    model = house(tmp_path / "m.ifc", bare=True)
    said = [f for f in start_job(model, tmp_path / "job").findings if f.code == "ifc.unfilled"]
    lines = model.read_text(encoding="utf-8").splitlines()
    assert len(said) == 2  # one on each story
    for f in said:
        assert f.where.line is not None and f.where.thing is not None
        assert lines[f.where.line - 1].startswith(f"{f.where.thing}=IFCOPENINGELEMENT(")
    text = (tmp_path / "job/house.yaml").read_text(encoding="utf-8")
    assert text.count("# nothing fills it in the model") == 2
    read_job(tmp_path / "job", builtin())


def test_an_opening_on_no_face_is_listed_with_its_line() -> None:
    far = np.array([(x, y, z) for x in (9.0, 10.0) for y in (9.0, 9.3) for z in (1.0, 2.0)])
    wall = WallBody(7, box(0, 0, 4, 0.3), 0.0, 3.0, 0, True, (Hole(12, far, "window"),))
    _, said = walks(Model("m.ifc", [wall], lines={7: 70, 12: 120}))
    (left,) = [f for f in said if f.where.thing == "#12"]
    assert (left.code, left.where.line) == ("ifc.left_out", 120)


def test_curved_walls_are_known_by_their_plan() -> None:
    ring = Point(0, 0).buffer(3).difference(Point(0, 0).buffer(2.7))
    arc = ring.intersection(box(0, 0, 4, 4))
    assert curved(ring) and curved(arc)
    bent = LineString([(0, 0), (4, 0), (6, 2), (6, 5)]).buffer(0.15, cap_style="flat", join_style="mitre")
    assert not curved(bent) and not curved(box(0, 0, 4, 0.3))


def test_houses_that_touch_at_a_corner_are_two_rings() -> None:
    def room(first: int, at: float) -> list[WallBody]:
        low, high, thick = at, at + 4.0, 0.2
        plans = [(low, low, high, low + thick), (low, high - thick, high, high),
                 (low, low, low + thick, high), (high - thick, low, high, high)]  # fmt: skip
        return [WallBody(first + n, box(*p), 0.0, 3.0, 0, True, ()) for n, p in enumerate(plans)]

    found, said = walks(Model("two.ifc", [*room(1, 0.0), *room(11, 4.02)]))
    assert [w.closed for w in found] == [True, True]
    for walk in found:
        assert [s.width for s in walk.sides] == pytest.approx([4.0] * 4, abs=0.01)
    assert all(s.walls for w in found for s in w.sides)
    assert not {i for s in found[0].sides for i in s.walls} & {i for s in found[1].sides for i in s.walls}
    assert not said


@pytest.mark.parametrize("name", ["true", "null", "12", "- 12"])
def test_a_model_may_be_called_anything(tmp_path: Path, name: str) -> None:
    start_job(house(tmp_path / f"{name}.ifc", 0.0, "METRE"), tmp_path / "job")
    assert f"job: '{name}'\n" in (tmp_path / "job" / "house.yaml").read_text(encoding="utf-8")
    read_job(tmp_path / "job", builtin())
