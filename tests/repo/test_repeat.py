"""The same job gives the same bytes, and every example's plan.json is what the schema says."""

from __future__ import annotations

import json
import shutil
from importlib import resources
from pathlib import Path

import jsonschema
import pytest
from runs import EXAMPLES, ROOT, digest, lapwright

STOPPED = ("two-mistakes",)  # made so that it must not be built


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_packet_made_twice_is_the_same_and_keeps_to_the_schema(name: str, tmp_path: Path) -> None:
    """Second time: another folder, hash seed, time zone, language, working folder and number of threads."""
    job = tmp_path / "a house in another place"
    shutil.copytree(ROOT / "examples" / name, job, ignore=shutil.ignore_patterns("packet"))
    first = lapwright(
        "packet", ROOT / "examples" / name, "--own-details", "--out", tmp_path / "one", PYTHONHASHSEED="1"
    )
    other = {"PYTHONHASHSEED": "2", "TZ": "Asia/Tokyo", "LC_ALL": "C", "OMP_NUM_THREADS": "1"}
    second = lapwright("packet", job.name, "--own-details", cwd=tmp_path, **other)
    assert first.returncode == second.returncode == (name in STOPPED), first.stderr + second.stderr
    one, two = digest(tmp_path / "one"), digest(job / "packet")
    assert {k for k in one.keys() | two.keys() if one.get(k) != two.get(k)} == set()
    schema = json.loads(resources.files("lapwright.plan").joinpath("schema.json").read_text("utf-8"))
    plan = json.loads((tmp_path / "one" / "plan.json").read_text("utf-8"))
    errors = jsonschema.Draft202012Validator(schema).iter_errors(plan)
    assert [f"{'/'.join(map(str, e.path))}: {e.message[:200]}" for e in errors] == []
