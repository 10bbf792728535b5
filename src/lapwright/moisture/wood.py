"""How wet wood gets in air, and what a wood-based board's water means."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lapwright.moisture.vapor import Array

FIBER_SATURATION_PCT = 28.0  # about 28 to 30 % in most species, Wood Handbook (FPL-GTR-282) chapter 4
DECAY_PCT = 26.0  # decay fungi start near fiber saturation; below 26 % they do not take hold (common practice)
DRY_PCT = 19.0  # "dry" lumber, PS 20


def equilibrium_pct(t_C: ArrayLike, phi: ArrayLike) -> Array:
    """Return the equilibrium moisture content of wood, percent of dry mass, at t_C (C) and humidity phi (0..1).

    US Forest Products Laboratory, FPL-RN-0268 (Simpson 1998). 0 to 60 C; up to 0.99.

    >>> round(float(equilibrium_pct(20.0, 0.5)), 2)
    9.27
    """
    t, h = np.asarray(t_C, dtype=float), np.clip(np.asarray(phi, dtype=float), 0.0, 0.999)
    w = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    return np.asarray(1800 / w * (kh / (1 - kh) + (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2)))


def content_pct(water_kg_m3: ArrayLike, density_kg_m3: float) -> Array:
    """Return moisture content in percent of dry mass from water (kg/m3) and dry density (kg/m3, above 0)."""
    return np.asarray(100 * np.asarray(water_kg_m3, dtype=float) / density_kg_m3)
