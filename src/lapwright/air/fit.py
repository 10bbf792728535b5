"""The power law of leaks, flow = C dp^n, by least squares of the logarithms, with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from lapwright.air.properties import Array

LEVEL = 0.95  # share of the confidence intervals; ISO 9972 and ASTM E779 ask for 95 % (from memory)
LARGEST_LN = 600.0  # ln of the largest coefficient; e^709 is the largest float
ROUNDS = 50  # work limit of the weights' iteration; it settles in three or four


def student_t(dof: float, level: float = LEVEL) -> float:
    """Return the two-sided quantile of Student's t; infinite when there are no degrees of freedom.

    >>> round(student_t(4), 4)
    2.7764
    """
    if not 0.0 < level < 1.0:
        raise ValueError("level must lie between 0 and 1")
    return float(stdtrit(dof, (1.0 + level) / 2.0)) if dof > 0 else float("inf")


@dataclass(frozen=True)
class PowerLaw:
    """flow = C dp^n, flow in m3/h (or any unit, then C too), dp in Pa.

    r2: of the (weighted) logarithms. points: readings used. variance: of one logarithm of unit weight about the
    line, s^2 = sum w e^2 / (points - 2); nan with two points. weight, x_mean, sxx: sum of the weights, weighted
    mean of ln dp, weighted sum of squares of ln dp about it. dp_min, dp_max: lowest and highest pressure.
    """

    n: float
    C: float
    r2: float
    points: int
    variance: float
    weight: float
    x_mean: float
    sxx: float
    dp_min: float
    dp_max: float

    @property
    def dof(self) -> int:
        """Degrees of freedom: readings less the two figures taken from them."""
        return self.points - 2

    @property
    def covariance(self) -> Array:
        """2 x 2 covariance of (ln C, n)."""
        across = -self.x_mean / self.sxx
        corner = 1.0 / self.weight + self.x_mean**2 / self.sxx
        return self.variance * np.array([[corner, across], [across, 1.0 / self.sxx]])

    @property
    def n_se(self) -> float:
        """Standard error of n: s / sqrt(sxx)."""
        return float(np.sqrt(self.variance / self.sxx))

    @property
    def ln_C_se(self) -> float:
        """Standard error of ln C: s_n sqrt(sum x^2 / N)."""
        return float(np.sqrt(self.covariance[0, 0]))

    def flow(self, dp_Pa: float) -> float:
        """Return the flow at a pressure > 0."""
        return float(np.exp(np.log(self.C) + self.n * np.log(dp_Pa)))

    def ln_flow_se(self, dp_Pa: float) -> float:
        """Return the standard error of ln flow on the line at a pressure.

        s_n sqrt(sxx / N + (ln dp - mean)^2), of the mean at the point, not of one new reading. Source: the
        regression annexes of ISO 9972 and ASTM E779, which agree (from memory); ordinary regression theory.
        """
        off = np.log(dp_Pa) - self.x_mean
        return float(np.sqrt(self.variance * (1.0 / self.weight + off**2 / self.sxx)))

    def n_interval(self, level: float = LEVEL) -> tuple[float, float]:
        """Return the confidence interval of n: n -+ t s_n; everything when two points leave nothing to judge by."""
        half = self._half(self.n_se, level)
        return self.n - half, self.n + half

    def C_interval(self, level: float = LEVEL) -> tuple[float, float]:
        """Return the confidence interval of C, from that of ln C."""
        return self._about(np.log(self.C), self.ln_C_se, level)

    def flow_interval(self, dp_Pa: float, level: float = LEVEL) -> tuple[float, float]:
        """Return the confidence interval of the line's flow at a pressure, from that of its logarithm."""
        return self._about(np.log(self.C) + self.n * np.log(dp_Pa), self.ln_flow_se(dp_Pa), level)

    def extrapolates(self, dp_Pa: float) -> bool:
        """Return whether a pressure lies outside those measured."""
        return not self.dp_min <= dp_Pa <= self.dp_max

    def scaled(self, factor: float) -> PowerLaw:
        """Return the law with every flow times a factor > 0; n and all relative uncertainties stay."""
        if not factor > 0.0:
            raise ValueError("factor must be more than 0")
        return replace(self, C=self.C * factor)

    def _half(self, se: float, level: float) -> float:
        return student_t(self.dof, level) * se if self.dof > 0 else float("inf")

    def _about(self, middle: float, se: float, level: float) -> tuple[float, float]:
        half = self._half(se, level)
        with np.errstate(over="ignore"):
            return float(np.exp(middle - half)), float(np.exp(middle + half))


def fit_power_law(dp_Pa: ArrayLike, flow: ArrayLike, weights: ArrayLike | None = None) -> PowerLaw:
    """Fit flow = C dp^n by least squares of ln flow over ln dp, ordinary or weighted.

    dp_Pa, flow: one-dimensional, equally long, all > 0, at least two different pressures. weights: > 0, as 1 /
    variance of ln flow up to a common factor; None for ordinary least squares. The spread about the line sets
    the scale of the uncertainty in both cases. Raises ValueError, which names what is wrong.

    >>> law = fit_power_law([10, 20, 40], [100.0, 157.0, 246.0])
    >>> round(law.n, 3), round(law.C, 1)
    (0.649, 22.4)
    """
    x, y = _log("dp_Pa", dp_Pa), _log("flow", flow)
    w = np.ones_like(x) if weights is None else np.exp(_log("weights", weights))
    if not x.size == y.size == w.size:
        raise ValueError("pressures, flows and weights must be equally many")
    total = float(w.sum())
    x_mean, y_mean = float(w @ x) / total, float(w @ y) / total
    dx, dy = x - x_mean, y - y_mean
    sxx, sxy, syy = float(w @ dx**2), float(w @ (dx * dy)), float(w @ dy**2)
    if x.size < 2 or np.ptp(x) < 1e-9:
        raise ValueError("at least two different pressures are needed")
    n = sxy / sxx
    ln_C = y_mean - n * x_mean
    if not abs(ln_C) < LARGEST_LN:
        raise ValueError("the readings give no power law: the pressures lie too close together for their flows")
    rest = float(w @ (dy - n * dx) ** 2)
    return PowerLaw(
        n=n,
        C=float(np.exp(ln_C)),
        r2=1.0 - rest / syy if syy > 0.0 else 0.0,
        points=int(x.size),
        variance=rest / (x.size - 2) if x.size > 2 else float("nan"),
        weight=total,
        x_mean=x_mean,
        sxx=sxx,
        dp_min=float(np.exp(x.min())),
        dp_max=float(np.exp(x.max())),
    )


def fit_weighted(dp_Pa: ArrayLike, flow: ArrayLike, u_dp_Pa: float, u_flow_ratio: float) -> PowerLaw:
    """Fit with weights from the uncertainty of each reading.

    Variance of ln flow: u_flow_ratio^2 + (n u_dp / dp)^2, so that low pressures, shaken by wind, count less; n is
    taken from the fit before, until it stands. u_dp_Pa: standard uncertainty of a pressure; u_flow_ratio: of a
    flow, as a part of it; not both 0. Raises ValueError. Source: propagation of uncertainty, first order.
    """
    if not (u_dp_Pa >= 0.0 and u_flow_ratio >= 0.0 and u_dp_Pa + u_flow_ratio > 0.0):
        raise ValueError("u_dp_Pa and u_flow_ratio must be 0 or more, and not both 0")
    law = fit_power_law(dp_Pa, flow)
    dp = np.asarray(dp_Pa, dtype=np.float64)
    for _ in range(ROUNDS):
        before = law.n
        variance = u_flow_ratio**2 + (before * u_dp_Pa / dp) ** 2
        if np.any(variance <= 0.0):
            return law
        law = fit_power_law(dp, flow, variance.min() / variance)
        if abs(law.n - before) < 1e-12:
            break
    return law


def _log(name: str, values: ArrayLike) -> Array:
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1 or array.size == 0:
        raise ValueError(f"{name} must be a list of numbers")
    if not np.all(np.isfinite(array) & (array > 0.0)):
        raise ValueError(f"{name} must all be more than 0")
    return np.asarray(np.log(array))
