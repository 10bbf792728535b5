"""What stands between the gauge and the flow through the walls: zero-flow pressure and air density.

Each correction is a function of its own, so that a report can name those that were made.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from lapwright.air.properties import Array

Mode = Literal["pressurize", "depressurize"]


def induced_pressure_Pa(measured_Pa: ArrayLike, zero_Pa: ArrayLike) -> Array:
    """Return the pressure that the fan alone makes: what was measured less what stood there with the fan off.

    zero_Pa: one value for all readings, or one per reading (signed like the readings).
    Source: ISO 9972, mean of the zero-flow pressures before and after (from memory).
    """
    return np.asarray(np.asarray(measured_Pa, dtype=np.float64) - np.asarray(zero_Pa, dtype=np.float64))


def device_factor(density_at_fan: float, density_of_scale: float) -> float:
    """Return the factor from the flow that a fan's scale indicates to the flow that truly passes it.

    sqrt(density_of_scale / density_at_fan): a nozzle or orifice reads by its pressure drop rho v^2 / 2, and its
    scale holds for one density (kg/m3, both > 0). Source: Bernoulli; ASTM E779 asks for it (from memory).
    """
    _positive(density_at_fan, density_of_scale)
    return float(np.sqrt(density_of_scale / density_at_fan))


def envelope_factor(mode: Mode, density_in: float, density_out: float) -> float:
    """Return the factor from the flow through the fan to the flow through the leaks.

    Mass is kept: depressurizing, the fan moves indoor air while outdoor air comes through the leaks, rho_in /
    rho_out; pressurizing, the other way round. Densities in kg/m3, > 0. Source: ISO 9972 (from memory).
    """
    _positive(density_in, density_out)
    return density_in / density_out if mode == "depressurize" else density_out / density_in


def standard_factor(
    n: float, density: float, density_0: float, viscosity: float = 1.0, viscosity_0: float = 1.0
) -> float:
    """Return the factor from the flow coefficient on the day to that at standard conditions.

    (rho / rho_0)^(1 - n) times (mu / mu_0)^(2 n - 1); rho and mu are those of the air in the leaks: outdoor air
    when depressurizing, indoor air when pressurizing. ISO 9972 leaves the viscosity out (then pass none);
    ASTM E779 has both (each from memory). All > 0.
    """
    _positive(density, density_0, viscosity, viscosity_0)
    return float((density / density_0) ** (1.0 - n) * (viscosity / viscosity_0) ** (2.0 * n - 1.0))


def _positive(*values: float) -> None:
    if not all(v > 0.0 and np.isfinite(v) for v in values):
        raise ValueError("densities and viscosities must be more than 0")
