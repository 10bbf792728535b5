"""What bends: a nail or screw that carries weight across a gap (foam) from a furring strip to a stud.

Yield modes of NDS Table 12.3.1A and, with a gap, the general dowel equations of the American Wood Council's technical
report 12: the load per fastener at the 5 percent offset is the least root of A P^2 + B P + C = 0 over the modes. The foam
itself is not counted on. Furring tables through foam (IBC Table 2603.13.2, IRC Table R703.15.1) hold the slip to 0.015 in;
this load divided by `SLIP_DIVISOR` gives every row of that table (the divisor is fitted to it, not read anywhere).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.loads.rows import IN, PSI

SLIP_DIVISOR = 3.0  # offset load to load at the slip of 0.015 in: fitted to all rows of IBC 2018 Table 2603.13.2
STEEL_PA = 29e6 * PSI  # Young's modulus of steel
STEPS = ((0.099, 0.142, 100e3), (0.142, 0.177, 90e3), (0.177, 0.236, 80e3), (0.236, 0.273, 70e3), (0.273, 0.344, 60e3))


@dataclass(frozen=True)
class Dowel:
    """A nail, screw or lag in two members, SI.

    bearing_m: diameter that bears on the wood; bending_pa: bending yield strength; both at the thread's root where the
    thread crosses the joint.
    """

    bearing_m: float
    bending_pa: float


def bending_yield_pa(diameter_m: float) -> float:
    """Return the bending yield strength of nails and wood screws by diameter, Pa (NDS Table I1).

    diameter_m: 0.099 to 0.344 in; ValueError outside, and 45 ksi is given above it for lags and bolts of 3/8 in and more.

    >>> round(bending_yield_pa(0.131 * 0.0254) / 6894.757)
    100000
    """
    inches = round(diameter_m / IN, 6)
    if inches < STEPS[0][0]:
        raise ValueError(f"no bending yield is tabled for a shank of {inches} in")
    for low, high, psi in STEPS:
        if low <= inches <= high + 1e-9:
            return psi * PSI
    return 45e3 * PSI


def bearing_pa(gravity: float) -> float:
    """Return the dowel bearing strength of wood for nails and screws under 1/4 in, Pa: 16600 G^1.84 psi (NDS Table 12.3.3).

    gravity: 0.25 to 0.9; ValueError outside.

    >>> round(bearing_pa(0.5) / 6894.757)
    4637
    """
    if not 0.25 <= gravity <= 0.9:
        raise ValueError(f"specific gravity {gravity} is outside 0.25 to 0.9")
    return 16600.0 * math.pow(gravity, 1.84) * PSI


def reduction(diameter_m: float, mode: str = "IV") -> float:
    """Return the reduction term by mode: up to 0.17 in 2.2, to 1/4 in 10 D + 0.5; from 1/4 in 4, 3.6 and 3.2 for modes I, II
    and the rest, load along the grain (NDS Table 12.3.1B).

    diameter_m: at the root for a threaded fastener whose thread crosses the joint, > 0; mode: a name of `yield_modes`.

    >>> reduction(0.148 * IN), round(reduction(0.2 * IN), 6), reduction(0.265 * IN, "II")
    (2.2, 2.5, 3.6)
    """
    inches = diameter_m / IN
    if inches <= 0.17 + 1e-9:
        return 2.2
    if inches < 0.25:
        return 10 * inches + 0.5
    return {"Im": 4.0, "Is": 4.0, "II": 3.6}.get(mode, 3.2)


def yield_modes(
    dowel: Dowel, side_pa: float, side_m: float, main_pa: float, main_m: float, gap_m: float = 0.0
) -> dict[str, float]:
    """Return the load of each yield mode in single shear at the 5 percent offset, N, by the mode's name.

    side_pa, main_pa: bearing strengths, > 0; side_m, main_m: lengths in the side and the main member, > 0;
    gap_m: between them, >= 0. ValueError outside. The least governs. With no gap these are the modes of NDS Table 12.3.1A.

    >>> from lapwright.loads.rows import LBF
    >>> w = bearing_pa(0.5)
    >>> modes = yield_modes(Dowel(0.148 * IN, 90e3 * PSI), w, 0.75 * IN, w, 2.102 * IN)
    >>> {k: round(v / LBF / 2.2) for k, v in modes.items()}
    {'Im': 656, 'Is': 234, 'II': 219, 'IIIm': 229, 'IIIs': 105, 'IV': 117}
    """
    if min(side_pa, side_m, main_pa, main_m, dowel.bearing_m, dowel.bending_pa) <= 0 or gap_m < 0:
        raise ValueError("lengths and strengths must be positive and the gap not negative")
    d = dowel.bearing_m
    qs, qm, moment = side_pa * d, main_pa * d, dowel.bending_pa * d**3 / 6
    return {
        "Im": qm * main_m,
        "Is": qs * side_m,
        "II": _root(
            1 / (4 * qs) + 1 / (4 * qm), side_m / 2 + gap_m + main_m / 2, qs * side_m**2 / 4 + qm * main_m**2 / 4
        ),
        "IIIm": _root(1 / (2 * qs) + 1 / (4 * qm), gap_m + main_m / 2, moment + qm * main_m**2 / 4),
        "IIIs": _root(1 / (4 * qs) + 1 / (2 * qm), side_m / 2 + gap_m, qs * side_m**2 / 4 + moment),
        "IV": _root(1 / (2 * qs) + 1 / (2 * qm), gap_m, 2 * moment),
    }


def _root(a: float, b: float, c: float) -> float:
    """Return the positive root of a p^2 + b p - c = 0."""
    return (math.sqrt(b * b + 4 * a * c) - b) / (2 * a)


def offset_load(
    dowel: Dowel, side_pa: float, side_m: float, main_pa: float, main_m: float, gap_m: float
) -> tuple[float, str]:
    """Return the 5 percent offset load of the governing mode, N, and the mode's name. See `yield_modes`."""
    return min((v, k) for k, v in yield_modes(dowel, side_pa, side_m, main_pa, main_m, gap_m).items())


def thickest_gap(
    load_n: float, dowel: Dowel, side_pa: float, side_m: float, main_pa: float, main_m: float, cap_m: float = 4 * IN
) -> float:
    """Return the widest gap across which one fastener carries `load_n` within the slip limit, m; 0 when none, at most `cap_m`.

    The load falls as the gap grows, so it is found by halving, to 1e-9 m.
    """

    def holds(gap: float) -> bool:
        return offset_load(dowel, side_pa, side_m, main_pa, main_m, gap)[0] / SLIP_DIVISOR >= load_n

    if holds(cap_m):
        return cap_m
    if not holds(0.0):
        return 0.0
    low, high = 0.0, cap_m
    while high - low > 1e-9:
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def bare_slip_m(load_n: float, diameter_m: float, gap_m: float) -> float:
    """Return how far a bare screw, held stiff at both ends, bends sideways over a gap: P g^3 / (12 E I), m (beam theory).

    What the screw would do if the foam gave no help at all. load_n, gap_m >= 0; diameter_m > 0.

    >>> from lapwright.loads.rows import LBF
    >>> round(bare_slip_m(10 * LBF, 0.152 * IN, 2 * IN) / IN, 4)
    0.0088
    """
    inertia = math.pi * diameter_m**4 / 64
    return load_n * gap_m**3 / (12 * STEEL_PA * inertia)
