"""From readings to the results of each fan test: corrections, power law, figures at 4, 10 and 50 Pa, warnings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lapwright import air
from lapwright.air.limits import Breach
from lapwright.air.properties import T_STANDARD_C
from lapwright.findings import Finding, Where
from lapwright.survey.model import Survey
from lapwright.tightness.house import House, house_of
from lapwright.tightness.readings import FanTest, Readings
from lapwright.tightness.words import figure, pair

RHO_0 = float(air.density_kg_m3(T_STANDARD_C))  # kg/m3, dry air, 20 C, 101325 Pa: ISO 9972, ASTM E779 (from memory)
U_DP_PA = 1.0  # gauge: ISO 9972 asks for 1 Pa (from memory)
U_FLOW = 0.07  # flow: ISO 9972 asks for 7 % (from memory)

# Breach -> what it means, what to do.
MEANS: Mapping[str, tuple[str, str]] = {
    "exponent": (
        "leaks have exponents from 0.5 (holes) to 1 (hair cracks); outside, something moved during the test",
        "Test again: windows and hatches shut, dampers taped, no gusts.",
    ),
    "r2": ("the readings scatter too much about their line", "Test again on a calmer day, or take longer averages."),
    "points": ("few readings make a poor line", "Take at least five readings, better ten."),
    "highest": ("", "Test to between 50 and 100 Pa; a second fan, or the biggest holes closed and counted."),
    "lowest": ("", "Start near 10 Pa, or five times the pressure with the fan off if that is more."),
    "step": ("the readings are not evenly spread", "Take readings about every 10 Pa or closer."),
    "zero": ("wind or cold moves the house more than a fan test stands", "Test again on a calmer, milder day."),
    "zero_part": ("the weather is a large part of the lowest reading", "Test again on a calmer day, or start higher."),
    "stack": ("warm air rising makes its own pressure", "Test again when it is milder outside."),
    "wind": ("gusts shake the readings", "Test again on a calmer day."),
}


@dataclass(frozen=True)
class Result:
    """One test in one mode. `law`: at standard conditions, m3/h. `points`: (pressure, flow) as they lie on it."""

    test: FanTest
    law: air.PowerLaw
    points: tuple[tuple[float, float], ...]
    corrections: tuple[str, ...]
    breaches: tuple[Breach, ...]
    fit: str

    @property
    def name(self) -> str:
        """The test and its mode, in words."""
        return f"{self.test.name}, {self.test.mode}"

    def warnings(self) -> list[str]:
        """Return what makes the test less than the standard asks, in words, each with its clause."""
        return [_warning(b, self.law) for b in self.breaches]

    def findings(self, file: str) -> list[Finding]:
        """Return the same as findings with a way out."""
        where = Where(file=file, line=self.test.line, thing=self.name)
        return [
            Finding(f"air.{b.limit.code}", "warn", f"{text.partition(' [')[0]}.", why and f"{why[0].upper()}{why[1:]}.", fix, where, b.limit.clause)
            for b, text in zip(self.breaches, self.warnings(), strict=True)
            for why, fix in [MEANS[b.limit.code]]
        ]  # fmt: skip

    def to_json(self, house: House) -> dict[str, Any]:
        """Return the contract's row of `tests[]`, and more."""
        law, flow50, flow4 = self.law, self.law.flow(50.0), self.law.flow(4.0)
        volume, area = house.volume_m3.value, house.envelope_m2.value
        return {
            "test": self.test.name,
            "mode": self.test.mode,
            "n": figure(law.n),
            "n_95": pair(law.n_interval()),
            "C_m3_h": figure(law.C),
            "C_95": pair(law.C_interval()),
            "r2": figure(law.r2),
            "flow50_m3_h": figure(flow50),
            "flow50_95": pair(law.flow_interval(50.0)),
            "ach50": figure(air.air_change_1_h(flow50, volume)) if volume else None,
            "q50_m3_h_m2": figure(air.permeability_m3_h_m2(flow50, area)) if area else None,
            "flow10_m3_h": figure(law.flow(10.0)),
            "flow10_95": pair(law.flow_interval(10.0)),
            "flow4_m3_h": figure(flow4),
            "flow4_95": pair(law.flow_interval(4.0)),
            "ela4_cm2": figure(air.leakage_area_m2(flow4, 4.0) * 1e4),
            "ela10_cm2": figure(air.leakage_area_m2(law.flow(10.0), 10.0) * 1e4),
            "extrapolated": law.extrapolates(50.0),
            "warnings": self.warnings(),
            "corrections": list(self.corrections),
            "fit": self.fit,
            "points": [[figure(p), figure(q)] for p, q in self.points],
        }


def results_of(readings: Readings, house: House) -> list[Result]:
    """Return the results of every test, in the order of the readings."""
    return [_result(test, readings, house) for test in readings.tests]


def tests_of(readings: Readings, survey: Survey | None = None) -> list[dict[str, Any]]:
    """Return the contract's `tests[]`: one dict per test and mode, numbers to four significant figures.

    Volume, envelope area and altitude come from the readings file, else from the survey; what neither gives makes
    its result None. Keys beyond the contract: C_95, flow10_m3_h, flow10_95, flow4_95, ela10_cm2, corrections, fit,
    points (pressure, flow at standard conditions).
    """
    house = house_of(readings, survey)
    return [r.to_json(house) for r in results_of(readings, house)]


def _result(test: FanTest, readings: Readings, house: House) -> Result:
    pressures = [test.induced_Pa(row) for row in test.rows]
    made = [_zero_words(test)]
    at_fan, day_in, day_out, words = _densities(test, readings, house)
    made.append(words)
    factor = 1.0
    if readings.word("flow_reads") == "indicated":
        device = air.device_factor(at_fan, RHO_0)
        made.append(f"flow scale: made for {RHO_0:.4f} kg/m3, so flow x {device:.4f}")
        factor *= device
    else:
        made.append("flow scale: read as the true flow through the fan")
    if day_in is not None and day_out is not None:
        through = air.envelope_factor(test.mode, day_in, day_out)
        made.append(f"fan to leaks: mass is kept, so flow x {through:.4f} (ISO 9972)")
        factor *= through
    flows = [row.flow_m3_h * factor for row in test.rows]
    if readings.word("fit") == "weighted":
        u_dp = readings.number("u_dp_Pa")
        u_flow = readings.number("u_flow_pct")
        u_dp, u_flow = U_DP_PA if u_dp is None else u_dp, U_FLOW if u_flow is None else u_flow / 100.0
        if u_dp + u_flow <= 0.0:
            u_flow = U_FLOW
        law = air.fit_weighted(pressures, flows, u_dp, u_flow)
        fit = f"weighted least squares of the logarithms, {u_dp:g} Pa and {u_flow * 100:g} %"
    else:
        law = air.fit_power_law(pressures, flows)
        fit = "ordinary least squares of the logarithms"
    if day_in is not None and day_out is not None:
        leaking = day_out if test.mode == "depressurize" else day_in
        standard = air.standard_factor(law.n, leaking, RHO_0)
        made.append(f"to 20 C and sea level: C x {standard:.4f} (ISO 9972)")
        law, flows = law.scaled(standard), [q * standard for q in flows]
    t_in, t_out = readings.number("t_in_C"), readings.number("t_out_C")
    broken = air.breaches(
        law,
        pressures,
        test.zeros_Pa,
        None if t_in is None or t_out is None else t_in - t_out,
        house.height_m.value,
        readings.number("wind_m_s"),
    )
    return Result(test, law, tuple(zip(pressures, flows, strict=True)), tuple(made), tuple(broken), fit)


def _zero_words(test: FanTest) -> str:
    zeros = test.zeros_Pa
    if not zeros:
        return "zero-flow pressure: none was written down, so none is taken off"
    if len(zeros) == len(test.rows) and len(set(zeros)) > 1:
        return f"zero-flow pressure: each reading's own is taken off, {min(zeros):g} to {max(zeros):g} Pa"
    return f"zero-flow pressure: {sum(zeros) / len(zeros):.3g} Pa is taken off every reading"


def _densities(test: FanTest, readings: Readings, house: House) -> tuple[float, float | None, float | None, str]:
    """Return the density at the fan, inside and outside (None, None without both temperatures), and the words."""
    t_in, t_out = readings.number("t_in_C"), readings.number("t_out_C")
    altitude = house.altitude_m.value
    pressure = float(air.standard_pressure_Pa(altitude or 0.0))
    if t_in is None or t_out is None:
        rho = float(air.density_kg_m3(T_STANDARD_C, pressure))
        return rho, None, None, "air density: not corrected, both temperatures are needed"
    rh_in, rh_out = readings.number("rh_in_pct") or 0.0, readings.number("rh_out_pct") or 0.0
    inside = float(air.density_kg_m3(t_in, pressure, rh_in / 100.0))
    outside = float(air.density_kg_m3(t_out, pressure, rh_out / 100.0))
    height = "sea level, altitude not given" if altitude is None else f"{altitude:.0f} m"
    words = f"air density: {inside:.4f} inside, {outside:.4f} outside kg/m3 at {height} (ISO 2533)"
    return (inside if test.mode == "depressurize" else outside), inside, outside, words


def _warning(breach: Breach, law: air.PowerLaw) -> str:
    limit, value, bound = breach.limit, figure(breach.value, 3), figure(breach.bound, 3)
    unit = f" {limit.unit}" if limit.unit else ""
    side = "below" if breach.value < breach.bound else "above"
    text = f"{limit.what} {value:g}{unit}, {side} {bound:g}{unit}"
    if limit.code == "highest" and law.extrapolates(50.0):
        text += ": the figures at 50 Pa are extrapolated"
    return f"{text[0].upper()}{text[1:]} [{limit.clause}]"
