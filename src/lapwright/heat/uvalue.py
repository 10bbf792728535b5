"""Heat through flat walls: layers in a row, framing beside insulation, fasteners, air gaps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

# Correction for air gaps, W/(m2 K), ISO 6946 annex on corrections (from memory): none; gaps that bridge from hot to
# cold side; and those with air going round behind them.
GAP_DU = (0.0, 0.01, 0.04)


@dataclass(frozen=True)
class Framed:
    """A wall with parts side by side, all resistances m2K/W with films.

    paths: each part's own resistance; upper: paths beside one another (ISO 6946 R'T, the parallel path method);
    lower: each layer mixed first (R''T, isothermal planes); combined: mean of both, ISO 6946.
    """

    paths: tuple[float, ...]
    upper: float
    lower: float

    @property
    def combined(self) -> float:
        """ISO 6946 R_T, m2K/W."""
        return (self.upper + self.lower) / 2

    @property
    def spread(self) -> float:
        """ISO 6946: the most the combined value can err, as a share (upper - lower over twice the mean)."""
        return (self.upper - self.lower) / (2 * self.combined)


def framed(layers: ArrayLike, shares: ArrayLike, films: float = 0.0) -> Framed:
    """Return the resistances of a wall whose parts have the area shares `shares`.

    layers: (n layers, m parts), resistance of each layer in each part, m2K/W, at least 0; a layer that is the same
    all over repeats its figure. shares: (m,), above 0, adding to 1. films: both surface resistances together.

    >>> flat = [[r, r] for r in (0.132, 0.090, 0.146, 0.100)]
    >>> wall = framed([*flat, [3.333, 1.077]], [0.905, 0.095], films=0.17)
    >>> round(wall.upper, 3), round(wall.lower, 3), round(1 / wall.combined, 3)
    (3.53, 3.418, 0.288)
    """
    r, f = np.asarray(layers, float), np.asarray(shares, float)
    if r.ndim != 2 or f.shape != (r.shape[1],):
        raise ValueError("layers must be (layers, parts) and shares (parts,)")
    if not (np.isfinite(r).all() and (r >= 0).all() and films >= 0):
        raise ValueError("resistances must be finite and at least 0")
    if (f <= 0).any() or not math.isclose(float(f.sum()), 1.0, abs_tol=1e-6):
        raise ValueError("shares must be above 0 and add to 1")
    paths = r.sum(axis=0) + films
    if (paths <= 0).any():
        raise ValueError("a part has no resistance at all")
    with np.errstate(divide="ignore"):
        mixed = 1 / (f / r).sum(axis=1)  # a layer without resistance in one part has none at all
    return Framed(tuple(float(p) for p in paths), float(1 / (f / paths).sum()), float(mixed.sum() + films))


def fastener_du(
    per_m2: float, area_m2: float, k: float, length_m: float, foam_m: float, r_foam: float, r_total: float
) -> float:
    """Return what fasteners through an insulation layer add to U, W/(m2 K): ISO 6946 annex on corrections.

    per_m2: how many; area_m2: cross-section of one; k: its conductivity, W/(m K); length_m: length inside the
    insulation; foam_m: thickness of it; r_foam, r_total: its resistance and the wall's, m2K/W. alpha is 0.8 for a
    fastener all the way through, 0.8 length/thickness for one recessed (from memory).

    >>> round(fastener_du(5, 1.9635e-5, 50, 0.1, 0.1, 3.0, 3.0), 5)
    0.03927
    """
    if min(per_m2, area_m2, k, length_m, foam_m, r_foam, r_total) < 0 or foam_m == 0 or r_total == 0:
        raise ValueError("figures of fasteners must not be negative, and the insulation needs a thickness")
    alpha = 0.8 * min(length_m / foam_m, 1.0)
    return alpha * k * area_m2 * per_m2 / foam_m * (r_foam / r_total) ** 2


def gap_du(level: int, r_layer: float, r_total: float) -> float:
    """Return what air gaps in an insulation layer add to U, W/(m2 K): ISO 6946; level 0, 1 or 2 (see GAP_DU)."""
    if level not in (0, 1, 2) or r_total <= 0 or r_layer < 0:
        raise ValueError("level must be 0, 1 or 2 and resistances positive")
    return GAP_DU[level] * (r_layer / r_total) ** 2


def conductivity_at(k_ref: float, t_mean_c: ArrayLike, points: Sequence[tuple[float, float]], aged: float = 1.0) -> NDArray[np.float64]:
    """Return conductivity at a mean temperature, W/(m K).

    k_ref: declared conductivity, W/(m K); points: (Celsius, factor on k_ref), rising, at least one, held beyond the
    ends and straight between; aged: factor for age, 1 or more.

    >>> conductivity_at(0.024, [-10, 24], [(-10, 1.25), (10, 1.0), (24, 1.02)]).round(4).tolist()
    [0.03, 0.0245]
    """
    at = np.array([p[0] for p in points], float)
    if k_ref <= 0 or aged < 1 or not len(at) or (np.diff(at) <= 0).any():
        raise ValueError("conductivity above 0, age factor 1 or more, points rising")
    factor = np.interp(np.asarray(t_mean_c, float), at, [p[1] for p in points])
    return np.asarray(k_ref * aged * factor, dtype=np.float64)
