"""The power law: a textbook's figures, another library on random readings, exact laws, scaling, bad input."""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm
from fan_figures import SOAK, many, textbook, textbook_figures
from hypothesis import assume, given
from hypothesis import strategies as st

from lapwright.air.fit import fit_power_law, fit_weighted, student_t
from lapwright.air.results import leakage_area_m2

PRESSURES = st.lists(st.floats(4, 100), min_size=3, max_size=14).filter(lambda dp: max(dp) > 1.2 * min(dp))
EXPONENT, COEFFICIENT = st.floats(0.5, 1.0), st.floats(1.0, 2000.0)


def test_the_textbooks_regression() -> None:
    law = fit_power_law(*textbook())
    low, high = law.n_interval()
    got = {
        "n": law.n, "C_m3_h": law.C, "r2": law.r2, "n_se": law.n_se, "n_low": low, "n_high": high,
        "flow50_m3_h": law.flow(50), "flow4_m3_h": law.flow(4), "ela4_cm2": leakage_area_m2(law.flow(4), 4) * 1e4,
    }  # fmt: skip
    figures = textbook_figures()
    assert got.keys() == figures.keys()
    for name, (value, tolerance) in figures.items():
        assert got[name] == pytest.approx(value, abs=tolerance), name


@pytest.mark.parametrize("seed", range(10 * SOAK))
def test_ordinary_and_weighted_fits_agree_with_statsmodels(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = int(rng.integers(3, 15))
    dp = np.sort(rng.uniform(5, 80, points))
    flow = rng.uniform(10, 500) * dp ** rng.uniform(0.5, 0.9) * np.exp(rng.normal(0, 0.05, points))
    weights = rng.uniform(0.1, 3, points)
    x = sm.add_constant(np.log(dp))
    for law, theirs in (
        (fit_power_law(dp, flow), sm.OLS(np.log(flow), x).fit()),
        (fit_power_law(dp, flow, weights), sm.WLS(np.log(flow), x, weights=weights).fit()),
    ):
        assert [math.log(law.C), law.n] == pytest.approx(theirs.params, rel=1e-9)
        assert law.r2 == pytest.approx(theirs.rsquared, rel=1e-9)
        assert law.covariance == pytest.approx(theirs.cov_params(), rel=1e-8)
        assert (law.ln_C_se, law.n_se) == pytest.approx(tuple(theirs.bse), rel=1e-8)
        ends = theirs.conf_int(alpha=0.05)
        assert law.n_interval() == pytest.approx(tuple(ends[1]), rel=1e-8)
        assert law.C_interval() == pytest.approx(tuple(np.exp(ends[0])), rel=1e-8)
        for at in (4.0, 10.0, 50.0):
            frame = theirs.get_prediction([[1.0, math.log(at)]]).summary_frame(alpha=0.05)
            assert law.ln_flow_se(at) == pytest.approx(float(frame["mean_se"].iloc[0]), rel=1e-8)
            theirs_ends = [math.exp(float(frame[k].iloc[0])) for k in ("mean_ci_lower", "mean_ci_upper")]
            assert law.flow_interval(at) == pytest.approx(tuple(theirs_ends), rel=1e-8)


def test_the_weights_of_a_weighted_fit_are_those_of_its_own_exponent() -> None:
    rng = np.random.default_rng(7)
    dp = np.array([8.0, 12.0, 20.0, 31.0, 44.0, 58.0])
    flow = 120 * dp**0.66 * np.exp(rng.normal(0, 0.04, dp.size))
    law = fit_weighted(dp, flow, 1.0, 0.03)
    theirs = sm.WLS(np.log(flow), sm.add_constant(np.log(dp)), weights=1 / (0.03**2 + (law.n * 1.0 / dp) ** 2)).fit()
    assert law.n == pytest.approx(float(theirs.params[1]), rel=1e-9)
    assert law.n_se == pytest.approx(float(theirs.bse[1]), rel=1e-8)
    assert law.n != pytest.approx(fit_power_law(dp, flow).n, rel=1e-4)
    # With no pressure error all readings weigh the same.
    assert fit_weighted(dp, flow, 0.0, 0.03).n == pytest.approx(fit_power_law(dp, flow).n, rel=1e-12)


@many(50)
@given(PRESSURES, COEFFICIENT, EXPONENT)
def test_an_exact_law_is_found_again(dp: list[float], C: float, n: float) -> None:
    flow = [C * p**n for p in dp]
    law = fit_power_law(dp, flow)
    assert (law.n, law.C) == pytest.approx((n, C), rel=1e-9)
    assert law.r2 == pytest.approx(1.0, abs=1e-9)
    assert law.flow_interval(50.0) == pytest.approx((C * 50**n,) * 2, rel=1e-4)
    assert fit_weighted(dp, flow, 1.0, 0.03).n == pytest.approx(n, rel=1e-9)


@many(50)
@given(PRESSURES, COEFFICIENT, EXPONENT, st.floats(0.01, 100), st.floats(0.1, 10), st.integers(0, 10**6))
def test_other_units_change_the_coefficient_and_nothing_else(
    dp: list[float], C: float, n: float, flow_unit: float, pressure_unit: float, seed: int
) -> None:
    noise = np.exp(np.random.default_rng(seed).normal(0, 0.03, len(dp)))
    flow = np.asarray([C * p**n for p in dp]) * noise
    law = fit_power_law(dp, flow)
    other = fit_power_law(np.asarray(dp) * pressure_unit, flow * flow_unit)
    assert other.n == pytest.approx(law.n, rel=1e-7) and other.r2 == pytest.approx(law.r2, rel=1e-6)
    assert other.n_se == pytest.approx(law.n_se, rel=1e-5)
    assert other.flow(50 * pressure_unit) == pytest.approx(law.flow(50) * flow_unit, rel=1e-7)
    assert law.scaled(flow_unit).flow_interval(10) == pytest.approx(
        tuple(flow_unit * end for end in law.flow_interval(10)), rel=1e-9
    )


@many(50)
@given(PRESSURES, st.integers(0, 10**6))
def test_the_interval_holds_the_line_and_is_narrowest_amid_the_readings(dp: list[float], seed: int) -> None:
    flow = 80 * np.asarray(dp) ** 0.65 * np.exp(np.random.default_rng(seed).normal(0, 0.03, len(dp)))
    law = fit_power_law(dp, flow)
    assume(law.variance > 1e-12)
    middle = math.exp(law.x_mean)
    for at in (middle / 3, middle, middle * 3):
        low, high = law.flow_interval(at)
        assert low < law.flow(at) < high
        assert law.ln_flow_se(at) >= law.ln_flow_se(middle)
    assert law.flow_interval(50, 0.99)[1] > law.flow_interval(50, 0.95)[1]


def test_coverage_of_the_interval_is_what_it_claims() -> None:
    # 95 % of 2000 intervals: 1900 +- 3 sqrt(2000 x 0.95 x 0.05) = 1900 +- 29.
    rng = np.random.default_rng(20)
    dp = np.array([10.0, 20.0, 30.0, 40.0, 50.0, 60.0])
    true = 100 * 50**0.65
    held = 0
    for noise in rng.normal(0, 0.04, (2000, dp.size)):
        low, high = fit_power_law(dp, 100 * dp**0.65 * np.exp(noise)).flow_interval(50.0)
        held += low <= true <= high
    assert abs(held - 1900) < 29


def test_two_readings_give_a_line_and_no_certainty() -> None:
    law = fit_power_law([10.0, 40.0], [100.0, 240.0])
    assert law.n == pytest.approx(math.log(2.4) / math.log(4)) and law.dof == 0
    assert law.n_interval() == (-math.inf, math.inf)
    assert law.flow_interval(50.0) == (0.0, math.inf)
    assert student_t(0) == math.inf


def test_student_t_is_that_of_the_tables() -> None:
    # Any statistics table, two-sided 95 % and 99 %.
    assert [round(student_t(k), 3) for k in (1, 2, 4, 8, 30)] == [12.706, 4.303, 2.776, 2.306, 2.042]
    assert round(student_t(4, 0.99), 3) == 4.604


def test_outside_the_readings_is_said() -> None:
    law = fit_power_law([12.0, 20.0, 45.0], [100.0, 140.0, 240.0])
    assert law.extrapolates(50.0) and law.extrapolates(4.0) and not law.extrapolates(30.0)


@pytest.mark.parametrize(
    "dp, flow, weights, text",
    [
        ([], [], None, "dp_Pa must be a list"),
        ([10.0, 20.0], [1.0], None, "equally many"),
        ([10.0, 0.0], [1.0, 2.0], None, "dp_Pa must all be more than 0"),
        ([10.0, 20.0], [1.0, -2.0], None, "flow must all be more than 0"),
        ([10.0, 20.0], [1.0, float("nan")], None, "flow must all be more than 0"),
        ([10.0, 10.0, 10.0], [1.0, 2.0, 3.0], None, "two different pressures"),
        ([10.0], [1.0], None, "two different pressures"),
        ([10.0, 20.0], [1.0, 2.0], [1.0, 0.0], "weights must all be more than 0"),
    ],
)
def test_what_cannot_be_fitted_is_refused(dp: list[float], flow: list[float], weights: object, text: str) -> None:
    with pytest.raises(ValueError, match=text):
        fit_power_law(dp, flow, weights)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="not both 0"):
        fit_weighted([10.0, 20.0], [1.0, 2.0], 0.0, 0.0)


@many()
@given(st.lists(st.tuples(st.floats(), st.floats()), max_size=8))
def test_whatever_comes_in_a_law_or_a_refusal_comes_out(rows: list[tuple[float, float]]) -> None:
    try:
        law = fit_power_law([r[0] for r in rows], [r[1] for r in rows])
    except ValueError as refusal:
        assert str(refusal)
    else:
        assert law.points == len(rows) and math.isfinite(law.n)
