"""An edit recomputed from kept results gives the same as from scratch."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from conftest import EXAMPLES
from lapwright.memo import Memo
from lapwright.plan.document import document
from lapwright.plan.load import open_plan

EDITS = {
    "a window moved": ("{id: w5, left: 26'", "{id: w5, left: 26' 3\""),
    "a pipe moved": ("{id: hose, kind: pipe, at: [1' 4\", 14\"]", "{id: hose, kind: pipe, at: [1' 5\", 15\"]"),
    "a lap made wider": ("unfound: [5, 15]", "unfound: [5, 15]\nsettings: {courses-self-adhered: {course_lap: 5\"}}"),
    "a state changed": ("{id: w4, left: 4', sill: 11', width: 3', height: 4' 6\", state: before", "{id: w4, left: 4', sill: 11', width: 3', height: 4' 6\", state: after"),
}  # fmt: skip
KEYS = ("pieces", "laps", "cuts", "lines", "ties", "order", "findings")


@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS.keys())
def test_an_edit_gives_the_same_from_kept_results_as_from_scratch(tmp_path: Path, edit: tuple[str, str]) -> None:
    text = (EXAMPLES / "demo" / "house.yaml").read_text(encoding="utf-8")
    assert edit[0] in text
    (tmp_path / "catalog.yaml").write_bytes((EXAMPLES / "demo" / "catalog.yaml").read_bytes())
    house = tmp_path / "house.yaml"
    house.write_text(text, encoding="utf-8")
    memo = Memo()
    before = document(open_plan(tmp_path, memo=memo), KEYS)
    house.write_text(text.replace(*edit), encoding="utf-8")
    memo.hits = 0
    kept = document(open_plan(tmp_path, memo=memo), KEYS)
    anew = document(open_plan(tmp_path), KEYS)
    assert json.dumps(kept) == json.dumps(anew)
    assert json.dumps(kept) != json.dumps(before)
    assert memo.hits > 5 or "lap" in edit[1]
