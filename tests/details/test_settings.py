"""`settings:` of the job file: lengths by the job's own rule for numbers without a unit, and what is refused."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

import pytest

from lapwright.catalog.load import load
from lapwright.details.base import Detail
from lapwright.findings import BadJob
from lapwright.plan.graph import Plan
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

CATALOG = load()[0]
FACE = "faces: [{id: a, width: 10 ft, height: 8 ft}]\n"


class Shelf(Detail):
    """A detail of the job's own with a length, a length of no default size, and a count."""

    name = "shelf"
    settings: ClassVar = {"out": 0.15, "from": -0.05, "screws": 3}
    sources: ClassVar = dict.fromkeys(settings, "this crew's practice")
    plain = ("screws",)


def plan(text: str) -> Plan:
    return Plan(job_of(parse_yaml(FACE + text), Path("house.yaml"), CATALOG), CATALOG, own=[Shelf()])


@pytest.mark.parametrize(
    ("bare", "written", "metres"),
    [
        ("mm", "152", 0.152), ("mm", "'152'", 0.152), ("in", "4", 0.1016), ("in", "4.5", 0.1143), ("ft", "0.5", 0.1524),
        ("mm", '4"', 0.1016), ("in", "100 mm", 0.1), ("mm", "0", 0.0),
    ],
)  # fmt: skip
def test_a_number_without_a_unit_goes_by_the_jobs_rule(bare: str, written: str, metres: float) -> None:
    got = plan(f"bare_numbers: {bare}\nsettings: {{courses-self-adhered: {{course-lap: {written}}}}}\n")
    assert got.job.scope.settings == {"courses-self-adhered": {"course_lap": pytest.approx(metres)}}


def test_a_count_of_an_own_detail_stays_a_count() -> None:
    got = plan("bare_numbers: mm\nsettings: {shelf: {screws: 5, out: 200, from: -20}}\n")
    assert got.job.scope.settings["shelf"] == {"screws": 5.0, "out": pytest.approx(0.2), "from": pytest.approx(-0.02)}
    assert plan("settings: {shelf: {screws: 5}}\n").job.scope.settings["shelf"] == {"screws": 5.0}


BAD = {
    "settings:\n  courses-self-adhered:\n    course_lap: 152": ("job.length", 4, "no unit"),
    "bare_numbers: ft\nsettings:\n  courses-self-adhered:\n    course_lap: 152": ("job.size", 5, "cannot be 152'"),
    "settings:\n  courses-self-adhered:\n    course_lap: 152 m": ("job.size", 4, "cannot be"),
    "settings:\n  courses-self-adhered:\n    course_lap: -4\"": ("job.size", 4, "cannot be"),
    "settings:\n  courses-self-adhered:\n    course_lap: wide": ("job.length", 4, "wide is no length"),
    "settings:\n  courses-self-adhered:\n    course_lap: 4 C": ("job.length", 4, "no length"),
    "settings:\n  courses-self-adhered:\n    course_lp: 4\"": ("job.unknown", 4, "no figure `course_lp`"),
    "settings:\n  courses-self-adherd:\n    course_lap: 4\"": ("job.unknown", 4, "no detail courses-self-adherd"),
    "settings:\n  shelf:\n    screws: 4\"": ("job.number", 4, "plain number"),
    "settings:\n  shelf:\n    screws: .nan": ("job.number", 4, "plain number"),
    "settings:\n  shelf:\n    from: 50'": ("job.size", 4, "cannot be"),
}  # fmt: skip


@pytest.mark.parametrize("text", BAD)
def test_what_cannot_be_is_told_at_its_line(text: str) -> None:
    code, line, says = BAD[text]
    with pytest.raises(BadJob) as caught:
        plan(text + "\n")
    (finding,) = caught.value.findings
    assert (finding.code, finding.where.file, finding.where.line) == (code, "house.yaml", line), finding
    assert says in finding.what and finding.fix


def test_everything_wrong_is_told_at_once() -> None:
    with pytest.raises(BadJob) as caught:
        plan("settings:\n  base: {lap: 99 m, lp: 1\"}\n  shelf: {out: 3}\n")
    assert sorted((f.where.line or 0, f.code) for f in caught.value.findings) == [
        (3, "job.size"), (3, "job.unknown"), (4, "job.length"),
    ]  # fmt: skip
