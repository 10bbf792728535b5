"""Long strips cut into lengths: they go on from the start to the end, upward where they rise, each over the last."""

from __future__ import annotations

import pytest

from lapwright.catalog.load import load
from lapwright.details.base import RunClaim
from lapwright.layout.build import lay
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

CATALOG = load()[0]
LINES = {
    "level": ((0.5, 3.0), (14.5, 3.0)),
    "level, leftward": ((14.5, 3.0), (0.5, 3.0)),
    "up": ((3.0, 0.5), (3.0, 12.0)),
    "down": ((3.0, 12.0), (3.0, 0.5)),
    "a rake falling": ((2.0, 12.0), (12.0, 4.0)),
}


@pytest.mark.parametrize("line", LINES)
def test_lengths_of_a_run_go_on_in_working_order_and_shed(line: str, tmp_path) -> None:
    job = job_of(parse_yaml("faces: [{id: a, width: 15 m, height: 13 m}]\n"), tmp_path / "house.yaml", CATALOG)
    start, end = LINES[line]
    run = RunClaim(
        "a/run", "a/base", "base-strip", "strip", "flashing-tape-9", "a", start, end, 0.0, 0.2, 10, "a/step",
        max_m=1.1, lap_m=0.1,
    )  # fmt: skip
    laid = lay([run], job.survey, CATALOG)
    pieces = sorted(laid.pieces, key=lambda p: p.installed)
    assert len(pieces) > 10, "enough that x1000 stands before x294 by their letters"
    along = [p.facts["along_m"] for p in pieces]
    assert along == sorted(along, reverse=end[1] < start[1])
    heights = [p.polygon.centroid.y for p in pieces]
    assert heights == sorted(heights) or max(heights) - min(heights) < 1e-9
    when = {p.id: p.installed for p in pieces}
    assert len(laid.laps) == len(pieces) - 1
    for lap in laid.laps:
        assert when[lap.over] == when[lap.under] + 1 and lap.got_m >= 0.1 - 1e-4
