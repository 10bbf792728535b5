"""What pulls out: thread or shank out of the stud, head through the furring.

Reference values of the National Design Specification for Wood Construction (NDS), section 12.2, allowable stress design, before
any factor: multiply by the load duration factor (`WIND_DURATION` under wind, NDS Table 2.3.2). Side grain, dry wood.
"""

from __future__ import annotations

import math

from lapwright.loads.rows import IN, LBF

WIND_DURATION = 1.6  # NDS Table 2.3.2, ten minutes: wind
DEAD_DURATION = 0.9  # NDS Table 2.3.2, permanent
TO_SI = LBF / IN  # N/m of one lb/in


def _checked(gravity: float, **lengths: float) -> None:
    if not 0.25 <= gravity <= 0.9:
        raise ValueError(f"specific gravity {gravity} is outside 0.25 to 0.9")
    for name, value in lengths.items():
        if not 0 < value < 1:
            raise ValueError(f"{name} {value} is outside 0 to 1 m")


def screw_withdrawal(gravity: float, diameter_m: float) -> float:
    """Return the withdrawal of a wood screw per length of thread in the wood, N/m: 2850 G^2 D lb/in (NDS 12.2-2).

    gravity: oven-dry specific gravity, 0.25 to 0.9; diameter_m: of the unthreaded shank, 0 < d < 1. ValueError outside.

    >>> round(screw_withdrawal(0.51, 0.190 * 0.0254) / 175.1268, 1)
    140.8
    """
    _checked(gravity, diameter=diameter_m)
    return 2850.0 * gravity**2 * (diameter_m / IN) * TO_SI


def lag_withdrawal(gravity: float, diameter_m: float) -> float:
    """Return the withdrawal of a lag screw per length of thread in the wood, tip left out, N/m: 1800 G^1.5 D^0.75 lb/in (NDS 12.2-1).

    gravity: 0.25 to 0.9; diameter_m: 0 < d < 1. ValueError outside.

    >>> round(lag_withdrawal(0.43, 0.25 * 0.0254) / 175.1268)
    179
    """
    _checked(gravity, diameter=diameter_m)
    return 1800.0 * math.pow(gravity, 1.5) * math.pow(diameter_m / IN, 0.75) * TO_SI


def nail_withdrawal(gravity: float, diameter_m: float, ring: bool = False) -> float:
    """Return the withdrawal of a nail per length in the wood, N/m.

    Plain shank 1380 G^2.5 D lb/in (NDS 12.2-3); ring shank 1800 G^2 D (NDS 2018 12.2-5), both clauses from memory.
    gravity: 0.25 to 0.9; diameter_m: 0 < d < 1. ValueError outside.

    >>> round(nail_withdrawal(0.55, 0.131 * 0.0254) / 175.1268)
    41
    """
    _checked(gravity, diameter=diameter_m)
    pounds = 1800.0 * gravity**2 if ring else 1380.0 * gravity**2.5
    return pounds * (diameter_m / IN) * TO_SI


def head_pull_through(gravity: float, head_m: float, side_m: float) -> float:
    """Return the pull of a round head through the side member, N.

    690 pi D G^2 t lb up to t = 2.5 D, beyond it 1725 pi D^2 G^2 (NDS 2018 12.2-6, clause and figures from memory), with head
    diameter D and side member t. gravity: 0.25 to 0.9; head_m, side_m: 0 to 1. ValueError outside.

    >>> round(head_pull_through(0.42, 0.375 * 0.0254, 0.75 * 0.0254) / 4.448222)
    108
    """
    _checked(gravity, head=head_m, side=side_m)
    head, side = head_m / IN, min(side_m, 2.5 * head_m) / IN
    return 690.0 * math.pi * head * gravity**2 * side * LBF
