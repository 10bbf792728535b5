"""Areas and volume, worked by hand; what lacks an input says which."""

from __future__ import annotations

from pathlib import Path

import pytest

from lapwright.scope.read import job_of
from lapwright.survey.areas import face_areas, floor_area_m2, heated_volume_m3
from lapwright.survey.model import Survey
from lapwright.yamlfile import parse_yaml

HOUSE = """
bare_numbers: m
faces:
  - {id: south, width: 10, turn: 90, height: 5, openings: [{id: w1, left: 1, sill: 1, width: 2, height: 1.5}]}
  - {id: east, width: 6, turn: 90, height: 5, gable: {peak: 8}}
  - {id: north, width: 10, turn: 90, height: 5, openings: [{id: r, shape: round, center: [5, 2], diameter: 1}]}
  - {id: west, width: 6, turn: 90, height: {left: 5, right: 6}, base: [[0, -1], [2, 0]]}
storeys:
  - {id: first, floor: 0, ceiling: 2.4}
  - {id: attic, floor: 2.7, ceiling: 4, ceiling_kind: sloped, peak: 7}
"""


def survey(text: str) -> Survey:
    return job_of(parse_yaml(text), Path("house.yaml")).survey


def test_face_areas_are_those_worked_by_hand() -> None:
    areas = {a.face: a for a in face_areas(survey(HOUSE))}
    assert areas["south"].gross_m2 == pytest.approx(50) and areas["south"].net_m2 == pytest.approx(47)
    assert areas["east"].gross_m2 == pytest.approx(6 * 5 + 6 * 3 / 2)
    assert areas["west"].gross_m2 == pytest.approx(6 * 5.5 + 2 * 1)
    # The circle's chords lie within 1 mm of it: at most 1 mm times its circumference is missing.
    assert 0 <= 3.14159265 * 0.25 - areas["north"].openings_m2 < 0.001 * 3.15


def test_the_heated_volume_is_plan_times_height() -> None:
    house = survey(HOUSE)
    assert floor_area_m2(house).value == pytest.approx(120)
    assert heated_volume_m3(house).value == pytest.approx(60 * 2.4 + 60 * ((4 + 7) / 2 - 2.7))


def test_what_is_lacking_is_named() -> None:
    without = heated_volume_m3(survey(HOUSE.split("storeys:")[0]))
    assert without.value is None and "no floor and ceiling heights" in without.lacks[0]
    chain = HOUSE.replace("faces:", "loops: {main: {closed: no}}\nfaces:")
    assert heated_volume_m3(survey(chain)).lacks == (
        "story first: its loop main is an open chain", "story attic: its loop main is an open chain",
    )  # fmt: skip
    nothing = survey("place: Somewhere\nstoreys: [{id: first, floor: 0, ceiling: 2.4 m}]")
    assert heated_volume_m3(nothing).lacks == ("story first: its loop main is not taped",)
