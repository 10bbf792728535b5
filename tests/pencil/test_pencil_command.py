"""`lapwright continuity JOB` tells the pencil test in text and as JSON, by the published schema."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path

import jsonschema
from typer.testing import CliRunner

from lapwright.cli.app import app

TWO = Path(__file__).parents[2] / "examples" / "two-mistakes"
SCHEMA = json.loads(resources.files("lapwright.plan").joinpath("schema.json").read_text("utf-8"))


def test_the_table_names_each_gap_with_its_length_and_what_closes_it() -> None:
    said = CliRunner().invoke(app, ["continuity", str(TWO)]).output
    lines = said[said.index("Pencil test") :].splitlines()
    assert [line.split()[0] for line in lines[3:7]] == ["water", "air", "vapor", "heat"]
    assert "has gaps" in lines[3] and "3 ft" in lines[3]
    assert "east/w4/head (water, air; 3 ft): A head strip" in said
    assert "Cannot be traced: what is overhead of addition, dormer" in said


def test_the_json_holds_the_trace_by_the_schema_and_its_sums_agree() -> None:
    result = CliRunner().invoke(app, ["continuity", str(TWO), "--json"])
    doc = json.loads(result.stdout)
    jsonschema.validate(doc["pencil"], {"$ref": "#/$defs/pencil", "$defs": SCHEMA["$defs"]})
    for row in doc["pencil"]["layers"]:
        for state in ("tied", "gap", "not_seen", "not_given", "not_asked"):
            total = sum(j["length_m"] for j in doc["pencil"]["joints"] if j[row["layer"]] == state)
            assert abs(total - row[f"{state}_m"]) < 0.02
    known = {t["id"] for t in doc["ties"]}
    assert all(t in known for j in doc["pencil"]["joints"] for t in j["ties"])
    assert {t for j in doc["pencil"]["joints"] for t in j["ties"]} == known
    assert any(f["code"] == "layer.gap" and f["level"] == "warn" for f in doc["findings"])
