"""The solver against EN 15026 Annex A, HAMSTAD benchmark 2, and exact solutions."""

from __future__ import annotations

import numpy as np
import pytest
from published import rows
from scipy.special import erfc

from lapwright.moisture import Climate, Layer, Material, Membrane, Pace, Wall, simulate
from lapwright.moisture.vapor import R_VAPOR, SUCTION_REF_PA, saturation_over_water_Pa, saturation_Pa


def _annex_a() -> Material:
    """Return the material of EN 15026:2007 Annex A."""

    def water(s: np.ndarray) -> np.ndarray:
        return 146 / (1 + (8e-8 * s) ** 1.6) ** 0.375

    def conducts(s: np.ndarray) -> np.ndarray:
        d = water(s) - 73
        return np.exp(-39.2619 + 0.0704 * d - 1.742e-4 * d**2 - 2.7953e-6 * d**3 - 1.1566e-7 * d**4 + 2.5969e-9 * d**5)

    def permeability(phi: np.ndarray) -> np.ndarray:
        x = 1 - water(-SUCTION_REF_PA * np.log(np.clip(phi, 1e-300, 1 - 1e-15))) / 146
        return np.maximum(26.1e-6 / (200 * R_VAPOR * 293.15) * x / (0.503 * x * x + 0.497), 1e-20)

    return Material(
        "annex A", 1.0, 1.0, 1.5, water, permeability, conductivity_per_water=0.0158, conducts=conducts, volumetric_heat=1.824e6
    )


@pytest.mark.parametrize("days", [7, 30])
def test_the_benchmark_of_en_15026_is_met_within_its_band(days: int) -> None:
    n = 24 * days
    still = np.full(n + 1, 1.0)
    climate = Climate(
        30 * still, 0.95 * float(saturation_over_water_Pa(30.0)) * still, 20.0, 1168.0,
        h_out_W_m2K=1e8, b_out=1.0, h_in_W_m2K=1e-3, b_in=0.0,
    )  # fmt: skip
    run = simulate(Wall((Layer(_annex_a(), 20.0, 0.5, 20.0),)), climate, level=10, pace=Pace(exponent=-1.0), record_every=24)
    ref = [r for r in rows("en15026_benchmark.csv") if r["day"] == str(days) and float(r["x_m"]) > 0]
    x = np.array([float(r["x_m"]) for r in ref])
    t = np.interp(x, run.x_m[:, 0], run.profile_t_C[:, 0])
    w = np.interp(x, run.x_m[:, 0], run.profile_w[:, 0])
    assert np.abs(t - [float(r["T_bvp_C"]) for r in ref]).max() < 0.02  # the standard's band is 2.5 %: 0.25 K
    assert np.abs(w - [float(r["w_bvp_kg_m3"]) for r in ref]).max() < 0.15  # and about 2 kg/m3
    assert run.crossed_kg_m2[0] == pytest.approx(5.790e-4 * np.sqrt(n * 3600.0), rel=1e-3)


def test_isothermal_drying_follows_hamstad_benchmark_2() -> None:
    def water(s: np.ndarray) -> np.ndarray:
        return 116 / (1 + s / SUCTION_REF_PA / 0.118) ** 0.869

    stuff = Material(
        "bm2", 525, 800, 1e3, water, lambda phi: np.full_like(phi, 1e-16), liquid=lambda w: np.full_like(w, 6e-10)
    )
    ps = float(saturation_over_water_Pa(20.0))
    wall = Wall((Layer(stuff, 0.2, 0.95, 20.0),))
    ref = rows("hamstad_bm2_series.csv")
    x = np.array([float(r["x_m"]) for r in ref])
    for hours in (100, 300, 1000):
        still = np.full(hours + 1, 1.0)
        # Isothermal: heat of evaporation is carried away at once (conductivity 1e3).
        climate = Climate(20 * still, 0.45 * ps * still, 20.0, 0.65 * ps, 0.0, 0.0, 1e6, 1e-3, 1e6, 1e-3)
        run = simulate(wall, climate, level=6, record_every=hours)
        inside = (x > 0.002) & (x < 0.198)
        w = np.interp(x, run.x_m[:, 0], run.profile_w[:, 0])
        expected = np.array([float(r[f"w_{hours}h"]) for r in ref])
        assert np.abs(w - expected)[inside].max() < 0.1  # the benchmark's own tolerance is 0.5


def test_a_step_of_temperature_runs_in_as_erfc() -> None:
    dry = Material.of("dry", density=1000, heat_capacity=1000, conductivity=1.0, sorption=[(1.0, 0.0)], mu_dry=1e6)
    still = np.full(25, 1.0)
    climate = Climate(10 * still, 0 * still, 0.0, 0.0, h_out_W_m2K=1e7, h_in_W_m2K=1e-3, b_out=0.0, b_in=0.0)
    run = simulate(Wall((Layer(dry, 2.0, 0.5, 0.0),)), climate, level=12, pace=Pace(kelvin=0.02), hours=1)
    x = run.x_m[:, 0]
    assert np.interp(0.1, x, run.profile_t_C[:, 0]) == pytest.approx(2.38593, abs=0.01)  # derived: erfc(x / 2 sqrt(at))
    assert np.abs(run.profile_t_C[:, 0] - 10 * erfc(x / (2 * np.sqrt(1e-6 * 3600)))).max() < 0.05


def test_in_the_steady_state_temperature_and_vapor_divide_as_the_resistances_do() -> None:
    wool = Material.of("wool", density=20, heat_capacity=850, conductivity=0.04, sorption=[(1.0, 0.0)], mu_dry=2.0)
    board = Material.of("board", density=700, heat_capacity=1000, conductivity=0.2, sorption=[(0.8, 5), (1, 9)], mu_dry=8.0)
    still = np.full(2001, 1.0)
    climate = Climate(5 * still, 500 * still, 20.0, 900.0, h_out_W_m2K=20.0, b_out=1e-7, h_in_W_m2K=8.0, b_in=3e-8)
    wall = Wall((Layer(wool, 0.1, 0.6), Membrane(1e-10), Layer(board, 0.02, 0.6)))
    run = simulate(wall, climate, pace=Pace(exponent=-0.0), record_every=2000)
    delta = 1.9366e-10  # still air at 20 C, Schirmer
    r_h, r_v = [1 / 20, 0.1 / 0.04, 0.02 / 0.2, 1 / 8], [1e7, 0.1 * 2 / delta, 1e10, 0.02 * 8 / delta, 1 / 3e-8]
    x = run.x_m[:, 0]
    t = 5 + 15 * (r_h[0] + np.where(x < 0.1, x / 0.04, 0.1 / 0.04 + (x - 0.1) / 0.2)) / sum(r_h)
    p = 500 + 400 * (r_v[0] + np.where(x < 0.1, x * 2 / delta, 0.2 / delta + 1e10 + (x - 0.1) * 8 / delta)) / sum(r_v)
    assert run.profile_t_C[:, 0] == pytest.approx(t, abs=2e-3)
    assert run.profile_phi[:, 0] * saturation_Pa(run.profile_t_C[:, 0]) == pytest.approx(p, abs=0.5)
