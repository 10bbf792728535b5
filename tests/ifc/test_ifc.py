"""A job from a building model: a house that the test models itself, and the open models whose folder is named."""

from __future__ import annotations

import json
import math
import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.api.aggregate
import ifcopenshell.api.context
import ifcopenshell.api.feature
import ifcopenshell.api.geometry
import ifcopenshell.api.project
import ifcopenshell.api.pset
import ifcopenshell.api.root
import ifcopenshell.api.spatial
import ifcopenshell.api.unit
import numpy as np
import pytest

from lapwright.catalog.load import builtin
from lapwright.cli.app import main
from lapwright.findings import BadJob
from lapwright.ifc.write import start_job
from lapwright.scope.read import read_job

MODELS = os.environ.get("LAPWRIGHT_IFC_DIR", "")
WALL = 0.3
L_SHAPE = [(0.0, 0.0), (9.0, 0.0), (9.0, 4.0), (5.0, 4.0), (5.0, 7.0), (0.0, 7.0)]
HEIGHT = 2.8


def placed(origin: Sequence[float], along: Sequence[float]) -> Any:
    ux, uy = along
    return np.array([[ux, -uy, 0, origin[0]], [uy, ux, 0, origin[1]], [0, 0, 1, origin[2]], [0, 0, 0, 1]], dtype=float)


def house(path: Path, turned_deg: float = 0.0, unit: str = "MILLIMETRE", external: bool | None = True) -> Path:
    """An L-shaped house of two storeys, walls drawn along the outer rim, one window in each wall, one door."""
    f = ifcopenshell.api.project.create_file(version="IFC4")
    project = ifcopenshell.api.root.create_entity(f, ifc_class="IfcProject", name="p")
    k = 1000.0 if unit == "MILLIMETRE" else 1.0
    length = ifcopenshell.api.unit.add_si_unit(f, unit_type="LENGTHUNIT", prefix="MILLI" if k > 1 else None)
    ifcopenshell.api.unit.assign_unit(f, units=[length])
    model = ifcopenshell.api.context.add_context(f, context_type="Model")
    body = ifcopenshell.api.context.add_context(
        f, context_type="Model", context_identifier="Body", target_view="MODEL_VIEW", parent=model
    )
    building = ifcopenshell.api.root.create_entity(f, ifc_class="IfcBuilding", name="b")
    ifcopenshell.api.aggregate.assign_object(f, products=[building], relating_object=project)
    turn = math.radians(turned_deg)

    def at(x: float, y: float) -> tuple[float, float]:
        return x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)

    def solid(kind: str, origin: Sequence[float], along: Sequence[float], size: Sequence[float], name: str) -> Any:
        thing = ifcopenshell.api.root.create_entity(f, ifc_class=kind, name=name)
        shape = ifcopenshell.api.geometry.add_wall_representation(
            f, context=body, length=size[0], height=size[2], thickness=size[1]
        )
        ifcopenshell.api.geometry.assign_representation(f, product=thing, representation=shape)
        ifcopenshell.api.geometry.edit_object_placement(f, product=thing, matrix=placed(origin, along), is_si=True)
        return thing

    for level in range(2):
        storey = ifcopenshell.api.root.create_entity(f, ifc_class="IfcBuildingStorey", name=f"s{level}")
        storey.Elevation = level * HEIGHT * k
        ifcopenshell.api.aggregate.assign_object(f, products=[storey], relating_object=building)
        points = [at(*p) for p in L_SHAPE]
        for n, (a, b) in enumerate(zip(points, points[1:] + points[:1], strict=True)):
            long = math.dist(a, b)
            along = ((b[0] - a[0]) / long, (b[1] - a[1]) / long)
            wall = solid("IfcWall", (*a, level * HEIGHT), along, (long, WALL, HEIGHT), f"w{n}")
            ifcopenshell.api.spatial.assign_container(f, products=[wall], relating_structure=storey)
            if external is not None:
                pset = ifcopenshell.api.pset.add_pset(f, product=wall, name="Pset_WallCommon")
                ifcopenshell.api.pset.edit_pset(f, pset=pset, properties={"IsExternal": external})
            door = level == 0 and n == 0
            sill, high = (0.0, 2.1) if door else (0.9, 1.2)
            spot = (a[0] + along[0] * 1.0, a[1] + along[1] * 1.0, level * HEIGHT + sill)
            hole = solid("IfcOpeningElement", spot, along, (0.8, WALL, high), f"o{n}")
            ifcopenshell.api.feature.add_feature(f, feature=hole, element=wall)
            unit_ = ifcopenshell.api.root.create_entity(f, ifc_class="IfcDoor" if door else "IfcWindow", name=f"u{n}")
            ifcopenshell.api.feature.add_filling(f, opening=hole, element=unit_)
    f.write(str(path))
    return path


@pytest.mark.parametrize(("turned", "unit"), [(0.0, "MILLIMETRE"), (33.0, "MILLIMETRE"), (-120.0, "METRE")])
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


# (file, faces, loops; walls and openings by counting lines of the file): see the folder's own page
OPEN_MODELS = {
    "Ifc2x3_Duplex_Architecture.ifc": {"walls": 57, "openings": 50, "faces": 4, "windows": 24},
    "bimwhale_SimpleWall.ifc": {"walls": 1, "openings": 1, "faces": 1},
    "bimwhale_ManySimpleWalls.ifc": {"walls": 3, "openings": 14, "faces": 3},
}


@pytest.mark.skipif(not MODELS, reason="LAPWRIGHT_IFC_DIR names no folder of open models: they were not read")
@pytest.mark.parametrize("name", OPEN_MODELS)
def test_open_models(tmp_path: Path, name: str) -> None:
    file = Path(MODELS) / name
    text = file.read_text(encoding="latin-1")
    facts = OPEN_MODELS[name]
    assert len(re.findall(r"=\s*IFCWALL(?:STANDARDCASE)?\(", text)) == facts["walls"]
    assert len(re.findall(r"=\s*IFCOPENINGELEMENT\(", text)) == facts["openings"]
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
        assert len(openings) == facts["openings"]
