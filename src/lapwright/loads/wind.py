"""Wind on cladding: ASCE 7, components and cladding of an enclosed building up to 60 ft, allowable stress design."""

from __future__ import annotations

import math

FT = 0.3048
# terrain: exponent and gradient height in feet (ASCE 7-10/16 Table 26.9-1 / 26.11-1)
TERRAIN = {"B": (7.0, 1200.0), "C": (9.5, 900.0), "D": (11.5, 700.0)}
DIRECTIONALITY = 0.85  # ASCE 7 Table 26.6-1, components and cladding
INTERNAL = 0.18  # GCpi of an enclosed building, ASCE 7 Table 26.11-1 / 26.13-1
ASD = 0.6  # of the strength-level wind load, ASCE 7 section 2.4
LEAST_PA = 10.0 * 47.88025898033584  # 10 psf, the least that IRC Table R301.2(2) prints; ASCE 7 30.2.2: 0.6 x 16 psf (from memory)
MPH = 0.44704
PSF = 47.88025898033584
LOW_FT, HIGH_FT = 15.0, 60.0


def height_factor(height_m: float, exposure: str) -> float:
    """Return Kz = 2.01 (z / zg)^(2 / alpha), z at least 15 ft (ASCE 7 Table 26.10-1, note 1).

    height_m: mean roof height, 0 to 60 ft; exposure: B, C or D. ValueError outside.

    >>> round(height_factor(30 * FT, "B"), 4)
    0.7006
    """
    if exposure not in TERRAIN:
        raise ValueError(f"exposure {exposure!r} is none of B, C, D")
    if not 0 <= height_m <= HIGH_FT * FT + 1e-9:
        raise ValueError(f"mean roof height {height_m / FT:.1f} ft is outside 0 to 60 ft")
    alpha, gradient = TERRAIN[exposure]
    return 2.01 * math.pow(max(height_m / FT, LOW_FT) / gradient, 2 / alpha)


def velocity_pressure(speed_m_s: float, height_m: float, exposure: str, topographic: float = 1.0) -> float:
    """Return the velocity pressure, Pa, strength level: 0.00256 Kz Kzt Kd V^2 psf, V in mph (ASCE 7 equation 26.10-1).

    speed_m_s: basic (ultimate) 3 s gust, 0 to 100; topographic: Kzt >= 1. ValueError outside.

    >>> round(0.6 * velocity_pressure(110 * MPH, 30 * FT, "B") / PSF, 1)
    11.1
    """
    if not 0 < speed_m_s <= 100:
        raise ValueError(f"wind speed {speed_m_s} m/s is outside 0 to 100")
    mph = speed_m_s / MPH
    return 0.00256 * height_factor(height_m, exposure) * topographic * DIRECTIONALITY * mph**2 * PSF


def wall_coefficient(zone: int, area_m2: float, outward: bool) -> float:
    """Return GCp of a wall (ASCE 7 Figure 30.3-1; lines from memory, sure): zone 4 field, 5 corner; suction is negative.

    area_m2: effective wind area, > 0; it counts as 10 to 500 sq ft. ValueError for another zone or no area.

    >>> [round(wall_coefficient(z, 10 * FT**2, True), 3) for z in (4, 5)]
    [-1.1, -1.4]
    """
    if zone not in (4, 5) or not area_m2 > 0:
        raise ValueError("walls have zones 4 and 5, and an area above zero")
    spread = math.log10(min(max(area_m2 / FT**2, 10.0), 500.0))
    if not outward:
        return 1.1766 - 0.1766 * spread
    return -1.2766 + 0.1766 * spread if zone == 4 else -1.7532 + 0.3532 * spread


def design_pressure(velocity_pa: float, coefficient: float) -> float:
    """Return the allowable-stress pressure, Pa: 0.6 q (GCp with GCpi of the worse sign). Suction is negative.

    >>> round(design_pressure(velocity_pressure(110 * MPH, 30 * FT, "B"), -1.0) / PSF)
    -13
    """
    worse = coefficient - INTERNAL if coefficient < 0 else coefficient + INTERNAL
    return ASD * velocity_pa * worse


def corner_width(width_m: float, height_m: float) -> float:
    """Return how far zone 5 reaches from a corner: a tenth of the least width or 0.4 h, whichever is less, at least 4 % or 3 ft."""
    return max(min(0.1 * width_m, 0.4 * height_m), 0.04 * width_m, 3 * FT)
