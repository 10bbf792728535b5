"""What must stay clear of the new face, against published figures: IRC Table R302.1(1), R311.3.2, R311.7.1, NEC 110.26(A)(1).

The table's figures, as a city adopted it: walls under 5 ft from the line want an hour; openings none under 3 ft, a quarter
of the wall at most from 3 ft, no limit from 5 ft. Landings 36 in deep, stairs 36 in wide, 3 ft before a meter.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hazard_jobs import house
from shapely.geometry import box

from lapwright.details import egress
from lapwright.findings import Finding
from lapwright.hazards import facts, findings
from lapwright.hazards.clear import LEAST, openings_near_line
from lapwright.survey.model import Nearby, Opening

FT, IN = 0.3048, 0.0254
LAYERS = [
    {"layer": "cladding", "product": "board-siding"}, {"layer": "furring", "product": "furring-2x3"},
    {"layer": "insulation", "product": "xps-iv", "thickness": '2"'}, {"layer": "barrier", "product": "self-adhered-sheet"},
    {"layer": "sheathing", "material": "sheathing-board", "thickness": '3/4"', "existing": "yes"},
]  # 4-1/4 in outside of the boards  # fmt: skip


with (Path(__file__).parents[1] / "outside" / "data" / "clearances.csv").open(encoding="utf-8") as lines:
    PUBLISHED = {r["what"]: float(r["figure"]) for r in csv.DictReader(line for line in lines if not line.startswith("#"))}


def test_the_figures_are_those_of_the_published_rules() -> None:
    assert {k: round((LEAST[k].least_m or 0) / IN, 6) for k in ("meter", "stair", "landing")} == {k: PUBLISHED[k] for k in ("meter", "stair", "landing")}
    assert pytest.approx(PUBLISHED["wall_hour_below"]) == facts.LOT_LINE_M / IN
    ours = {
        "way_out_area": egress.LEAST_AREA_M2 / FT**2, "way_out_area_at_grade": egress.LEAST_AREA_AT_GRADE_M2 / FT**2,
        "way_out_width": egress.LEAST_WIDTH_M / IN, "way_out_height": egress.LEAST_HEIGHT_M / IN, "way_out_sill": egress.HIGHEST_SILL_M / IN,
    }  # fmt: skip
    assert ours == pytest.approx({k: PUBLISHED[k] for k in ours})


def said(kind: str, away: float, least: float | None = None) -> list[Finding]:
    job = house(layers=LAYERS).job
    face = replace(job.survey.faces[0], nearby=(Nearby("n", job.survey.faces[0].id, kind, away, least),))
    survey = replace(job.survey, faces=(face, *job.survey.faces[1:]))
    return [f for f in findings(survey, job.scope) if f.code.startswith("clearance.") and f.where.thing == "n"]


@pytest.mark.parametrize(
    ("kind", "old", "least", "codes"),
    [
        ("landing", 40.25, None, []),  # 36 in are left: just enough
        ("landing", 40.0, None, ["clearance.small"]),
        ("stair", 40.25, None, []),
        ("stair", 39.0, None, ["clearance.small"]),
        ("meter", 40.0, None, ["clearance.small"]),
        ("overhang", 6.25, None, []),
        ("overhang", 6.0, None, ["clearance.small"]),
        ("equipment", 20.0, None, ["clearance.ask"]),
        ("equipment", 16.25, 12.0, []),
        ("equipment", 16.0, 12.0, ["clearance.small"]),
        ("fixture", 30.0, None, ["clearance.ask"]),
        ("drive", 110.0, None, ["clearance.ask"]),
    ],
)
def test_clearances_count_from_the_new_face(kind: str, old: float, least: float | None, codes: list[str]) -> None:
    found = said(kind, old * IN, None if least is None else least * IN)
    assert [f.code for f in found] == codes
    for f in found:
        assert "counted from the new face" in f.what and "Local code" in f.why and f.fix


def test_what_was_too_little_before_is_told_apart() -> None:
    (new,), (old,) = said("stair", 38 * IN), said("stair", 30 * IN)
    assert "new skin is what brings it under" in new.why and "too little before" in old.why


def test_a_face_that_moves_out_asks_what_stands_before_it() -> None:
    def asked(layers: Any) -> list[str]:
        job = house(layers=layers).job
        return [f.code for f in findings(job.survey, job.scope) if f.code == "clearance.not_given"]

    assert asked(LAYERS) == ["clearance.not_given"]
    assert asked([LAYERS[0], *LAYERS[3:]]) == []  # 3/4 in of siding


NONE, MOST = PUBLISHED["openings_none_below"] * IN, PUBLISHED["openings_most"] / 100


@pytest.mark.parametrize(
    ("left", "share", "words"),
    [
        (NONE - 0.003, 0.1, "none are allowed"),
        (NONE, MOST, ""),
        (NONE, MOST + 0.01, "more than the quarter"),
        (PUBLISHED["wall_hour_below"] * IN - 0.003, MOST + 0.01, "more than the quarter"),
        (PUBLISHED["wall_hour_below"] * IN, 0.9, ""),
    ],
)
def test_openings_near_the_lot_line(left: float, share: float, words: str) -> None:
    face = house().job.survey.faces[0]
    x0, y0, x1, y1 = face.outline.bounds
    hole = Opening("w", face.id, "window", box(x0, y0, x0 + (x1 - x0) * share, y1), "rectangle", "kept")
    text = openings_near_line(replace(face, openings=(hole,)), left)
    assert (words in text) if words else text == ""
