"""Condensation by the month, ISO 13788: what the steady method says, beside the transient answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from lapwright.moisture.vapor import Array, dew_point_C, saturation_Pa

AIR_DELTA = 2.0e-10  # kg/(m s Pa), vapor permeability of air in ISO 13788
DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


@dataclass(frozen=True)
class Monthly:
    """What the twelve months say. condensed: (12, interfaces) kg/m2 gained in the month; held: kg/m2 at its end;
    t_C: (12, interfaces) temperature of each interface; first: month (0..11) that the year was begun with;
    dries: whether all of it is gone by the end of the year."""

    condensed: Array
    held: Array
    t_C: Array
    first: int
    dries: bool


def dew_point_place(resistance: Sequence[float], t_in_C: float, phi_in: float, t_out_C: float) -> float | None:
    """Return the share (0 inside, 1 outside) of the heat resistance at which the room air's dew point lies, or None."""
    dew = float(dew_point_C(phi_in * float(saturation_Pa(t_in_C))))
    if t_in_C <= t_out_C or dew <= t_out_C or sum(resistance) <= 0:
        return None
    return (t_in_C - dew) / (t_in_C - t_out_C)


def monthly(
    resistance: Sequence[float], sd_m: Sequence[float], r_in: float, r_out: float,
    t_out_C: Sequence[float], phi_out: Sequence[float], t_in_C: Sequence[float], phi_in: Sequence[float],
) -> Monthly:  # fmt: skip
    """Return twelve months of condensation between layers, ISO 13788:2012 clause 6.

    resistance (m2 K/W), sd_m (m of still air): layers outside to inside; r_in, r_out: films; twelve values of air
    temperature (C) and humidity (0..1), January first. Water is taken to condense at interfaces only.

    Raises ValueError when lengths differ or a resistance to vapor is not above 0.
    """
    heat, vapor = np.asarray(resistance, dtype=float), np.asarray(sd_m, dtype=float)
    if heat.shape != vapor.shape or heat.ndim != 1 or len(heat) < 1:
        raise ValueError("monthly: as many heat resistances as vapor resistances are needed")
    if np.any(vapor <= 0) or np.any(heat < 0):
        raise ValueError(f"monthly: sd must be above 0 and heat resistance not negative, got {vapor}, {heat}")
    x = np.concatenate([[0.0], np.cumsum(vapor)])
    share = (r_out + np.cumsum(heat)[:-1]) / (r_out + heat.sum() + r_in)
    te, ti = np.asarray(t_out_C, dtype=float), np.asarray(t_in_C, dtype=float)
    t = te[:, None] + (ti - te)[:, None] * share
    limit = np.asarray(saturation_Pa(t))
    pe, pi = np.asarray(phi_out) * saturation_Pa(te), np.asarray(phi_in) * saturation_Pa(ti)
    n = limit.shape[1]
    wet = np.zeros(n, dtype=bool)
    begin = next((k for k in range(12) if _flows(x, pe[k], limit[k], pi[k], wet).max(initial=0.0) > 1e-15), 0)
    # The year begins with the first month of condensation after a month without.
    for k in range(begin, begin + 12):
        before = _flows(x, pe[(k - 1) % 12], limit[(k - 1) % 12], pi[(k - 1) % 12], wet).max(initial=0.0)
        now = _flows(x, pe[k % 12], limit[k % 12], pi[k % 12], wet).max(initial=0.0)
        if now > 1e-15 and before <= 1e-15:
            begin = k % 12
            break
    held, gained, level = np.zeros((12, n)), np.zeros((12, n)), np.zeros(n)
    for k in range(begin, begin + 12):
        i = k % 12
        rate = _flows(x, pe[i], limit[i], pi[i], level > 0)
        change = rate * DAYS[i] * 86400.0
        new = np.maximum(level + change, 0.0)
        gained[i], held[i], level = new - level, new, new
    return Monthly(gained, held, t, begin, bool(level.max(initial=0.0) < 1e-9))


def _flows(x: Array, p_out: float, limit: Array, p_in: float, wet: np.ndarray) -> Array:
    """Return kg/(m2 s) gained at each interface: the vapor line is the tautest string under the saturation line.

    Interfaces that hold water are pinned to saturation.
    """
    n = len(limit)
    p = np.concatenate([[p_out], limit, [p_in]])
    pins = [0, *(int(k) + 1 for k in np.flatnonzero(wet)), n + 1]
    on: list[int] = [0]
    for a, b in pairwise(pins):
        hull: list[int] = []
        for k in range(a, b + 1):
            while len(hull) > 1 and _turn(x, p, hull[-2], hull[-1], k) <= 0:
                hull.pop()
            hull.append(k)
        on += hull[1:]
    slope = [AIR_DELTA * (p[b] - p[a]) / (x[b] - x[a]) for a, b in pairwise(on)]
    out = np.zeros(n)
    for k, node in enumerate(on[1:-1]):
        out[node - 1] = slope[k + 1] - slope[k]
    return out


def _turn(x: Array, p: Array, a: int, b: int, c: int) -> float:
    return float((x[b] - x[a]) * (p[c] - p[a]) - (p[b] - p[a]) * (x[c] - x[a]))
