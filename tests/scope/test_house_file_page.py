"""The page on the job file is kept honest: every name, every code, every example in it."""

from __future__ import annotations

import re
from pathlib import Path

from lapwright.catalog.load import load
from lapwright.scope.read import job_of
from lapwright.scope.reference import blocks, renewed
from lapwright.yamlfile import parse_yaml

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "house-file.md").read_text(encoding="utf-8")


def test_the_tables_are_those_of_the_schema() -> None:
    assert renewed(PAGE) == PAGE, "run: python -m lapwright.scope.reference docs/house-file.md"


def test_every_name_is_described() -> None:
    sections = {s.split("\n")[0]: s for s in PAGE.split("### ")[1:]}
    count = 0
    for path, schema in blocks():
        section = sections[path or "Top of the file"]
        for name, field in schema.model_fields.items():
            row = next(r for r in section.split("\n") if r.startswith(f"| `{field.alias or name}` |"))
            assert len(row.split("|")[3].strip()) > 3, f"{path}: {name} is not described"
            count += 1
    assert count > 120


def test_every_code_that_reading_can_say_is_listed() -> None:
    said = set()
    src = ROOT / "src/lapwright"
    for file in [src / "yamlfile.py", *(src / "survey").glob("*.py"), *(src / "scope").glob("*.py")]:
        text = file.read_text(encoding="utf-8")
        said |= set(re.findall(r'"((?:file|job|tape|survey)\.[a-z_0-9]+)"', text))
        said |= {f"job.{code}" for code in re.findall(r'refuse\(\s*"([a-z_]+)"', text)}
        if file.name == "words.py":
            said |= {f"job.{code}" for code in re.findall(r'return \(?\s*"([a-z_]+)",', text)}
    assert len(said) > 30
    listed = set(re.findall(r"`((?:file|job|tape|survey)\.[a-z_0-9]+)`", PAGE))
    assert said == listed


def test_every_example_is_a_job() -> None:
    examples = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
    assert len(examples) == 3
    for text in examples:
        job = job_of(parse_yaml(text), Path("house.yaml"), load()[0])
        assert all(f.level == "note" for f in job.findings)


def test_every_example_of_a_value_stands_in_the_file_that_holds_everything_or_reads_as_yaml() -> None:
    for path, schema in blocks():
        for name, field in schema.model_fields.items():
            for example in field.examples or []:
                if "..." not in str(example):
                    assert parse_yaml(f"{field.alias or name}: {example}").data, f"{path}: {name}"
