"""Properties of air: pressure with altitude, vapor pressure, density, viscosity.

Everything takes floats or arrays and returns the same shape. Temperatures in C, pressures in Pa.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

ZERO_C_K = 273.15  # K at 0 C, exact (definition of the Celsius scale)
P0_PA = 101325.0  # Pa, sea level, ISO 2533 (exact there)
T0_K = 288.15  # K, sea level, ISO 2533 (exact there)
LAPSE_K_M = 0.0065  # K/m up to 11 km, ISO 2533 (exact there)
G_M_S2 = 9.80665  # m/s2, standard gravity (exact)
R_DRY = 287.05287  # J/(kg K), ISO 2533; ISO 9972 prints 287.055 (from memory)
EPSILON = 0.621945  # molar mass of water / of dry air, ASHRAE Handbook Fundamentals ch. 1 (from memory)
T_STANDARD_C = 20.0  # C, reference of fan tests: ISO 9972 and ASTM E779 (from memory)
SUTHERLAND_B = 1.458e-6  # kg/(m s K^0.5), ISO 2533 (from memory)
SUTHERLAND_S = 110.4  # K, ISO 2533 (from memory)

# ln p = sum of c_k T^k (k = -1 .. 4) + c_ln ln T, T in K: Hyland and Wexler 1983, as ASHRAE prints them (from memory;
# the results are checked against the handbook's printed pressures).
_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


def standard_pressure_Pa(altitude_m: ArrayLike) -> Array:
    """Return the pressure of the standard atmosphere at an altitude.

    p = p0 (1 - L z / T0)^(g / (R L)); altitude_m in geopotential metres, -1000 to 11000. Weather moves the
    true pressure by up to about 5 %. Raises ValueError outside the range. Source: ISO 2533.

    >>> round(float(standard_pressure_Pa(1000.0)))
    89875
    """
    z = np.asarray(altitude_m, dtype=np.float64)
    _inside("altitude_m", z, -1000.0, 11000.0)
    return np.asarray(P0_PA * (1.0 - LAPSE_K_M * z / T0_K) ** (G_M_S2 / (R_DRY * LAPSE_K_M)))


def saturation_pressure_Pa(t_C: ArrayLike) -> Array:
    """Return the saturation pressure of water vapor over ice (below 0 C) or water, -100 to 200 C.

    Raises ValueError outside the range. Source: Hyland and Wexler 1983.

    >>> round(float(saturation_pressure_Pa(25.0)), 1)
    3169.2
    """
    t = np.asarray(t_C, dtype=np.float64)
    _inside("t_C", t, -100.0, 200.0)
    k = t + ZERO_C_K

    def pressure(c: tuple[float, ...]) -> Array:
        return np.asarray(
            np.exp(c[0] / k + c[1] + c[2] * k + c[3] * k**2 + c[4] * k**3 + c[5] * k**4 + c[6] * np.log(k))
        )

    return np.asarray(np.where(t < 0.0, pressure(_ICE), pressure(_WATER)))


def humidity_ratio(vapor_Pa: ArrayLike, pressure_Pa: ArrayLike = P0_PA) -> Array:
    """Return kg of water vapor per kg of dry air: 0.621945 p_v / (p - p_v), with 0 <= p_v < p.

    Raises ValueError otherwise. Source: ASHRAE Handbook Fundamentals ch. 1.
    """
    v, p = np.asarray(vapor_Pa, dtype=np.float64), np.asarray(pressure_Pa, dtype=np.float64)
    if np.any(~(v >= 0.0)) or np.any(~(v < p)):
        raise ValueError("vapor_Pa must lie between 0 and the air's pressure")
    return np.asarray(EPSILON * v / (p - v))


def density_kg_m3(t_C: ArrayLike, pressure_Pa: ArrayLike = P0_PA, rh: ArrayLike = 0.0) -> Array:
    """Return the density of moist air, kg/m3.

    rho = (p - (1 - 0.621945) p_v) / (R_dry T), p_v = rh times the saturation pressure; rh from 0 (dry) to 1.
    t_C -60 to 60; pressure_Pa 30000 to 120000. Raises ValueError outside. Ideal gases; ISO 9972 has the same
    form with 0.37802 (from memory).

    >>> round(float(density_kg_m3(20.0)), 4)
    1.2041
    """
    t = np.asarray(t_C, dtype=np.float64)
    p = np.asarray(pressure_Pa, dtype=np.float64)
    part = np.asarray(rh, dtype=np.float64)
    _inside("t_C", t, -60.0, 60.0)
    _inside("pressure_Pa", p, 30000.0, 120000.0)
    _inside("rh", part, 0.0, 1.0)
    return np.asarray((p - (1.0 - EPSILON) * part * saturation_pressure_Pa(t)) / (R_DRY * (t + ZERO_C_K)))


def viscosity_Pa_s(t_C: ArrayLike) -> Array:
    """Return the dynamic viscosity of air, Pa s: b T^1.5 / (T + S), -60 to 60 C. Source: ISO 2533.

    Raises ValueError outside the range.

    >>> f"{float(viscosity_Pa_s(15.0)):.4e}"
    '1.7894e-05'
    """
    t = np.asarray(t_C, dtype=np.float64)
    _inside("t_C", t, -60.0, 60.0)
    k = t + ZERO_C_K
    return np.asarray(SUTHERLAND_B * k**1.5 / (k + SUTHERLAND_S))


def _inside(name: str, values: Array, low: float, high: float) -> None:
    """Refuse values outside the range, and what is no number."""
    if np.any(~((values >= low) & (values <= high))):
        raise ValueError(f"{name} must lie between {low:g} and {high:g}")
