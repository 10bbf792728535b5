"""Vapor in air: saturation pressure with its slope, permeability of still air, and the constants of the transport.

Saturation: ISO 13788:2012 Annex E (the form of Magnus): 610.5 exp(17.269 t / (237.3 + t)) at and above 0 C,
610.5 exp(21.875 t / (265.5 + t)) below, over ice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[Any]

KELVIN = 273.15  # K at 0 C
R_VAPOR = 461.5  # J/(kg K), gas constant of water vapor; 8.314 / 0.018015
WATER_KG_M3 = 1000.0  # density of liquid water
T_REF_K = 293.15  # K; sorption and liquid transport of materials are stated at 20 C
SUCTION_REF_PA = WATER_KG_M3 * R_VAPOR * T_REF_K  # Pa; suction at humidity exp(-1) and 20 C
LATENT_J_KG = 2.5e6  # J/kg, evaporation at 0 C, held constant as in EN 15026
FUSION_J_KG = 3.34e5  # J/kg, melting of ice
WATER_J_KGK = 4187.0  # J/(kg K), heat capacity of liquid water
AIR_J_KGK = 1006.0  # J/(kg K), heat capacity of dry air at constant pressure
ATMOSPHERE_PA = 101325.0  # Pa at sea level
PERM_SI = 57.2135e-12  # kg/(s m2 Pa) in one US perm (grain/(h ft2 inHg))
PRESSURE_PER_TEMPERATURE = 0.62198  # ratio of the molar masses of water and dry air


def saturation_Pa(t_C: ArrayLike) -> Array:
    """Return the saturation vapor pressure (Pa) at t_C (C, any shape, -60..100), over ice below 0 C.

    Source: ISO 13788:2012 Annex E.

    >>> [round(float(p), 2) for p in saturation_Pa([-10.0, 20.0])]
    [259.33, 2336.95]
    """
    t = np.asarray(t_C, dtype=float)
    ice = t < 0
    return np.asarray(610.5 * np.exp(np.where(ice, 21.875, 17.269) * t / (np.where(ice, 265.5, 237.3) + t)))


def saturation_over_water_Pa(t_C: ArrayLike) -> Array:
    """Return the saturation pressure (Pa) over water at t_C (C), also below 0 C, as weather stations state humidity.

    >>> round(float(saturation_over_water_Pa(-10.0)), 1)
    285.6
    """
    t = np.asarray(t_C, dtype=float)
    return 610.5 * np.exp(17.269 * t / (237.3 + t))


def dew_point_C(p_Pa: ArrayLike) -> Array:
    """Return the dew point (C), the frost point below 0 C, of vapor pressure p_Pa (Pa, above 0).

    >>> round(float(dew_point_C(2336.95)), 3)
    20.0
    """
    x = np.log(np.maximum(np.asarray(p_Pa, dtype=float), 1e-9) / 610.5)
    return np.asarray(np.where(x < 0, 265.5 * x / (21.875 - x), 237.3 * x / (17.269 - x)))


def air_permeability(t_C: ArrayLike, pressure_Pa: float = ATMOSPHERE_PA) -> Array:
    """Return the vapor permeability of still air, kg/(m s Pa), at t_C (C) and pressure_Pa.

    Schirmer's formula, 2.306e-5 p0/(R T p) (T/273.15)^1.81, as ISO 12572 states it.

    >>> round(float(air_permeability(20.0)) * 1e10, 3)
    1.937
    """
    kelvin = np.asarray(t_C, dtype=float) + KELVIN
    return 2.306e-5 * ATMOSPHERE_PA / (pressure_Pa * R_VAPOR * kelvin) * (kelvin / KELVIN) ** 1.81


def potential(phi: ArrayLike) -> Array:
    """Return u = -ln(-ln phi), the unknown of the solver, for humidity phi (0 < phi < 1) at 20 C.

    It is minus the logarithm of suction over `SUCTION_REF_PA`, so that the wet end (0.99 to 0.99999) has as much
    room as the dry one.

    >>> round(float(potential(0.5)), 4)
    0.3665
    """
    return np.asarray(-np.log(-np.log(np.asarray(phi, dtype=float))))


def humidity(u: ArrayLike, t_C: ArrayLike = 20.0) -> Array:
    """Return relative humidity over a surface of potential u at t_C (Kelvin's equation: suction is kept).

    >>> round(float(humidity(potential(0.8))), 6)
    0.8
    """
    return np.asarray(np.exp(-np.exp(-np.asarray(u, dtype=float)) * T_REF_K / (np.asarray(t_C, dtype=float) + KELVIN)))
