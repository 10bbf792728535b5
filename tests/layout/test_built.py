"""What hangs stays as it is, and layout plans round it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from conftest import EXAMPLES, doc_of, holes_of
from lapwright.plan.compare import compare
from lapwright.plan.document import document
from lapwright.plan.load import open_plan
from rules import broken_rules

SAME = ("surface", "plane", "polygon", "product", "role", "layer", "cut", "installed", "step", "place", "held")


FRONT_HALF = {"front", "jog", "gable", "east", "cheek-west", "dormer", "cheek-east"}  # the crew works face by face


def half_built(tmp_path: Path, change: tuple[str, str] | None = None) -> tuple[dict[str, Any], list[str], Any]:
    """Return the demo's plan with the faces of its front half built (whole cuts) and perhaps one line changed."""
    before = doc_of("demo")
    elsewhere = {p["cut"] for p in before["pieces"] if p["surface"] not in FRONT_HALF and p["cut"]}
    ids = [p["id"] for p in before["pieces"] if p["surface"] in FRONT_HALF and p["cut"] not in elsewhere]
    text = (EXAMPLES / "demo" / "house.yaml").read_text(encoding="utf-8")
    if change:
        assert change[0] in text
        text = text.replace(*change)
    names = ", ".join(json.dumps(i) for i in ids)
    text += f"\nbuilt:\n  from: built/plan.json\n  pieces: [{names}]\n"
    (tmp_path / "built").mkdir()
    (tmp_path / "built" / "plan.json").write_text(json.dumps(before), encoding="utf-8")
    (tmp_path / "house.yaml").write_text(text, encoding="utf-8")
    plan = open_plan(tmp_path)
    return document(plan), ids, plan


MOVED = (
    "{id: w5, left: 26', sill: 11' 6\"",
    "{id: w5, left: 26' 5\", sill: 11' 9\"",
)


@pytest.mark.parametrize("change", [None, MOVED], ids=["nothing changed", "one opening moved"])
def test_every_built_piece_stays_identical(tmp_path: Path, change: tuple[str, str] | None) -> None:
    before = {p["id"]: p for p in doc_of("demo")["pieces"]}
    after, ids, plan = half_built(tmp_path, change)
    now = {p["id"]: p for p in after["pieces"]}
    assert len(ids) > 250
    for name in ids:
        assert {k: now[name][k] for k in SAME} == {k: before[name][k] for k in SAME}, name
    assert [f for f in after["findings"] if f["level"] == "stop"] == []
    assert broken_rules(after, holes_of(plan), points=150) == []


def test_built_cuts_stay_on_their_rolls(tmp_path: Path) -> None:
    before = {c["id"]: c for c in doc_of("demo")["cuts"]}
    after, ids, _ = half_built(tmp_path, MOVED)
    built_cuts = {p["cut"] for p in after["pieces"] if p["id"] in set(ids) and p["cut"]}
    for cut in after["cuts"]:
        if cut["id"] in built_cuts:
            assert cut == before[cut["id"]]


def test_compare_says_what_the_move_changed(tmp_path: Path) -> None:
    after, _, _ = half_built(tmp_path, MOVED)
    said = compare(doc_of("demo"), after)
    touched = said["pieces"]["added"] + said["pieces"]["removed"] + [r["id"] for r in said["pieces"]["changed"]]
    assert any(name.startswith("back/w5/") for name in touched)
    assert said["pieces"]["same"] > 250
    assert not any(name.startswith("front/w1/") for name in touched)


def test_a_window_moved_after_its_course_hangs_is_told(tmp_path: Path) -> None:
    before = doc_of("demo")
    names = ", ".join(
        json.dumps(p["id"]) for p in before["pieces"] if p["role"] == "course" and p["layer"] == "barrier"
    )
    far = (MOVED[0], "{id: w5, left: 28', sill: 11' 6\"")
    text = (EXAMPLES / "demo" / "house.yaml").read_text(encoding="utf-8").replace(*far)
    (tmp_path / "built").mkdir()
    (tmp_path / "built" / "plan.json").write_text(json.dumps(before), encoding="utf-8")
    (tmp_path / "house.yaml").write_text(
        text + f"\nbuilt:\n  from: built/plan.json\n  pieces: [{names}]\n", encoding="utf-8"
    )
    found = {f["code"]: f for f in document(open_plan(tmp_path))["findings"]}
    assert "Cut back/w5 out of it" in found["built.covers"]["fix"]
    assert found["built.bare"]["level"] == "stop"
    assert found["built.bare"]["where"]["surface"] == "back"
