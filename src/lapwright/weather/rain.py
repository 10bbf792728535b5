"""Rain that the wind drives against a face."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[Any]
# ASHRAE 160-2021, 4.6: exposure of the terrain and height, deposition on the face (from memory, forms seen).
EXPOSURE = {("severe", "low"): 1.3, ("medium", "low"): 1.0, ("sheltered", "low"): 0.7, ("severe", "high"): 1.4, ("medium", "high"): 1.2, ("sheltered", "high"): 1.0}  # fmt: skip
DEPOSITION = {"below a steep roof": 0.35, "below a low roof": 0.5, "with run-off": 1.0}
EMPIRICAL_S_M = 0.2  # F_L, kg s/(m3 mm)


def airfield_index(wind_m_s: ArrayLike, from_deg: ArrayLike, rain_mm_h: ArrayLike, azimuth_deg: float) -> Array:
    """Return the hourly airfield index (L/m2), ISO 15927-3:2009: 2/9 v r^(8/9) cos(D - theta), 0 from behind.

    wind at 10 m over open ground; from_deg: where it blows from, clockwise from north.

    >>> round(float(airfield_index(8.0, 30.0, 2.5, 0.0)), 5)
    3.47642
    """
    v, r = np.asarray(wind_m_s, dtype=float), np.maximum(np.asarray(rain_mm_h, dtype=float), 0.0)
    facing = np.cos(np.radians(np.asarray(from_deg, dtype=float) - azimuth_deg))
    return np.asarray(2 / 9 * v * r ** (8 / 9) * np.maximum(facing, 0.0))


def wall_rain(
    wind_m_s: ArrayLike, from_deg: ArrayLike, rain_mm_h: ArrayLike, azimuth_deg: float, exposure: float, deposition: float
) -> Array:
    """Return rain on a wall, mm/h (kg/(m2 h)), ASHRAE 160: F_E F_D 0.2 v r cos(D - theta).

    exposure: F_E 0.7 to 1.5; deposition: F_D 0.35 to 1.
    """
    facing = np.cos(np.radians(np.asarray(from_deg, dtype=float) - azimuth_deg))
    strike = EMPIRICAL_S_M * np.asarray(wind_m_s, dtype=float) * np.asarray(rain_mm_h, dtype=float)
    return np.asarray(exposure * deposition * strike * np.maximum(facing, 0.0))
