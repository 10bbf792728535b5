"""Properties of air against the handbook's and the standard atmosphere's printed figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fan_figures import many, rows
from hypothesis import given
from hypothesis import strategies as st

from lapwright.air.properties import (
    density_kg_m3,
    humidity_ratio,
    saturation_pressure_Pa,
    standard_pressure_Pa,
    viscosity_Pa_s,
)


@pytest.mark.parametrize("row", rows("moist_air.csv"), ids=lambda r: f"{r['quantity']} {r['t_C']}{r['altitude_m']}")
def test_printed_figures(row: dict[str, str]) -> None:
    given_ = {k: float(v) for k, v in row.items() if v and k != "quantity"}
    t, p, rh = (given_.get(k, 0.0) for k in ("t_C", "pressure_Pa", "rh"))
    got = {
        "saturation_Pa": lambda: saturation_pressure_Pa(t),
        "humidity_ratio": lambda: humidity_ratio(rh * saturation_pressure_Pa(t), p),
        "pressure_Pa": lambda: standard_pressure_Pa(given_["altitude_m"]),
        "density_kg_m3": lambda: density_kg_m3(t, p, rh),
    }[row["quantity"]]()
    assert float(got) == pytest.approx(given_["value"], rel=given_["relative"])


@many()
@given(st.floats(1, 40), st.floats(70000, 105000), st.floats(0, 1))  # the weather of fan tests
def test_density_agrees_with_the_fan_test_standards_own_formula(t: float, p: float, rh: float) -> None:
    # ISO 9972 prints vapor pressure and density in another form (from memory).
    kelvin = t + 273.15
    vapor = rh * math.exp(59.484085 - 6790.4985 / kelvin - 5.02802 * math.log(kelvin))
    assert float(density_kg_m3(t, p, rh)) == pytest.approx((p - 0.37802 * vapor) / (287.055 * kelvin), rel=2e-4)


def test_the_two_branches_of_saturation_meet_at_the_triple_point() -> None:
    below, above = float(saturation_pressure_Pa(-1e-9)), float(saturation_pressure_Pa(0.01))
    assert below == pytest.approx(611.15, abs=0.2) and above == pytest.approx(611.657, rel=3e-4)


def test_arrays_go_in_and_come_out() -> None:
    t = np.array([[-10.0, 0.0], [10.0, 20.0]])
    for function in (saturation_pressure_Pa, density_kg_m3, viscosity_Pa_s):
        assert function(t).shape == (2, 2)
        assert function(t)[1, 0] == pytest.approx(float(function(10.0)))
    assert standard_pressure_Pa([0.0, 5000.0])[1] == pytest.approx(54019.9, rel=1e-4)  # ISO 2533 table (from memory)


@pytest.mark.parametrize(
    "call, name",
    [
        (lambda: density_kg_m3(900.0), "t_C"),
        (lambda: density_kg_m3(20.0, 5.0), "pressure_Pa"),
        (lambda: density_kg_m3(20.0, rh=1.2), "rh"),
        (lambda: density_kg_m3(float("nan")), "t_C"),
        (lambda: standard_pressure_Pa(20000.0), "altitude_m"),
        (lambda: viscosity_Pa_s(-80.0), "t_C"),
        (lambda: humidity_ratio(2000.0, 1000.0), "vapor_Pa"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call: object, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]
