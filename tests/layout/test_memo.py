"""An edit recomputed from kept results gives the same as from scratch."""

from __future__ import annotations

import json
import shutil
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
    "a pipe taken out": ("- {id: hose, kind: pipe, at: [30' 8\"", "# - {id: hose, kind: pipe, at: [30' 8\""),
    "a roll made narrower": ("ring-nails:", "self-adhered-sheet: {width: [36 in, roll on site]}\nring-nails:"),
}  # fmt: skip
KEYS = ("pieces", "laps", "cuts", "stock", "lines", "ties", "steps", "checks", "order", "bounds", "findings")


@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS.keys())
def test_an_edit_gives_the_same_from_kept_results_as_from_scratch(tmp_path: Path, edit: tuple[str, str]) -> None:
    for name in ("house.yaml", "catalog.yaml"):
        shutil.copy(EXAMPLES / "demo" / name, tmp_path)
    memo = Memo()
    before = document(open_plan(tmp_path, memo=memo), KEYS)
    file = next(f for f in sorted(tmp_path.iterdir()) if edit[0] in f.read_text(encoding="utf-8"))
    file.write_text(file.read_text(encoding="utf-8").replace(*edit), encoding="utf-8")
    memo.hits = 0
    kept = document(open_plan(tmp_path, memo=memo), KEYS)
    anew = document(open_plan(tmp_path), KEYS)
    assert json.dumps(kept) == json.dumps(anew)
    assert json.dumps(kept) != json.dumps(before)
    assert memo.hits > 5 or "lap" in edit[1] or file.name == "catalog.yaml"
