"""Changes: edits of the file that touch nothing else, tried by a second run, taken back to the same bytes."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

from lapwright.change import ABSENT, Change, Edit
from lapwright.findings import BadJob
from lapwright.plan import trials
from lapwright.plan.load import open_plan
from lapwright.survey.edit import changed_text, write_text
from lapwright.yamlfile import parse_yaml

ROOT = Path(__file__).parents[2]
MISTAKES = ROOT / "examples/two-mistakes"
FIXES = {
    "east/w4:add-head-strip": "opening.head_bare",
    "east/w4:set-after-barrier": "opening.head_bare",
    "east/old-shingles-top:turn-lap": "lap.reverse",
    "east/old-shingles-top:cut-course": "lap.reverse",
}


def stops(findings: Any) -> list[str]:
    return sorted(f.code for f in findings if f.level == "stop")


@pytest.fixture(scope="module")
def plan() -> Any:
    return open_plan(MISTAKES)


def test_the_two_mistakes_are_named_and_nothing_else_stops(plan: Any) -> None:
    found = [f for f in plan.proofs if f.level == "stop"]
    assert [(f.code, f.where.surface) for f in found] == [("lap.reverse", "east"), ("opening.head_bare", "east")]
    assert found[1].where.thing == "w4" and "old-shingles" in str(found[0].where.thing)
    assert {c for f in found for c in f.changes} == set(FIXES) == set(plan.changes)


@pytest.mark.parametrize(("fix", "code"), FIXES.items(), ids=FIXES.keys())
def test_each_fix_takes_away_its_stop_and_adds_no_finding(plan: Any, fix: str, code: str) -> None:
    tried = trials.trial(plan, trials.named(plan, fix))
    left = ["lap.reverse", "opening.head_bare"]
    left.remove(code)
    assert stops(tried.plan.proofs) == left
    assert tried.difference["findings"]["added"] == [] and tried.difference["findings"]["removed"] != []
    assert tried.difference["edges"]["changed"] != []


def test_a_trial_is_what_planning_the_edited_file_gives(plan: Any, tmp_path: Path) -> None:
    tried = trials.trial(plan, trials.named(plan, "east/old-shingles-top:cut-course"))
    shutil.copytree(MISTAKES, tmp_path / "job", ignore=shutil.ignore_patterns("packet"))
    (tmp_path / "job/house.yaml").write_text(tried.text, encoding="utf-8")
    fresh = open_plan(tmp_path / "job")
    assert [f.to_json() for f in fresh.proofs] == [f.to_json() for f in tried.plan.proofs]
    assert fresh.drops.edges == tried.plan.drops.edges


def run(*args: object) -> subprocess.CompletedProcess[str]:
    code = "from lapwright.cli import main; main()"
    return subprocess.run([sys.executable, "-c", code, *map(str, args)], capture_output=True, text=True, check=False)


def test_accepting_both_makes_the_job_clean_and_keeps_the_remarks(tmp_path: Path) -> None:
    job = tmp_path / "job"
    shutil.copytree(MISTAKES, job, ignore=shutil.ignore_patterns("packet"))
    before = (job / "house.yaml").read_text(encoding="utf-8")
    tried = run("continuity", job, "--try", "east/w4:add-head-strip", "--json")
    assert tried.returncode == 1 and (job / "house.yaml").read_text(encoding="utf-8") == before
    assert json.loads(tried.stdout)["change"]["written"] is False
    first = run("continuity", job, "--accept", "east/w4:add-head-strip")
    assert first.returncode == 1 and "written to house.yaml" in first.stdout
    second = run("continuity", job, "--accept", "east/old-shingles-top:turn-lap", "--json")
    assert second.returncode == 0, second.stderr
    assert json.loads(second.stdout)["change"]["written"] is True
    after = (job / "house.yaml").read_text(encoding="utf-8")
    assert after == before.replace(", without: [head-strip]", "").replace(", wrong_laps: [top]", "")
    assert after.count("#") == before.count("#")
    assert sorted(p.name for p in job.iterdir()) == ["catalog.yaml", "house.yaml"]


def test_a_fix_that_there_is_not_is_a_finding_with_the_known_ones(tmp_path: Path) -> None:
    done = run("continuity", MISTAKES, "--try", "east/w4:add-heads", "--json")
    assert done.returncode == 2
    (finding,) = json.loads(done.stdout)["findings"]
    assert finding["code"] == "change.unknown" and "east/w4:add-head-strip" in finding["fix"]
    assert run("continuity", MISTAKES, "--try", "a", "--accept", "b").returncode == 3


BLOCK = """# top
job: A   # named so

faces:
  # the front
  - id: front      # it looks south
    width: 12'
    openings:
      - id: w1
        without:   # forgotten
          - head-strip
          - sill-strip
        # a remark behind it
        state: before   # in April
      - {id: w2, state: kept}  # old
    zones: []
  - {id: back}
settings: {}
"""
EDITS = {
    "a plain word": (("job",), "A", "B house"),
    "a word that needs quotes": (("job",), "A", "it's: 12' # high"),
    "a list in a block": (("faces", "front", "openings", "w1", "without"), ["head-strip", "sill-strip"], ["sill-strip"]),
    "a block taken out": (("faces", "front", "openings", "w1", "without"), ["head-strip", "sill-strip"], ABSENT),
    "an entry taken out that has a remark": (("faces", "front", "openings", "w1", "state"), "before", ABSENT),
    "an entry put into a block": (("faces", "front", "openings", "w1", "detail"), ABSENT, "my-sill"),
    "an entry put into braces": (("faces", "front", "openings", "w2", "without"), ABSENT, ["head-strip"]),
    "the last of braces taken out": (("faces", "front", "openings", "w2", "state"), "kept", ABSENT),
    "the first of braces taken out": (("faces", "front", "openings", "w2", "id"), "w2", ABSENT),
    "an entry put into empty braces": (("settings", "x"), ABSENT, {"a": 1}),
    "an entry at the end of a face": (("faces", "front", "decision"), ABSENT, "keep"),
    "an entry at the end of the file": (("units",), ABSENT, "metric"),
}  # fmt: skip


@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["unix", "dos"])
@pytest.mark.parametrize("path_old_new", EDITS.values(), ids=EDITS.keys())
def test_an_edit_says_what_was_meant_and_leaves_every_remark(path_old_new: Any, ends: str) -> None:
    path, old, new = path_old_new
    text = BLOCK.replace("\n", ends)
    out = changed_text(text, Change("x", "", (Edit(path, old, new),)))
    want = yaml.safe_load(text)
    at = want
    for step in path[:-1]:
        at = next(r for r in at if r["id"] == step) if isinstance(at, list) else at[step]
    if new is ABSENT:
        del at[path[-1]]
    else:
        at[path[-1]] = new
    assert yaml.safe_load(out) == want
    for remark in ("# top", "# named so", "# the front", "# it looks south", "# a remark behind it", "# in April", "# old"):
        assert remark in out, remark
    assert out.count("\r") == (out.count("\n") if ends == "\r\n" else 0)
    lines = [a for a in text.split(ends) if a not in out.split(ends)]
    assert len(lines) <= 3  # nothing but the entry's own lines is touched


def test_a_change_and_its_way_back_say_the_same_as_before() -> None:
    rng = random.Random(7)
    for _ in range(60):
        path, old, new = rng.choice(list(EDITS.values()))
        if path[-1] == "id":
            continue  # what has lost its id cannot be found again
        change = Change("x", "", (Edit(path, old, new),))
        there = changed_text(BLOCK, change)
        assert parse_yaml(changed_text(there, change.back())).data == parse_yaml(BLOCK).data


def test_a_file_that_moved_on_is_not_edited() -> None:
    with pytest.raises(BadJob, match="does not say"):
        changed_text("job: C\n", Change("x", "", (Edit(("job",), "A", "B"),)))


def test_an_entry_behind_an_alias_is_left_to_the_hand() -> None:
    text = "a: &one {x: 1}\nb: *one\n"
    with pytest.raises(BadJob, match="cannot edit b / x"):
        changed_text(text, Change("x", "", (Edit(("b", "x"), 1, 2),)))


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "house.yaml"
    file.write_text("job: A\n", encoding="utf-8")
    file.chmod(0o640)

    def broken(*_: object) -> None:
        raise OSError(28, "No space left")

    monkeypatch.setattr("os.replace", broken)
    with pytest.raises(OSError, match="No space"):
        write_text(file, "job: B\n")
    assert file.read_text(encoding="utf-8") == "job: A\n" and list(tmp_path.iterdir()) == [file]
    monkeypatch.undo()
    write_text(file, "job: B\n")
    assert file.read_text(encoding="utf-8") == "job: B\n" and file.stat().st_mode & 0o777 == 0o640


ONE_FACE = """job: Shed
faces:
  - id: yard
    width: 18'
    height: 12' 6"
    decision: remove
    assembly: new-skin
    zones:
      - {id: old, bottom: 9', decision: keep}
    openings:
      - {id: w1, left: 5', sill: 2' 8", width: 3', height: 3' 6", state: before}   # the cook's
assemblies:
  new-skin:
    - {layer: cladding, product: board-siding}
    - {layer: barrier, product: self-adhered-sheet}
"""
FAULTS = {
    "no sill strip": ("state: before", "state: before, without: [sill-strip]", "opening.sill_bare", "yard/w1:add-sill-strip"),
    "no jamb strips": ("state: before", "state: before, without: [jamb-strip]", "opening.jamb_bare", "yard/w1:add-jamb-strip"),
    "no head flashing": ("state: before", "state: before, without: [head-flashing]", "head.no_flashing", "yard/w1:add-head-flashing"),
    "a strip over the old felt": ("decision: keep", "decision: keep, wrong_laps: [bottom]", "lap.reverse", "yard/old-bottom:turn-lap"),
    "a joint without slack": ("job: Shed", "job: Shed\nsettings:\n  boundary-above: {slack: 0}", "joint.rigid", "boundary-above:usual-slack"),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "code", "fix"), FAULTS.values(), ids=FAULTS.keys())
def test_each_fault_is_found_and_mended_by_its_fix(old: str, new: str, code: str, fix: str, tmp_path: Path) -> None:
    file = tmp_path / "house.yaml"
    file.write_text(ONE_FACE, encoding="utf-8")
    assert open_plan(tmp_path).drops.findings == ()
    file.write_text(ONE_FACE.replace(old, new, 1), encoding="utf-8")
    plan = open_plan(tmp_path)
    found = [f for f in plan.proofs if f.code == code]
    assert found and all(fix in f.changes for f in found)
    tried = trials.trial(plan, plan.changes[fix])
    assert tried.plan.drops.findings == ()
    assert tried.text.count("# the cook's") == 1
