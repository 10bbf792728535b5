"""Way out of a bedroom: the figures of IRC R310 (5.7 sq ft, 5.0 at grade, 20 in, 24 in, sill 44 in), from memory."""

from __future__ import annotations

import pytest

from lapwright.details.egress import WayOut

IN = 0.0254


@pytest.mark.parametrize(
    ("wide", "high", "sill", "at_grade", "short"),
    [
        (34.2, 24, 44, False, 0),  # 34.2 x 24 in = 5.70 sq ft, all at the limit
        (34.1, 24, 44, False, 1),  # a hair less area
        (20, 41.04, 44, False, 0),  # 20 in wide takes 41.04 in of height for 5.7 sq ft
        (30, 24, 44, True, 0),  # 5.0 sq ft is enough at grade
        (30, 24, 44, False, 1),
        (19.9, 60, 30, False, 1),  # too narrow
        (60, 23.9, 30, False, 1),  # too low
        (36, 36, 44.5, False, 1),  # sill too high
        (36, 36, None, False, 0),  # sill not known: not judged
        (19, 23, 50, False, 4),
    ],
)
def test_the_least_way_out(wide: float, high: float, sill: float | None, at_grade: bool, short: int) -> None:
    way = WayOut(wide * IN, high * IN, None if sill is None else sill * IN, "")
    assert len(way.lacks(at_grade)) == short
