"""The walk round the house: corners seen from above, azimuths, neighbors, and walking the other way."""

from __future__ import annotations

import cmath
import math
import os
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.scope.model import Job
from lapwright.scope.read import job_of
from lapwright.survey.walk import corners
from lapwright.yamlfile import parse_yaml

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
many = settings(max_examples=80 * SOAK, deadline=None, derandomize=SOAK == 1)

ELL = [
    ("south", 9.6, 90),
    ("east", 4.2, 90),
    ("court", 3.6, -90),
    ("nook", 3.0, 90),
    ("north", 6.0, 90),
    ("west", 7.2, 90),
]


def job(faces: list[dict[str, Any]], **top: Any) -> Job:
    """Return the job of a file with these faces, heights filled in."""
    data = {"job": "x", **top, "faces": [{"height": "3 m", **f} for f in faces]}
    return job_of(parse_yaml(yaml.safe_dump(data, sort_keys=False)), Path("house.yaml"))


def ell(**top: Any) -> Job:
    return job([{"id": i, "width": f"{w} m", "turn": t} for i, w, t in ELL], **top)


@many
@given(
    st.lists(st.tuples(st.floats(0.1, 30), st.floats(-170, 170)), min_size=1, max_size=12),
    st.floats(-360, 360),
)
def test_corners_are_the_sums_of_complex_steps(walk: list[tuple[float, float]], first: float) -> None:
    spots = corners([w for w, _ in walk], [t for _, t in walk], first, (1.0, 2.0))
    at, heading = complex(1, 2), first
    for (x, y), (width, turn) in zip(spots[1:], walk, strict=True):
        at += cmath.rect(width, math.radians(heading))
        heading += turn
        assert (x, y) == pytest.approx((at.real, at.imag), abs=1e-9)


def test_a_ring_is_placed_counterclockwise_with_its_azimuths() -> None:
    survey = ell(first_face_azimuth=180).survey
    assert [(f.id, f.origin, f.azimuth_deg, f.left, f.right) for f in survey.faces] == [
        ("south", (0.0, 0.0, 0.0), 180.0, "west", "east"),
        ("east", (9.6, 0.0, 0.0), 90.0, "south", "court"),
        ("court", (9.6, 4.2, 0.0), 0.0, "east", "nook"),
        ("nook", pytest.approx((6.0, 4.2, 0.0)), 90.0, "court", "north"),
        ("north", pytest.approx((6.0, 7.2, 0.0)), 0.0, "nook", "west"),
        ("west", pytest.approx((0.0, 7.2, 0.0)), 270.0, "north", "south"),
    ]
    assert survey.loops[0].closed and survey.loops[0].faces == tuple(i for i, _, _ in ELL)


def test_without_a_bearing_no_face_has_an_azimuth() -> None:
    assert {f.azimuth_deg for f in ell().survey.faces} == {None}


def test_walking_left_gives_the_same_house() -> None:
    """List the same faces the other way round: each turn now stands at the face's left end."""
    right = ell(first_face_azimuth=180).survey
    backwards = [ELL[0], *reversed(ELL[1:])]
    # Walking left, the turn at the far end of a face is the one at its left end: its left neighbor's.
    left_turn = {ELL[k][0]: ELL[k - 1][2] for k in range(len(ELL))}
    faces = [{"id": i, "width": f"{w} m", "turn": left_turn[i]} for i, w, _ in backwards]
    left = job(faces, first_face_azimuth=180, walk="left").survey
    assert [(f.id, f.azimuth_deg, f.turn_deg, f.left, f.right) for f in left.faces] == [
        (f.id, f.azimuth_deg, f.turn_deg, f.left, f.right) for f in right.faces
    ]
    for one, other in zip(left.faces, right.faces, strict=True):
        assert one.origin == pytest.approx(other.origin, abs=1e-9)


def test_an_open_chain_walked_left_is_turned_round() -> None:
    chain = [
        {"id": "a", "width": "3 m", "turn": 90},
        {"id": "b", "width": "2 m", "turn": -45},
        {"id": "c", "width": "1 m"},
    ]
    survey = job(chain, walk="left", loops={"main": {"closed": False}}, first_face_azimuth=180).survey
    assert [(f.id, f.left, f.right, f.turn_deg) for f in survey.faces] == [
        ("c", None, "b", -45.0), ("b", "c", "a", 90.0), ("a", "b", None, 0.0),
    ]  # fmt: skip
    # a looks south; b, round an outside corner to the left of it, looks west; c looks 45 degrees off.
    assert [f.azimuth_deg for f in survey.faces] == [225.0, 270.0, 180.0]
    assert survey.faces[0].origin[:2] == (0.0, 0.0)


def test_a_second_loop_is_turned_to_its_own_bearing() -> None:
    faces = [{"id": i, "width": f"{w} m", "turn": t} for i, w, t in ELL]
    bay = [{"id": "bay1", "loop": "bay", "width": "1 m", "turn": 90}, {"id": "bay2", "loop": "bay", "width": "2 m"}]
    loops = {"main": {}, "bay": {"closed": False, "base": "2 m", "origin": ["6 m", "1 m"], "first_face_azimuth": 90}}
    survey = job(faces + bay, loops=loops, first_face_azimuth=180).survey
    one, two = survey.face("bay1"), survey.face("bay2")
    assert (one.azimuth_deg, two.azimuth_deg) == (90.0, 0.0)
    assert one.origin == (6.0, 1.0, 0.0)
    assert two.origin == pytest.approx((6.0, 2.0, 0.0)), "looking east, walking right goes north"
    assert one.outline.bounds[1] == 2.0, "the bottom edge is the loop's base"


@many
@given(st.lists(st.floats(-0.002, 0.002), min_size=12, max_size=12))
def test_within_tape_error_the_ring_closes_and_widths_stay_as_taped(noise: list[float]) -> None:
    faces = [
        {"id": i, "width": f"{w + dw:.6f} m", "turn": t + 10 * dt}
        for (i, w, t), dw, dt in zip(ELL, noise[:6], noise[6:], strict=True)
    ]
    result = job(faces)
    survey = result.survey
    assert [f.code for f in result.findings] == ["tape.closes"]
    spots = [complex(*f.origin[:2]) for f in survey.faces]
    for k, face in enumerate(survey.faces):
        assert face.width_m == pytest.approx(ELL[k][1] + noise[k], abs=1e-6)
        assert abs(spots[(k + 1) % 6] - spots[k]) == pytest.approx(face.width_m, abs=0.01)


def test_a_blunder_is_told_with_its_line_and_the_walls_to_tape_again() -> None:
    faces = [{"id": i, "width": f"{w + (0.3 if i == 'south' else 0)} m", "turn": t} for i, w, t in ELL]
    (finding,) = job(faces, units="metric").findings
    assert (finding.code, finding.level, finding.where.surface) == ("tape.open", "stop", "south")
    assert finding.where.line == 6
    assert "misses its start by 300 mm in 33900 mm" in finding.what
    assert "south is 9600 mm, not 9900 mm" in finding.why
    assert "Tape again: south, court, north." in finding.fix and "One more measurement tells" in finding.fix


def test_turns_with_the_wrong_sign_are_told_as_such() -> None:
    faces = [{"id": i, "width": f"{w} m", "turn": -t} for i, w, t in ELL]
    (finding,) = job(faces).findings
    assert finding.code == "tape.open" and "walk: left" in finding.fix


def test_a_ring_that_crosses_itself_is_a_stop() -> None:
    """A notch cut deeper than the house is wide: it closes, but runs out through the far wall."""
    widths, turns = [10, 4, 4, 6, 2, 6, 4, 4], [90, 90, 90, -90, -90, 90, 90, 90]
    faces = [{"id": f"f{k}", "width": f"{w} m", "turn": t} for k, (w, t) in enumerate(zip(widths, turns, strict=True))]
    (finding,) = job(faces).findings
    assert (finding.code, finding.level) == ("tape.crosses", "stop")


def test_an_open_chain_says_that_it_has_no_test() -> None:
    (finding,) = job([{"id": "a", "width": "3 m"}]).findings
    assert (finding.code, finding.level) == ("tape.chain", "note")
