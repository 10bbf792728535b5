"""The page of furring screws: every step of the sum, in the job's units; both answers where they differ."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from lapwright.packet.fastener_pages import fastener_pages, sum_value
from lapwright.packet.view import View
from lapwright.plan.document import document
from lapwright.plan.load import open_plan

JOB = """
job: Screws
units: {units}
faces:
  - {{id: a, width: 12', height: 9', decision: cover, assembly: skin}}
assemblies:
  skin:
    - {{layer: cladding, product: board-siding}}
    - {{layer: furring, product: furring-2x3}}
    - {{layer: insulation, product: xps-iv, thickness: {foam}"}}
    - {{layer: barrier, product: self-adhered-sheet}}
    - {{layer: sheathing, material: sheathing-board, thickness: 3/4", existing: yes}}
"""


def page(tmp_path: Path, foam: int = 2, units: str = "imperial") -> tuple[dict[str, Any], dict[str, Any]]:
    (tmp_path / "house.yaml").write_text(JOB.format(foam=foam, units=units), encoding="utf-8")
    doc = document(open_plan(tmp_path))
    (said,) = fastener_pages(View(doc))
    (row,) = doc["fasteners"]
    return said, row


def test_every_step_of_the_sum_is_on_the_page_and_one_case_governs(tmp_path: Path) -> None:
    said, row = page(tmp_path)
    assert [s[0] for s in said["steps"]] == [s["words"] for s in row["steps"]] and len(said["steps"]) > 20
    assert all(value and source for _, value, source in said["steps"])
    assert sum(c[4] for c in said["cases"]) == 1 and not said["differ"] and said["holds"]
    assert said["rule"].startswith(f"{row['count']} pieces") and "in the stud" in said["rule"]


def test_both_answers_stand_there_when_they_differ(tmp_path: Path) -> None:
    said, row = page(tmp_path, foam=5)
    assert said["holds"] and said["differ"]
    assert "used" in said["ours"] and row["table"]["words"] in said["code"]


def test_nothing_that_fits_says_so(tmp_path: Path) -> None:
    said, _ = page(tmp_path, foam=12)
    assert said["title"] == "Design required" and said["tried"] and said["cases"][0][0].startswith("siding nail")


@pytest.mark.parametrize(
    ("value", "unit", "imperial", "metric"),
    [
        (4.4482216152605, "N", "1 lb", "4.448 N"),
        (47.88025898, "Pa", "1 psf", "47.88 Pa"),
        (6894757.293, "Pa", "1,000 psi", "6.89 MPa"),
        (0.00386, "m", "0.152 in", "3.86 mm"),
        (0.42, "", "0.42", "0.42"),
    ],
)
def test_figures_are_said_in_the_units_of_the_job(value: float, unit: str, imperial: str, metric: str) -> None:
    views = [View({"job": {"units": u}, "surfaces": [], "pieces": [], "cuts": [], "stock": [], "laps": []}) for u in ("imperial", "metric")]
    assert [sum_value(v, value, unit) for v in views] == [imperial, metric]


def test_a_job_without_foam_has_no_page() -> None:
    assert fastener_pages(View({"job": {}, "surfaces": [], "pieces": [], "cuts": [], "stock": [], "laps": []})) == []
