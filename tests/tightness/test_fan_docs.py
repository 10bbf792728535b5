"""The page on fan tests: its file reads, its code runs, its tables name what the program knows and nothing else."""

from __future__ import annotations

import re
from pathlib import Path

from lapwright.air.limits import LIMITS
from lapwright.tightness.readings import COLUMNS, NUMBERS, WORDS, parse_readings

PAGE = (Path(__file__).parent.parent.parent / "docs" / "air.md").read_text(encoding="utf-8")


def block(kind: str) -> str:
    """Return the first code block of a kind."""
    found = re.search(rf"```{kind}\n(.*?)```", PAGE, re.DOTALL)
    assert found
    return found.group(1)


def test_the_file_on_the_page_reads() -> None:
    read = parse_readings(block(""))
    assert [(t.name, t.mode, len(t.rows)) for t in read.tests] == [("before", "depressurize", 3)]
    assert read.findings == ()


def test_the_code_on_the_page_runs() -> None:
    names: dict[str, object] = {}
    exec(compile(block("python"), "air.md", "exec"), names)
    law = names["law"]
    assert round(law.n, 6) == 0.643449  # type: ignore[attr-defined]


def test_the_tables_name_every_column_and_key() -> None:
    first = [line.split("|")[1] for line in PAGE.splitlines() if line.startswith("| `")]
    named = {name for cell in first for name in re.findall(r"`([^`]+)`", cell)}
    assert named == {*COLUMNS, *NUMBERS, *WORDS}


def test_every_limit_stands_on_the_page_with_its_figures() -> None:
    table = PAGE.partition("## When a test is doubtful")[2].partition("##")[0]
    for limit in LIMITS.values():
        clause = re.search(r"ISO 9972:2015 ([0-9.]+)", limit.clause)
        for bound in (limit.low, limit.high):
            shown = f"{bound * 100:g} %" if limit.code == "zero_part" and bound else f"{bound:g}" if bound else ""
            assert shown in table
        assert clause is None or f"ISO 9972 {clause.group(1)}" in table
