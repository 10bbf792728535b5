"""Heat to the ground: ISO 13370 for slabs on ground, their edge insulation, and heated basements."""

from __future__ import annotations

import math

SOURCE = "ISO 13370, formulas from memory"
SOIL_W_MK = {"clay": 1.5, "sand": 2.0, "rock": 3.5}  # ISO 13370 table of soils (from memory)


def characteristic_m(area_m2: float, perimeter_m: float) -> float:
    """Return B', the characteristic dimension, metres: area over half the exposed perimeter.

    >>> characteristic_m(50, 20)
    5.0
    """
    _above(area_m2, perimeter_m)
    return area_m2 / (0.5 * perimeter_m)


def equivalent_m(wall_m: float, soil: float, r_floor: float, rsi: float = 0.17, rse: float = 0.04) -> float:
    """Return d_t, the equivalent thickness of a floor, metres.

    wall_m: thickness of the outer wall; soil: conductivity, W/(m K); r_floor: all layers over the ground, m2K/W.
    """
    _above(soil)
    if min(wall_m, r_floor, rsi, rse) < 0:
        raise ValueError("thickness and resistances must not be negative")
    return wall_m + soil * (rsi + r_floor + rse)


def slab_u(b_m: float, dt_m: float, soil: float, deep_m: float = 0.0) -> float:
    """Return U of a slab on ground or a basement floor at `deep_m` below grade, W/(m2 K).

    b_m: B'; dt_m: equivalent thickness. ISO 13370: floors with little insulation (d_t + z/2 < B') follow the
    logarithm, others a fraction.

    >>> round(slab_u(20.0, 0.615, 1.5), 4)
    0.2192
    """
    _above(b_m, dt_m, soil)
    if deep_m < 0:
        raise ValueError("the depth must not be negative")
    d = dt_m + deep_m / 2
    if d < b_m:
        return 2 * soil / (math.pi * b_m + d) * math.log(math.pi * b_m / d + 1)
    return soil / (0.457 * b_m + d)


def basement_wall_u(deep_m: float, dw_m: float, dt_m: float, soil: float) -> float:
    """Return U of the wall of a heated basement, `deep_m` below grade, W/(m2 K): ISO 13370.

    dw_m: equivalent thickness of the wall, soil times (Rsi + Rw + Rse); dt_m: of the floor (taken no thicker than
    the wall's, as the standard asks).
    """
    _above(deep_m, dw_m, dt_m, soil)
    d = min(dt_m, dw_m)
    return 2 * soil / (math.pi * deep_m) * (1 + 0.5 * d / (d + deep_m)) * math.log(deep_m / dw_m + 1)


def edge_psi(dt_m: float, soil: float, r_edge: float, thick_m: float, wide_m: float, vertical: bool) -> float:
    """Return what insulation at the edge of a slab saves per metre of perimeter, W/(m K), 0 or less: ISO 13370.

    r_edge: its resistance, m2K/W; thick_m: its thickness; wide_m: its width under the slab or depth down the wall.
    The soil it takes the place of is left out: R' = R - thickness / soil.
    """
    _above(dt_m, soil, wide_m)
    if r_edge < 0 or thick_m < 0:
        raise ValueError("resistance and thickness must not be negative")
    more = max(r_edge - thick_m / soil, 0.0) * soil  # d', metres
    reach = 2 * wide_m if vertical else wide_m
    return -soil / math.pi * (math.log(reach / dt_m + 1) - math.log(reach / (dt_m + more) + 1))


def _above(*figures: float) -> None:
    if not all(math.isfinite(f) and f > 0 for f in figures):
        raise ValueError("areas, lengths and conductivities must be above 0")
