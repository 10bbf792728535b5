"""Fresh air that a house needs once it is tight: ASHRAE 62.2, whole-house rate and credit for leaks."""

from __future__ import annotations

CFM_M3_H = 0.3048**3 * 60.0  # m3/h of one cubic foot a minute, exact
FOOT_M = 0.3048  # m, exact
CFM_PER_FT2 = 0.03  # ASHRAE 62.2-2013 and later (seen)
CFM_PER_PERSON = 7.5  # ASHRAE 62.2 (seen); persons = bedrooms + 1
INFILTRATION = 0.052  # ASHRAE 62.2 (seen): cfm per cfm at 50 Pa
STORY_FT = 8.2  # ASHRAE 62.2 reference height (seen as 2.5 m)
HEIGHT_POWER = 0.4  # ASHRAE 62.2 z (seen)
LARGEST_CREDIT = 2.0 / 3.0  # of the whole rate, ASHRAE 62.2 (from memory)


def whole_house_rate_m3_h(floor_area_m2: float, bedrooms: int) -> float:
    """Return the whole-house rate of ASHRAE 62.2: 0.03 cfm a square foot plus 7.5 cfm a person (bedrooms + 1).

    floor_area_m2 > 0, bedrooms >= 0. Raises ValueError.

    >>> round(whole_house_rate_m3_h(2400 * 0.3048**2, 3) / CFM_M3_H, 6)
    102.0
    """
    if not floor_area_m2 > 0.0 or bedrooms < 0:
        raise ValueError("the floor area must be more than 0, bedrooms not less than 0")
    return (CFM_PER_FT2 * floor_area_m2 / FOOT_M**2 + CFM_PER_PERSON * (bedrooms + 1)) * CFM_M3_H


def height_factor(height_m: float) -> float:
    """Return the factor of ASHRAE 62.2 for height above ground (> 0): (height / 8.2 ft)^0.4.

    >>> [round(height_factor(s * STORY_FT * FOOT_M), 2) for s in (1, 2, 3)]
    [1.0, 1.32, 1.55]
    """
    if not height_m > 0.0:
        raise ValueError("the height must be more than 0")
    return float((height_m / (STORY_FT * FOOT_M)) ** HEIGHT_POWER)


def infiltration_m3_h(flow50_m3_h: float, weather_factor: float, height_m: float) -> float:
    """Return the yearly effective infiltration of ASHRAE 62.2: 0.052 wsf S Q50.

    weather_factor: wsf of the place, from the standard's table (0.3 in calm mild places, 0.7 in windy cold ones,
    above 1 on some coasts). Raises ValueError.
    """
    if not (flow50_m3_h >= 0.0 and weather_factor > 0.0):
        raise ValueError("the flow must not be less than 0, the weather factor more than 0")
    return INFILTRATION * weather_factor * height_factor(height_m) * flow50_m3_h


def fan_rate_m3_h(total_m3_h: float, infiltration: float, exterior_ratio: float = 1.0, balanced: bool = False) -> float:
    """Return what fans must bring: total - phi times infiltration times exterior_ratio, not less than 0.

    phi: 1 for balanced fans, infiltration / total for exhaust or supply alone, since fan and leaks do not add up
    (ASHRAE 62.2-2016 and later, seen). The infiltration counted is at most two thirds of the total.
    exterior_ratio: 1 for a detached house, else the part of the envelope that is not a shared wall.
    """
    if not (total_m3_h > 0.0 and infiltration >= 0.0 and 0.0 <= exterior_ratio <= 1.0):
        raise ValueError("the total must be more than 0, the exterior ratio between 0 and 1")
    counted = min(infiltration, LARGEST_CREDIT * total_m3_h)
    phi = 1.0 if balanced else counted / total_m3_h
    return max(0.0, total_m3_h - phi * counted * exterior_ratio)
