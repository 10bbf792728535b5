"""Mold index, monthly condensation and wood in air against published and hand-derived values."""

from __future__ import annotations

import numpy as np
import pytest
from published import rows

from lapwright.moisture.glaser import dew_point_place, monthly
from lapwright.moisture.mold import ashrae_160, critical_pct, hukka_viitanen, weeks_to_seen, weeks_to_start
from lapwright.moisture.wood import equilibrium_pct


@pytest.mark.parametrize("row", rows("mold_hukka_viitanen.csv"), ids=lambda r: f"{r['T_C']}C-{r['RH_pct']}")
def test_the_index_of_hukka_and_viitanen_in_a_constant_climate(row: dict[str, str]) -> None:
    t, rh = float(row["T_C"]), float(row["RH_pct"])
    assert float(weeks_to_start(t, rh)) == pytest.approx(float(row["tm_weeks"]), rel=1e-4)
    assert float(weeks_to_seen(t, rh)) == pytest.approx(float(row["tv_weeks"]), rel=1e-4)
    index = hukka_viitanen(np.full(364 * 24, t), np.full(364 * 24, rh / 100))
    for days in (28, 84, 364):
        assert index[days * 24 - 1] == pytest.approx(float(row[f"M_{days}d"]), abs=0.02)
    if float(row["Mmax"]) > 1:
        assert np.argmax(index >= 1) / 24 == pytest.approx(float(row["days_to_M1"]), abs=0.15)


def test_the_index_declines_as_published_when_it_gets_dry() -> None:
    wet = np.full(24 * 60, 0.97)
    dry = np.full(24 * 10, 0.5)
    index = hukka_viitanen(np.full(24 * 70, 20.0), np.concatenate([wet, dry]))
    top = index[24 * 60 - 1]
    assert top - index[24 * 60 + 5] == pytest.approx(6 * 0.00133, rel=1e-6)
    assert index[24 * 60 + 5] - index[24 * 60 + 23] == pytest.approx(0.0)
    assert index[24 * 60 + 23] - index[-1] == pytest.approx(9 * 24 * 0.000667, rel=1e-6)


def test_harder_surfaces_mold_later_and_none_molds_below_its_humidity() -> None:
    t, phi = np.full(24 * 200, 20.0), np.full(24 * 200, 0.95)
    ends = [float(ashrae_160(t, phi, c)[-1]) for c in ("very sensitive", "sensitive", "medium resistant", "resistant")]
    assert ends == sorted(ends, reverse=True) and ends[0] > 3 > ends[-1]
    assert float(ashrae_160(t, 0 * phi + 0.84, "medium resistant")[-1]) == 0.0
    assert float(critical_pct(5.0)) == pytest.approx(88.016, abs=1e-3)
    with pytest.raises(ValueError, match="humidity must lie within 0 to 1"):
        ashrae_160(t, 95 + 0 * phi)


def test_monthly_condensation_of_iso_13788_by_hand() -> None:
    table = {int(r["month"]): r for r in rows("iso13788_monthly_case.csv")}
    year = [table[m] for m in range(1, 13)]
    out = monthly(
        [0.084615, 4.0, 0.05], [2.2, 0.14, 0.125], 0.13, 0.04,
        [float(r["Te"]) for r in year], [float(r["phi_e"]) for r in year], [20.0] * 12, [float(r["phi_i"]) for r in year],
    )  # fmt: skip
    assert out.first == 10 and out.dries
    for k, row in enumerate(year):
        assert out.t_C[k, 0] == pytest.approx(float(row["T_interface"]), abs=1e-3)
        assert out.condensed[k, 0] == pytest.approx(float(row["gc_kg_m2"]), abs=2e-4)
        assert out.held[k, 0] == pytest.approx(float(row["Ma_kg_m2"]), abs=3e-4)
    assert np.all(out.held[:, 1] == 0)


def test_vapor_line_touches_saturation_only_where_it_must() -> None:
    """Brute force: the largest convex line under saturation, on a fine grid of one condensing interface of three."""
    args = ([0.2, 2.0, 0.1, 2.0], [0.5, 1.0, 5.0, 0.3], 0.13, 0.04, [-5.0] * 12, [0.8] * 12, [20.0] * 12, [0.6] * 12)
    out = monthly(*args)
    x = np.cumsum([0.0, 0.5, 1.0, 5.0, 0.3])
    share = (0.04 + np.cumsum(args[0])[:-1]) / (0.17 + sum(args[0]))
    t = -5 + 25 * share
    ps = 610.5 * np.exp(np.where(t < 0, 21.875, 17.269) * t / (np.where(t < 0, 265.5, 237.3) + t))
    points = np.concatenate([[0.8 * 401.76], ps, [0.6 * 2336.95]])
    best = np.full(5, -np.inf)
    for i in range(5):  # lower hull by definition: at each node the least chord of nodes to its two sides
        chords = [points[i]] + [
            points[a] + (points[b] - points[a]) * (x[i] - x[a]) / (x[b] - x[a]) for a in range(i) for b in range(i + 1, 5)
        ]
        best[i] = min(chords)
    flux = 2e-10 * np.diff(best) / np.diff(x)
    first = out.first
    assert out.condensed[first] == pytest.approx(np.diff(flux) * [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][first] * 86400, abs=2e-4)


def test_dew_point_lies_where_the_temperature_is_the_dew_point() -> None:
    share = dew_point_place([1.0, 3.0], 20.0, 0.5, -10.0)
    assert share is not None
    assert 20 - share * 30 == pytest.approx(9.27, abs=0.05)  # dew point of 20 C, 50 %
    assert dew_point_place([1.0], 20.0, 0.3, 15.0) is None


@pytest.mark.parametrize("t, h, emc", [(20, 0.5, 9.2), (20, 0.8, 16.0), (20, 0.95, 24.2), (0, 0.5, 9.5)])
def test_wood_in_air_as_the_forest_products_laboratory_lists_it(t: float, h: float, emc: float) -> None:
    assert float(equilibrium_pct(t, h)) == pytest.approx(emc, abs=0.35)  # Wood Handbook table 4-2, from memory
