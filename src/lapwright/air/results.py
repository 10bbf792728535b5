"""Figures that follow from a flow: air change, permeability, leakage area; and figures with uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.air.fit import LEVEL, PowerLaw, student_t

RHO_AREA = 1.2  # kg/m3, density in the leakage area: ISO 9972, 20 C and 101325 Pa, rounded there (from memory)
S_PER_H = 3600.0


def leakage_area_m2(flow_m3_h: float, dp_Pa: float, discharge: float = 1.0, density: float = RHO_AREA) -> float:
    """Return the area of one hole that passes the flow at that pressure.

    A = flow / 3600 sqrt(density / (2 dp)) / discharge. discharge 1 for the effective leakage area (at 4 Pa,
    ASTM E779; at 10 Pa, ISO 9972), 0.611 for an orifice. All > 0. Raises ValueError.

    >>> round(leakage_area_m2(130.287, 4.0) * 1e4, 2)
    140.17
    """
    if not (flow_m3_h >= 0.0 and dp_Pa > 0.0 and discharge > 0.0 and density > 0.0):
        raise ValueError("pressure, discharge and density must be more than 0, the flow not less than 0")
    return float(flow_m3_h / S_PER_H * np.sqrt(density / (2.0 * dp_Pa)) / discharge)


def flow_of_area_m3_h(area_m2: float, dp_Pa: float, n: float, at_Pa: float, density: float = RHO_AREA) -> float:
    """Return the flow at `dp_Pa` of an effective leakage area (discharge 1) that holds at `at_Pa`; exponent n."""
    at = area_m2 * S_PER_H * float(np.sqrt(2.0 * at_Pa / density))
    return float(at * (dp_Pa / at_Pa) ** n)


def air_change_1_h(flow_m3_h: float, volume_m3: float) -> float:
    """Return air changes an hour: flow over the volume (> 0)."""
    if not volume_m3 > 0.0:
        raise ValueError("the volume must be more than 0")
    return flow_m3_h / volume_m3


def permeability_m3_h_m2(flow_m3_h: float, area_m2: float) -> float:
    """Return the flow per area of the envelope (> 0)."""
    if not area_m2 > 0.0:
        raise ValueError("the area must be more than 0")
    return flow_m3_h / area_m2


@dataclass(frozen=True)
class Estimate:
    """A figure with its standard error and the degrees of freedom behind that."""

    value: float
    se: float
    dof: float

    def interval(self, level: float = LEVEL) -> tuple[float, float]:
        """Return value -+ t se."""
        half = student_t(self.dof, level) * self.se if self.dof > 0 else float("inf")
        return self.value - half, self.value + half


def flow_estimate(law: PowerLaw, dp_Pa: float) -> Estimate:
    """Return the law's flow at a pressure with its standard error, first order: flow times the error of ln flow."""
    flow = law.flow(dp_Pa)
    return Estimate(flow, flow * law.ln_flow_se(dp_Pa), law.dof)


def welch_dof(parts: Sequence[tuple[float, float]]) -> float:
    """Return the degrees of freedom of a sum of independent parts (standard error, degrees of freedom).

    Welch and Satterthwaite: (sum u^2)^2 / sum(u^4 / dof); the least dof when there is no error at all, 0 when a
    part with an error has none.
    """
    if any(dof <= 0 and u > 0.0 for u, dof in parts):
        return 0.0
    top = sum(u * u for u, _ in parts) ** 2
    bottom = sum(u**4 / dof for u, dof in parts if dof > 0)
    return top / bottom if bottom > 0.0 else min(dof for _, dof in parts)


def mean(estimates: Sequence[Estimate]) -> Estimate:
    """Return the plain mean of independent estimates with its standard error.

    Both ISO 9972 and ASTM E779 average pressurization and depressurization (from memory). At least one estimate.
    """
    if not estimates:
        raise ValueError("nothing to average")
    k = len(estimates)
    parts = [(e.se / k, e.dof) for e in estimates]
    return Estimate(sum(e.value for e in estimates) / k, float(np.sqrt(sum(u * u for u, _ in parts))), welch_dof(parts))


@dataclass(frozen=True)
class Difference:
    """After less before. `ratio` = after / before. `clear`: the interval of the difference leaves out 0."""

    difference: Estimate
    low: float
    high: float
    ratio: float
    ratio_low: float
    ratio_high: float
    clear: bool


def difference(before: Estimate, after: Estimate, u_common: float = 0.0, level: float = LEVEL) -> Difference:
    """Return after less before with its uncertainty, first order; both values > 0.

    The two are independent but for `u_common`, the standard uncertainty, as a part, of a factor that both
    share (same fan, same gauge): it moves the difference as a whole and leaves the ratio alone. The ratio's
    interval is that of its logarithm. Raises ValueError. Source: propagation of uncertainty (JCGM 100).
    """
    if not (before.value > 0.0 and after.value > 0.0 and u_common >= 0.0):
        raise ValueError("both flows must be more than 0")
    parts = [(before.se, before.dof), (after.se, after.dof)]
    gap = after.value - before.value
    shared = abs(gap) * u_common
    scatter = float(np.sqrt(sum(u * u for u, _ in parts)))
    # The shared part is given, not estimated from readings: it brings no lack of freedom.
    dof = welch_dof([*parts, (shared, float("inf"))]) if scatter > 0.0 else min(d for _, d in parts)
    estimate = Estimate(gap, float(np.hypot(scatter, shared)), dof)
    low, high = estimate.interval(level)
    relative = [(e.se / e.value, e.dof) for e in (before, after)]
    half_se = float(np.sqrt(sum(u * u for u, _ in relative)))
    ratio_dof = welch_dof(relative)
    half = student_t(ratio_dof, level) * half_se if ratio_dof > 0 else float("inf")
    ratio = after.value / before.value
    with np.errstate(over="ignore"):
        ends = float(ratio * np.exp(-half)), float(ratio * np.exp(half))
    return Difference(estimate, low, high, ratio, *ends, clear=not low <= 0.0 <= high)
