"""The mold index, 0 (none) to 6 (covered), through hours of temperature and humidity at a surface.

Two forms: Hukka and Viitanen 1999 (pine and spruce), and that of ASHRAE 160 with sensitivity classes (Ojanen et al.
2010). An index of 3, seen with the naked eye, is the limit of ASHRAE 160.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lapwright.moisture.vapor import Array

LIMIT = 3.0  # ASHRAE 160: mold seen with the naked eye
WEEK_H = 168.0
DECLINE_EARLY, DECLINE_LATE = 0.00133, 0.000667  # index per hour unfavorable: up to 6 h, after 24 h (0.032, 0.016 a day)


@dataclass(frozen=True)
class Sensitivity:
    """A class of surfaces: growth below and above index 1, least humidity (%), largest index a + b r - c r2, decline.

    Ojanen, Viitanen, Peuhkuri et al. 2010 as ASHRAE 160 takes them over (from memory, fairly sure); decline is the
    share of pine's decline that the class shows; 0.1 is on the safe side where the standard leaves it open.
    """

    name: str
    slow: float
    fast: float
    least_pct: float
    a: float
    b: float
    c: float
    decline: float = 0.1


CLASSES = {
    "very sensitive": Sensitivity("very sensitive", 1.0, 2.0, 80.0, 1.0, 7.0, 2.0),
    "sensitive": Sensitivity("sensitive", 0.578, 0.386, 80.0, 0.3, 6.0, 1.0),
    "medium resistant": Sensitivity("medium resistant", 0.072, 0.097, 85.0, 0.0, 5.0, 1.5),
    "resistant": Sensitivity("resistant", 0.033, 0.014, 85.0, 0.0, 3.0, 1.0),
}


def critical_pct(t_C: ArrayLike, least_pct: float = 80.0) -> Array:
    """Return the humidity (%) above which mold grows at t_C: -0.00267 T3 + 0.160 T2 - 3.13 T + 100 to 20 C."""
    t = np.asarray(t_C, dtype=float)
    curve = -0.00267 * t**3 + 0.160 * t**2 - 3.13 * t + 100
    return np.where(t <= 20, np.maximum(curve, least_pct), least_pct)


def weeks_to_start(t_C: ArrayLike, rh_pct: ArrayLike, planed: float = 0.0, quality: float = 0.0) -> Array:
    """Return weeks until index 1 on pine (planed 0) or spruce (1), sawn surface quality 0 or kiln-dried 1."""
    t, rh = np.asarray(t_C, dtype=float), np.asarray(rh_pct, dtype=float)
    return np.asarray(np.exp(-0.68 * np.log(t) - 13.9 * np.log(rh) + 0.14 * planed - 0.33 * quality + 66.02))


def weeks_to_seen(t_C: ArrayLike, rh_pct: ArrayLike, planed: float = 0.0) -> Array:
    """Return weeks until index 3, mold seen with the naked eye."""
    t, rh = np.asarray(t_C, dtype=float), np.asarray(rh_pct, dtype=float)
    return np.asarray(np.exp(-0.74 * np.log(t) - 12.72 * np.log(rh) + 0.06 * planed + 61.50))


def hukka_viitanen(t_C: ArrayLike, phi: ArrayLike, spruce: bool = False, quality: float = 0.0) -> Array:
    """Return the index hour by hour, shape as t_C and phi: hours on the first axis.

    Hukka, Viitanen, Wood Science and Technology 33 (1999) 475-485; 0 to 50 C.

    >>> float(hukka_viitanen(np.full(24 * 28, 20.0), np.full(24 * 28, 0.97))[-1].round(1))
    4.3
    """
    t, rh = _hours(t_C, phi)
    grows = (t > 0) & (t < 50)
    warm = np.where(grows, t, 20.0)
    wood = 1.0 if spruce else 0.0
    start = weeks_to_start(warm, rh, wood, quality)
    seen = weeks_to_seen(warm, rh, wood)
    fast = 2 / np.maximum(seen / start - 1, 1e-9)
    return _march(t, rh, 1 / (WEEK_H * start), np.ones_like(fast), fast, critical_pct(warm), grows, (1.0, 7.0, 2.0), 1.0)


def ashrae_160(t_C: ArrayLike, phi: ArrayLike, sensitivity: str | Sensitivity = "sensitive") -> Array:
    """Return the index of ASHRAE 160 hour by hour, hours on the first axis; sensitivity: a class or its name."""
    s = CLASSES[sensitivity] if isinstance(sensitivity, str) else sensitivity
    t, rh = _hours(t_C, phi)
    grows = (t > 0) & (t < 50)
    warm = np.where(grows, t, 20.0)
    rate = 1 / (WEEK_H * weeks_to_start(warm, rh))
    limit = critical_pct(warm, s.least_pct)
    return _march(t, rh, rate, np.full_like(t, s.slow), np.full_like(t, s.fast), limit, grows, (s.a, s.b, s.c), s.decline)


def _hours(t_C: ArrayLike, phi: ArrayLike) -> tuple[Array, Array]:
    t, rh = np.broadcast_arrays(np.asarray(t_C, dtype=float), 100 * np.asarray(phi, dtype=float))
    if t.ndim < 1 or np.any(rh > 101) or np.any(rh < 0):
        raise ValueError("mold: humidity must lie within 0 to 1, hours on the first axis")
    return t, np.clip(rh, 1.0, 100.0)


def _march(
    t: Array, rh: Array, rate: Array, slow: Array, fast: Array, critical: Array, grows: Array,
    top: tuple[float, float, float], decline: float,
) -> Array:  # fmt: skip
    a, b, c = top
    r = np.clip((critical - rh) / np.minimum(critical - 100, -1e-9), 0.0, 1.0)
    most = np.maximum(a + b * r - c * r * r, 0.0)
    wet = grows & (rh > critical + 1e-9)
    out = np.empty_like(t)
    m = np.zeros(t.shape[1:])
    dry = np.zeros(t.shape[1:])
    for k in range(len(t)):
        dry = np.where(wet[k], 0.0, dry + 1)
        brake = np.maximum(1 - np.exp(2.3 * (m - most[k])), 0.0)
        up = rate[k] * np.where(m < 1, slow[k], fast[k]) * brake
        down = np.where(dry <= 6, DECLINE_EARLY, np.where(dry <= 24, 0.0, DECLINE_LATE)) * decline
        m = np.maximum(m + np.where(wet[k], up, -down), 0.0)
        out[k] = m
    return out
