"""Foam under a slab: what presses on it, and which boards take it.

A slab spreads a load over the foam beneath it like a plate on springs (Westergaard's interior load, as in the
published data sheet of extruded polystyrene by compressive class): the pressure under a point load P is
(P / 8) sqrt(K / D), with the plate's stiffness D = E t^3 / (12 (1 - nu^2)) and the springs' modulus K.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

PSI_PA = 6894.757293168361  # lbf/in2, exact to the figures shown
IN_M = 0.0254
NU = 0.15  # of concrete, as in the published example
STRENGTH_PSI = 2500.0  # of the concrete where nobody says (IRC R402.2, least)
CONCRETE_KG_M3 = 2400.0  # plain concrete, from memory
GRAVITY = 9.80665
DEAD_SHARE, LIVE_SHARE = 1 / 3, 1 / 5  # of the strength: common practice and the published data sheet


def concrete_modulus_pa(strength_pa: float) -> float:
    """Return Young's modulus of normal concrete: 57000 sqrt(f'c) in psi (ACI 318, clause from memory). strength > 0.

    >>> round(concrete_modulus_pa(2500 * PSI_PA) / PSI_PA)
    2850000
    """
    return 57000.0 * math.sqrt(strength_pa / PSI_PA) * PSI_PA


def springs_n_m3(layers: Sequence[float]) -> float:
    """Return the modulus of layers one on another, N/m3 each: springs in series. At least one layer, all > 0."""
    return 1.0 / math.fsum(1.0 / k for k in layers)


def plate_pressure_pa(load_n: float, springs: float, thickness_m: float, strength_pa: float) -> float:
    """Return the pressure under a point load on a slab over springs, Pa.

    load_n: N, >= 0; springs: N/m3, > 0; thickness_m: of the slab, > 0; strength_pa: of the concrete, > 0.
    """
    stiffness = concrete_modulus_pa(strength_pa) * thickness_m**3 / (12 * (1 - NU**2))
    return load_n / 8 * math.sqrt(springs / stiffness)


@dataclass(frozen=True)
class Board:
    """One kind of board as the catalog has it, SI; None = not given."""

    product: str
    title: str
    thickness_m: float
    strength_pa: float | None
    live_pa: float | None
    dead_pa: float | None
    springs: float | None  # N/m3 of one board of that thickness
    conductivity: float | None
    water_pct: float | None
    ground: bool | None
    price_m2: float | None = None
    kgCO2e_m2: float | None = None


@dataclass(frozen=True)
class Choice:
    """How a board does. layers: boards one on another; out: why it is ruled out, one reason each ([] = it may serve);
    open: what nobody has given, so that it could not be judged."""

    board: Board
    layers: int
    r_m2K_W: float | None
    dead_pa: float
    live_pa: float | None
    dead_used: float | None
    live_used: float | None
    price_m2: float | None
    kgCO2e_m2: float | None
    out: tuple[str, ...]
    open: tuple[str, ...]


def judge(
    board: Board,
    *,
    slab_m: float,
    finish_pa: float = 0.0,
    live_pa: float = 0.0,
    point_n: float = 0.0,
    wanted_r: float | None = None,
    water_limit_pct: float | None = None,
    strength_pa: float = STRENGTH_PSI * PSI_PA,
) -> Choice:
    """Hold one board against what is asked of it under a slab `slab_m` thick (> 0).

    Sustained pressure (the slab, the finish) is held against a third of the strength, live pressure (the uniform
    load and the point load through the slab) against a fifth. As many boards as the wanted R asks, at least one.
    """
    out: list[str] = []
    missing: list[str] = []
    r_one = board.thickness_m / board.conductivity if board.conductivity else None
    layers = 1
    if wanted_r is not None and r_one:
        layers = max(1, math.ceil(wanted_r / r_one - 1e-9))
    elif wanted_r is not None:
        missing.append("conductivity")
    dead = slab_m * CONCRETE_KG_M3 * GRAVITY + finish_pa
    may_dead = board.dead_pa or (board.strength_pa * DEAD_SHARE if board.strength_pa else None)
    may_live = board.live_pa or (board.strength_pa * LIVE_SHARE if board.strength_pa else None)
    live: float | None = live_pa
    if point_n and board.springs is None:
        live = None
        missing.append("stiffness")
    elif point_n and board.springs is not None:
        live = live_pa + plate_pressure_pa(point_n, board.springs / layers, slab_m, strength_pa)
    if may_dead is None:
        missing.append("strength")
    if board.ground is False:
        out.append("its standard does not cover contact with the ground")
    if may_dead is not None and dead > may_dead:
        out.append(f"the slab presses with {dead / may_dead:.0%} of what it may carry for good")
    if may_live is not None and live is not None and live > may_live:
        out.append(f"the live load presses with {live / may_live:.0%} of what it may carry")
    if water_limit_pct is not None:
        if board.water_pct is None:
            missing.append("water uptake")
        elif board.water_pct > water_limit_pct:
            out.append(f"it may take up {board.water_pct:g} % water; you allow {water_limit_pct:g} %")
    return Choice(
        board,
        layers,
        r_one * layers if r_one else None,
        dead,
        live,
        dead / may_dead if may_dead else None,
        live / may_live if may_live and live is not None else None,
        board.price_m2 * layers if board.price_m2 is not None else None,
        board.kgCO2e_m2 * layers if board.kgCO2e_m2 is not None else None,
        tuple(out),
        tuple(missing),
    )
