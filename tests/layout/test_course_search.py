"""Course lines against an exhaustive search: on small faces drawn within 2 % of the least there is."""

from __future__ import annotations

import itertools

import pytest

from course_search import GRID_M, SmallFace, least_drawn, small_face
from lapwright.details.base import FieldClaim
from lapwright.layout.develop import Chain
from lapwright.layout.lines import course_lines


def lines_of(face: SmallFace) -> list[tuple[float, float]]:
    """Return the bands that layout chooses for a face that has no bands to keep clear."""
    claim = FieldClaim("a", "a", "course", "barrier", "x", "a", face.wall, face.lap_m, 0.15, "a/course")
    x0, _, x1, _ = face.wall.bounds
    chain = Chain(
        "a", "barrier", "x", "main", ("a",), (0.0,), (x1 - x0,), (0.0,), x1 - x0, False, (claim,), face.wall,
        face.wall.difference(face.bare), face.wall.difference(face.wall), (), (),
    )  # fmt: skip
    return course_lines(chain, face.roll_m, GRID_M)[0]


@pytest.mark.parametrize("seed", range(20))
def test_drawn_length_is_within_2_percent_of_every_choice_of_lines(seed: int) -> None:
    face = small_face(seed)
    bands = lines_of(face)
    assert all(b[0] == pytest.approx(a[1] - face.lap_m, abs=1e-6) for a, b in itertools.pairwise(bands))
    assert all(b - a <= face.roll_m + 1e-6 for a, b in bands)
    ours, least = sum(face.drawn(a, b) for a, b in bands), least_drawn(face)
    assert least - 1e-6 <= ours <= 1.02 * least
