"""What a slab takes: concrete, tube, days to dry."""

from __future__ import annotations

import math

LONGEST_LOOP_M = 91.44  # 300 ft of 1/2 in tube in one loop: common practice, no source
DRY_DAYS_PER_M = 28 / 0.0254  # about a month for each inch of thickness drying to one side: common practice
EDGE_M = 0.1524  # tube stays 6 in off walls: common practice


def concrete_m3(area_m2: float, thickness_m: float) -> float:
    """Return the volume poured, without waste, m3. Both >= 0.

    >>> concrete_m3(10, 0.1)
    1.0
    """
    return area_m2 * thickness_m


def tube(area_m2: float, rim_m: float, spacing_m: float) -> tuple[float, int]:
    """Return (length of tube in metres, loops) for a floor of that area and rim, laid `spacing_m` apart.

    The strip within 6 in of the walls is left out. Loops have at most 300 ft. spacing > 0.
    """
    inner = max(0.0, area_m2 - rim_m * EDGE_M)
    length = inner / spacing_m
    return length, math.ceil(length / LONGEST_LOOP_M - 1e-9)


def drying_days(thickness_m: float) -> float:
    """Return how long a slab over a retarder takes to dry before flooring, days; a reading decides, not the calendar."""
    return thickness_m * DRY_DAYS_PER_M
