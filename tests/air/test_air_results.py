"""Leakage area, averages, before against after: printed figures, the `uncertainties` package, scaling laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fan_figures import SOAK, many, rows
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import correlated_values, ufloat, umath

from lapwright.air.components import COMPONENTS, total_cm2
from lapwright.air.corrections import device_factor, envelope_factor, induced_pressure_Pa, standard_factor
from lapwright.air.draft import EXHAUST_M3_H_M2, depressurization_Pa
from lapwright.air.fit import PowerLaw, fit_power_law
from lapwright.air.limits import LIMITS, breaches
from lapwright.air.properties import density_kg_m3
from lapwright.air.results import (
    Estimate,
    air_change_1_h,
    difference,
    flow_estimate,
    flow_of_area_m3_h,
    leakage_area_m2,
    mean,
    permeability_m3_h_m2,
    welch_dof,
)
from lapwright.air.ventilation import (
    CFM_M3_H,
    FOOT_M,
    STORY_FT,
    fan_rate_m3_h,
    height_factor,
    infiltration_m3_h,
    whole_house_rate_m3_h,
)

DP = np.array([10.0, 20.0, 30.0, 40.0, 50.0, 60.0])
FLOW = st.floats(1, 1e5)


def noisy(seed: int, C: float = 100.0, n: float = 0.65) -> PowerLaw:
    """A law fitted to readings with 4 % scatter."""
    return fit_power_law(DP, C * DP**n * np.exp(np.random.default_rng(seed).normal(0, 0.04, DP.size)))


@pytest.mark.parametrize("row", rows("ventilation.csv"), ids=lambda r: f"{r['quantity']} {r['input']}")
def test_printed_figures(row: dict[str, str]) -> None:
    if row["quantity"] == "rate_cfm":
        area, bedrooms = row["input"].split("/")
        got = whole_house_rate_m3_h(float(area) * FOOT_M**2, int(bedrooms)) / CFM_M3_H
    elif row["quantity"] == "height_factor":
        got = height_factor(float(row["input"]) * STORY_FT * FOOT_M)
    else:
        flow4 = CFM_M3_H * (4 / 50) ** float(row["input"])
        got = leakage_area_m2(flow4, 4.0) / 0.0254**2
    assert got == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", rows("component_leakage.csv"), ids=lambda r: r["component"])
def test_best_values_seen_elsewhere(row: dict[str, str]) -> None:
    component = COMPONENTS[row["component"]]
    assert component.best == float(row["value"]) and component.standing.startswith("best value seen")


def test_every_component_lies_in_its_own_range_and_sealing_helps() -> None:
    for c in COMPONENTS.values():
        assert 0 < c.low <= c.best <= c.high, c.id
    for name in ("sole_plate", "window_frame", "door_frame", "pipe"):
        assert COMPONENTS[f"{name}_sealed"].best < COMPONENTS[f"{name}_open"].best
    seen = {c.id for c in COMPONENTS.values() if c.standing != "from memory"}
    assert seen == {r["component"] for r in rows("component_leakage.csv")}


def test_leakage_of_a_list_is_added_by_hand() -> None:
    got = total_cm2([("ceiling", 80.0), ("sole_plate_open", 36.0), ("chimney", 1), ("sole_plate_open", 4.0)])
    assert (got.best, got.low, got.high) == pytest.approx(
        (80 * 1.8 + 40 * 4 + 29, 80 * 0.79 + 40 * 0.38 + 21, 80 * 2.8 + 40 * 5.6 + 36)
    )
    with pytest.raises(KeyError):
        total_cm2([("no such thing", 1.0)])
    with pytest.raises(ValueError, match="amount"):
        total_cm2([("ceiling", -1.0)])


@many()
@given(FLOW, st.floats(1, 60), st.floats(0.5, 1.0), st.floats(1, 60))
def test_leakage_area_and_flow_undo_each_other(flow: float, at: float, n: float, to: float) -> None:
    area = leakage_area_m2(flow, at)
    assert flow_of_area_m3_h(area, at, n, at) == pytest.approx(flow)
    assert flow_of_area_m3_h(area, to, n, at) == pytest.approx(flow * (to / at) ** n)
    # Bernoulli, by hand: a hole of 1 m2 at dp passes sqrt(2 dp / rho) m/s.
    assert flow / 3600 == pytest.approx(area * math.sqrt(2 * at / 1.2))
    assert leakage_area_m2(flow, at, 0.611) == pytest.approx(area / 0.611)


@pytest.mark.parametrize("seed", range(5 * SOAK))
def test_flow_estimate_is_what_uncertainties_propagates(seed: int) -> None:
    law = noisy(seed)
    ln_C, n = correlated_values([math.log(law.C), law.n], law.covariance)
    for at in (4.0, 10.0, 50.0):
        theirs = umath.exp(ln_C + n * math.log(at))
        ours = flow_estimate(law, at)
        assert (ours.value, ours.se) == pytest.approx((theirs.nominal_value, theirs.std_dev), rel=1e-7)
        assert ours.dof == 4


@pytest.mark.parametrize("seed", range(5 * SOAK))
def test_before_and_after_is_what_uncertainties_propagates(seed: int) -> None:
    rng = np.random.default_rng(seed)
    before, after = (
        Estimate(*rng.uniform((2000, 20), (6000, 300)), 4),
        Estimate(*rng.uniform((800, 10), (3000, 200)), 6),
    )
    shared = float(rng.uniform(0, 0.1))
    factor = ufloat(1.0, shared)
    b, a = ufloat(before.value, before.se), ufloat(after.value, after.se)
    ours = difference(before, after, shared)
    gap = a * factor - b * factor
    assert (ours.difference.value, ours.difference.se) == pytest.approx((gap.nominal_value, gap.std_dev), rel=1e-9)
    ratio = (a * factor) / (b * factor)
    assert ours.ratio == pytest.approx(ratio.nominal_value)
    # Without lack of freedom, the logarithmic interval's half width is 1.96 relative errors.
    wide = difference(Estimate(before.value, before.se, 1e9), Estimate(after.value, after.se, 1e9), shared)
    half = math.log(wide.ratio_high / wide.ratio)
    assert half == pytest.approx(1.959964 * ratio.std_dev / ratio.nominal_value, rel=1e-5)
    both = mean([before, after])
    theirs = (b + a) / 2
    assert (both.value, both.se) == pytest.approx((theirs.nominal_value, theirs.std_dev), rel=1e-9)


@many(50)
@given(FLOW, FLOW, st.floats(1e-3, 0.3), st.floats(1e-3, 0.3), st.floats(0.01, 100))
def test_difference_follows_the_scale_and_the_order(b: float, a: float, ub: float, ua: float, k: float) -> None:
    before, after = Estimate(b, b * ub, 5), Estimate(a, a * ua, 7)
    one = difference(before, after)
    scaled = difference(Estimate(k * b, k * b * ub, 5), Estimate(k * a, k * a * ua, 7))
    assert scaled.low == pytest.approx(k * one.low, rel=1e-6, abs=1e-9 * k * max(a, b))
    assert (scaled.ratio_low, scaled.ratio_high) == pytest.approx((one.ratio_low, one.ratio_high))
    back = difference(after, before)
    assert (back.low, back.high) == pytest.approx((-one.high, -one.low))
    assert 1 / back.ratio_low == pytest.approx(one.ratio_high) and one.clear == back.clear
    assert one.ratio_low < one.ratio < one.ratio_high


def test_a_house_against_itself_has_not_changed_clearly() -> None:
    flow = flow_estimate(noisy(3), 50.0)
    same = difference(flow, flow)
    assert same.difference.value == 0 and not same.clear and same.low < 0 < same.high
    assert difference(flow, Estimate(flow.value / 2, flow.se / 2, flow.dof)).clear


def test_a_clear_difference_is_rare_between_two_tests_of_one_house() -> None:
    # 5 % false alarms asked; Welch's approximation is near: 1000 pairs, 50 +- 3 sqrt(47.5) = 50 +- 21.
    clear = sum(
        difference(flow_estimate(noisy(2 * k), 50.0), flow_estimate(noisy(2 * k + 1), 50.0)).clear for k in range(1000)
    )
    assert 29 <= clear <= 71


def test_welch_by_hand() -> None:
    # Two parts of 3 and 4 with 5 and 10 degrees: 25^2 / (81/5 + 256/10) = 625 / 41.8.
    assert welch_dof([(3.0, 5.0), (4.0, 10.0)]) == pytest.approx(625 / 41.8)
    assert welch_dof([(0.0, 5.0), (0.0, 3.0)]) == 3 and welch_dof([(1.0, 0.0), (1.0, 5.0)]) == 0
    assert Estimate(1.0, 0.1, 0).interval() == (-math.inf, math.inf)


def test_corrections_by_hand() -> None:
    assert induced_pressure_Pa([52.0, -48.0], [2.0, 2.0]).tolist() == [50.0, -50.0]
    inside, outside = float(density_kg_m3(20.0)), float(density_kg_m3(0.0))
    assert envelope_factor("depressurize", inside, outside) == pytest.approx(273.15 / 293.15)
    assert envelope_factor("pressurize", inside, outside) == pytest.approx(293.15 / 273.15)
    assert standard_factor(0.65, outside, inside) == pytest.approx((293.15 / 273.15) ** 0.35)
    assert standard_factor(1.0, outside, inside) == 1.0
    assert standard_factor(1.0, outside, inside, 1.7e-5, 1.8e-5) == pytest.approx(17 / 18)
    assert standard_factor(0.5, outside, inside, 1.7e-5, 1.8e-5) == pytest.approx((293.15 / 273.15) ** 0.5)
    assert device_factor(1.0, 1.21) == pytest.approx(1.1)
    for bad in (lambda: device_factor(0.0, 1.2), lambda: envelope_factor("pressurize", 1.2, -1.0)):
        with pytest.raises(ValueError, match="more than 0"):
            bad()


@many()
@given(FLOW, st.floats(1, 2000), st.floats(0.5, 1.0))
def test_what_the_fans_take_out_the_leaks_let_in(exhaust: float, C: float, n: float) -> None:
    assert C * depressurization_Pa(exhaust, C, n) ** n == pytest.approx(exhaust)
    # Fans at half the flow pull 2^(1/n) times less.
    assert depressurization_Pa(exhaust / 2, C, n) == pytest.approx(depressurization_Pa(exhaust, C, n) / 2 ** (1 / n))


def test_exhaust_limit_in_both_units() -> None:
    per_100_m2 = EXHAUST_M3_H_M2 * 100 / 3.6  # 15 cfm a 100 sq ft, printed as 75 L/s a 100 m2
    assert per_100_m2 == pytest.approx(76.2, abs=0.1)


@many()
@given(st.floats(20, 1000), st.integers(0, 8), st.floats(0, 1e4), st.floats(0.3, 1.5), st.floats(2, 12))
def test_fans_and_credit_stay_within_bounds(area: float, beds: int, flow50: float, wsf: float, height: float) -> None:
    total = whole_house_rate_m3_h(area, beds)
    leak = infiltration_m3_h(flow50, wsf, height)
    assert leak == pytest.approx(0.052 * wsf * (height / 2.5) ** 0.4 * flow50, rel=1e-3)  # 8.2 ft is 2.499 m
    alone, balanced = fan_rate_m3_h(total, leak), fan_rate_m3_h(total, leak, balanced=True)
    assert total / 3 - 1e-9 <= balanced <= alone + 1e-9 <= total + 2e-9
    assert fan_rate_m3_h(total, leak, exterior_ratio=0.0) == pytest.approx(total)


def test_fan_rate_by_hand() -> None:
    # 100 total, 40 infiltration: balanced 60, exhaust alone 100 - 0.4 x 40 = 84; half of the envelope shared: 92.
    assert fan_rate_m3_h(100.0, 40.0, balanced=True) == pytest.approx(60)
    assert fan_rate_m3_h(100.0, 40.0) == pytest.approx(84)
    assert fan_rate_m3_h(100.0, 40.0, exterior_ratio=0.5) == pytest.approx(92)


def test_limits_are_broken_where_they_should() -> None:
    good = fit_power_law(DP, 100 * DP**0.65)
    assert breaches(good, DP.tolist(), [1.0, -1.5], 12.0, 6.0, 2.0) == []

    def broken(law: PowerLaw = good, dp: object = DP, **more: object) -> set[str]:
        return {b.limit.code for b in breaches(law, list(dp), **more)}  # type: ignore[call-overload, arg-type]

    assert broken(fit_power_law(DP, 100 * DP**0.4)) == {"exponent"}
    assert broken(fit_power_law(DP, 100 * DP**1.2)) == {"exponent"}
    assert "r2" in broken(fit_power_law(DP, DP**0.65 * np.array([1, 1.4, 0.7, 1.3, 0.8, 1.2])))
    assert broken(fit_power_law(DP[:4], 100 * DP[:4] ** 0.65), DP[:4]) == {"points", "highest"}
    assert broken(dp=[*DP, 120.0]) == {"highest", "step"}
    assert broken(dp=[20.0, *DP[1:]]) == {"lowest"} and broken(dp=[4.0, *DP]) == {"lowest"}
    assert broken(zeros_Pa=[4.0]) == {"lowest", "zero_part"}
    assert broken(dp=[26.0, 34.0, 42.0, 50.0, 58.0], zeros_Pa=[-5.5]) == {"zero"}
    assert broken(difference_K=-30.0, height_m=9.0) == {"stack"} and broken(wind_m_s=7.0) == {"wind"}
    assert broken(difference_K=-30.0) == set()
    assert all(limit.clause and limit.what for limit in LIMITS.values())


@pytest.mark.parametrize(
    "call",
    [
        lambda: leakage_area_m2(-1.0, 4.0),
        lambda: leakage_area_m2(1.0, 0.0),
        lambda: air_change_1_h(1.0, 0.0),
        lambda: permeability_m3_h_m2(1.0, -2.0),
        lambda: whole_house_rate_m3_h(0.0, 2),
        lambda: infiltration_m3_h(10.0, 0.0, 5.0),
        lambda: height_factor(0.0),
        lambda: fan_rate_m3_h(0.0, 1.0),
        lambda: depressurization_Pa(1.0, 0.0, 0.65),
        lambda: difference(Estimate(0.0, 1.0, 4), Estimate(1.0, 1.0, 4)),
        lambda: noisy(1).scaled(0.0),
    ],
)
def test_what_makes_no_sense_is_refused(call: object) -> None:
    with pytest.raises(ValueError, match=r"0"):
        call()  # type: ignore[operator]
    with pytest.raises(ValueError, match="nothing to average"):
        mean([])
