"""The case that builders know: foam outside keeps sheathing warm and dry in winter, where no rain gets in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from test_report import WALL, _job

from lapwright.assemblies.build import build
from lapwright.assemblies.report import QUICK
from lapwright.assemblies.weather import Member, bearing
from lapwright.moisture import simulate
from lapwright.weather import draw, find

FOAM = {'0"': WALL.replace('    - {layer: insulation, product: xps-iv, thickness: 2"}\n', ""), '1"': WALL.replace('thickness: 2"', 'thickness: 1"'), '2"': WALL}  # fmt: skip
HOURS = 24 * 135  # 1 October to mid February


def test_two_inches_of_foam_keep_the_sheathing_drier_in_a_zone_6_winter(tmp_path: Path) -> None:
    n = find("Burlington, VT")
    assert n is not None
    year = draw(n, 1, 4)
    north = Member(0.0, 1.0, 0.0, 0.0, 1.0, 1.0, 0, False)  # no rain fault; rooms by EN 15026 Annex C
    walls, climates = [], []
    for layers in FOAM.values():
        job, catalog = _job(tmp_path, f"  w:{layers}")
        made = build(job.scope.assemblies["w"], catalog)
        assert made is not None
        walls.append(made.wall)
        climates.append(bearing(made, year, north))
    run = simulate(walls, climates, hours=HOURS, pace=QUICK, record_every=6)
    density = 500.0  # plywood of the library
    peak = []
    for j, wall in enumerate(walls):
        k = next(i for i, x in enumerate(wall.layers) if x.material.name == "plywood-panel")
        peak.append(100 * float(np.max(run.water[k, -4 * 40 :, j])) / density)
    assert run.converged
    assert peak[0] > peak[2] + 2, peak  # thin foam is in between or worse than none: it warms little and shuts much
