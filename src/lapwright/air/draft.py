"""How far exhaust fans pull a house below the outside, and what a chimney that draws by itself can stand."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.air.ventilation import CFM_M3_H, FOOT_M

# Net exhaust of the two largest fans with open-draft fires in the house: ASHRAE 62.2 section 6.4 (from memory).
EXHAUST_M3_H_M2 = 15.0 * CFM_M3_H / (100.0 * FOOT_M**2)
# Below this rate the fuel gas code no longer lets a room's volume count as combustion air by the standard method:
# IFGC 304.5.1, IRC G2407.5.1 (from memory).
LEAST_NATURAL_1_H = 0.40
# Air changes at 50 Pa over air changes by weather, a rule of thumb (common practice; 10 to 30 is found).
NATURAL_DIVISOR = 20.0
# At or below this air change at 50 Pa a house needs fans: IRC R303.4 (2015: less than 5; 2018 on: 5 or less; from memory).
FANS_BELOW_1_H = 5.0


@dataclass(frozen=True)
class DraftLimit:
    """How far below the outside the room of an appliance may be pulled."""

    code: str
    what: str
    limit_Pa: float


# Limits of weatherization programs (seen on a public audit form); editions differ, the maker's sheet goes first.
DRAFT_LIMITS: tuple[DraftLimit, ...] = (
    DraftLimit("water_heater", "natural-draft water heater on its own chimney", 2.0),
    DraftLimit("shared", "natural-draft boiler or furnace that shares a chimney with a water heater", 3.0),
    DraftLimit("heater", "natural-draft boiler or furnace alone", 5.0),
    DraftLimit("fan_assisted", "power-vented or induced-draft appliance", 15.0),
)


def depressurization_Pa(exhaust_m3_h: float, C: float, n: float) -> float:
    """Return the pressure below outside at which the leaks let in what the fans take out: (Q / C)^(1 / n).

    exhaust_m3_h >= 0 net of any supply; C in m3/h at 1 Pa, > 0; n > 0. Doors inside the house open; with doors
    shut the room of an appliance can be pulled further. Raises ValueError.

    >>> round(depressurization_Pa(300.0, 100.0, 0.65), 2)
    5.42
    """
    if not (exhaust_m3_h >= 0.0 and C > 0.0 and n > 0.0):
        raise ValueError("the exhaust must not be less than 0; C and n must be more than 0")
    return float((exhaust_m3_h / C) ** (1.0 / n))


def natural_air_change_1_h(ach50: float) -> float:
    """Return a rough air change by weather alone: that at 50 Pa over 20 (common practice)."""
    return ach50 / NATURAL_DIVISOR
