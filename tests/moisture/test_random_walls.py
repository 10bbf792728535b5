"""Walls nobody would build, in weather that changes by the hour: soaked, frozen, shut in. None may fail, none may lose water."""

from __future__ import annotations

import os

import numpy as np
import pytest

from lapwright.moisture import Climate, Drip, Exchange, Layer, Membrane, Wall, grid_error, simulate
from lapwright.moisture.library import materials, membranes
from lapwright.moisture.vapor import saturation_over_water_Pa

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
BATCH = 12  # walls at once
HOURS = 24


def _wall(rng: np.random.Generator) -> Wall:
    parts: list[Layer | Membrane] = []
    for _ in range(int(rng.integers(1, 6))):
        if rng.random() < 0.35:
            parts.append(list(membranes().values())[rng.integers(len(membranes()))].membrane)
        stuff = list(materials().values())[rng.integers(len(materials()))].material
        phi = float(rng.choice([0.3, 0.6, 0.8, 0.95, 0.9999, 1.0]))
        parts.append(Layer(stuff, float(np.exp(rng.uniform(np.log(0.003), np.log(0.3)))), phi, float(rng.uniform(-25, 40))))
    if rng.random() < 0.3:
        parts.append(list(membranes().values())[rng.integers(len(membranes()))].membrane)
    return Wall(tuple(parts))


def _climate(rng: np.random.Generator, layers: int) -> Climate:
    k = np.arange(HOURS + 1)
    t = rng.uniform(-30, 38) + rng.uniform(0, 15) * np.sin(2 * np.pi * k / 24) + rng.normal(0, 1.5, HOURS + 1)
    p = rng.uniform(0.2, 1.0) * saturation_over_water_Pa(t)
    rain = np.where(rng.random(HOURS + 1) < 0.3, rng.exponential(3.0, HOURS + 1), 0.0) / 3600
    sun = 700 * np.maximum(np.sin(2 * np.pi * k / 24), 0) * rng.random() - 60
    at = int(rng.integers(layers))
    t_in = float(rng.uniform(5, 30))
    return Climate(
        t, p, t_in, float(rng.uniform(0.2, 0.95) * saturation_over_water_Pa(t_in)), sun, rain * float(rng.random() < 0.7),
        10 + 10 * rng.random(HOURS + 1), 5e-8, 7.7, 2.5e-8,
        (Exchange(at, "inner", "in", np.full(HOURS + 1, float(10 ** rng.uniform(-7, -3)))),),
        (Drip(at, "outer", rain * float(rng.random() < 0.5)),),
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(SOAK))
def test_no_wall_fails_and_none_loses_water(seed: int) -> None:
    rng = np.random.default_rng(seed)
    walls = [_wall(rng) for _ in range(BATCH)]
    climates = [_climate(rng, len(w.layers)) for w in walls]
    run = simulate(walls, climates, record_every=HOURS)
    assert run.converged, [(walls[j], climates[j]) for j in np.flatnonzero(np.isfinite(run.failed_h))][:1]
    assert run.balance.max() < 1e-9  # asked 5e-4 of what crossed
    assert np.all(np.isfinite(run.profile_w)) and run.profile_w.min() > -0.5
    assert run.profile_t_C.min() > -75 and run.profile_t_C.max() < 110


def test_a_wall_alone_and_among_others_comes_out_the_same() -> None:
    board, wool = materials()["osb-panel"].material, materials()["fiberglass-batt"].material
    walls = [Wall((Layer(board, 0.011, 0.6 + 0.003 * k), Layer(wool, 0.14))) for k in range(90)]
    t = np.linspace(-8.0, 12.0, 13)
    climate = Climate(t, 0.9 * saturation_over_water_Pa(t), 21.0, 1100.0, rain=np.where(np.arange(13) % 3 == 1, 2e-4, 0.0))
    many = simulate(walls, climate)  # wide batch: elimination over arrays; alone: LAPACK
    for j in (0, 45, 89):
        alone = simulate(walls[j], climate)
        assert many.water[:, :, j] == pytest.approx(alone.water[:, :, 0], rel=1e-4, abs=1e-4)


def test_the_grid_error_is_small_in_a_plain_wall_and_told() -> None:
    lib = materials()
    wall = Wall((Layer(lib["osb-panel"].material, 0.011), Layer(lib["fiberglass-batt"].material, 0.14), Layer(lib["gypsum-board"].material, 0.0127)))
    k = np.arange(121)
    t = -5 + 6 * np.sin(2 * np.pi * k / 24)
    error = grid_error(wall, Climate(t, 0.8 * saturation_over_water_Pa(t), 21.0, 900.0), hours=120)
    assert error.cells[1] > 1.5 * error.cells[0]
    assert error.water.max() < 1.0 and error.t_K < 1.0 and error.phi < 0.05
