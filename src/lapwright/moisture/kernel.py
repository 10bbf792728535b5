"""The equations of EN 15026 on the cells of a batch, with their slopes.

Water:  dw/dt = -d(g_v + g_l)/dx,  g_v = -delta dp/dx,  g_l = K d(suction)/dx, written as -d(flow)/dx inside a
material, where flow is the integral of D dw (Kirchhoff). Heat: (rho c + c_w w) dT/dt = -d(q + h_v g_v)/dx.
Unknowns: u (see `vapor.potential`; suction is SUCTION_REF exp(-u) at every temperature) and T in C.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapwright.moisture.material import KNOTS, STEP, U_LOW
from lapwright.moisture.pack import CURVE_KNOTS, Pack, vapor_rate
from lapwright.moisture.vapor import (
    AIR_J_KGK,
    ATMOSPHERE_PA,
    FUSION_J_KG,
    KELVIN,
    LATENT_J_KG,
    SUCTION_REF_PA,
    T_REF_K,
    WATER_KG_M3,
    Array,
)

RUN_OFF = 0.05  # a place takes less of what drips in over the last 5 % of what it holds
Hour = dict[str, Array]


@dataclass
class Slopes:
    """One linearization: outflow of every cell, its slopes, and what crossed the surfaces.

    water, dwater: w and dw/du (N, M); out_m kg/(s m2), out_h W/m2 (N, M); low, main, up: slopes of the outflows
    (blocks as in `linear.solve`); ends: per crossing (cell (M,), value, slope by u, slope by T), into the wall.
    """

    water: Array
    dwater: Array
    dphi: Array
    out_m: Array
    out_h: Array
    low: Array
    main: Array
    up: Array
    ends: list[tuple[Array, Array, Array, Array]]


def look_up(pk: Pack, u: Array) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Return w, dw/du, flow, dflow/du, permeability and its slope at potentials u (N, M), from the tables."""
    x = (u - U_LOW) * (1 / STEP)
    k = np.clip(x, 0, KNOTS - 1).astype(np.intp)
    x -= k
    k += pk.base
    t = pk.tables
    w1, w2, f1, f2, d1 = t[1].take(k), t[2].take(k), t[4].take(k), t[5].take(k), t[7].take(k)
    w = t[0].take(k) + x * (w1 + x * w2)
    f = t[3].take(k) + x * (f1 + x * f2)
    delta = t[6].take(k) + x * d1
    return w, (w1 + 2 * x * w2) * (1 / STEP), f, (f1 + 2 * x * f2) * (1 / STEP), delta, d1 * (1 / STEP)


def stored(pk: Pack, u: Array) -> Array:
    """Return the water content (kg/m3) at potentials u (N, M)."""
    x = (u - U_LOW) * (1 / STEP)
    k = np.clip(x, 0, KNOTS - 1).astype(np.intp)
    x -= k
    k += pk.base
    return np.asarray(pk.tables[0].take(k) + x * (pk.tables[1].take(k) + x * pk.tables[2].take(k)))


def frozen_potential(t_C: Array) -> Array:
    """Return the potential above which pore water is ice at t_C (C); large at and above 0 C.

    Suction of pores that just freeze: density x heat of fusion x depression / 273.15 K (Clausius-Clapeyron).
    """
    depression = np.maximum(-t_C, 1e-6)
    return -np.log(WATER_KG_M3 * FUSION_J_KG / KELVIN / SUCTION_REF_PA * depression)


def slopes(pk: Pack, bc: Hour, at: Array, t: Array, u: Array, exponent: float) -> Slopes:
    """Return the linearization at t (C), u (N, M); `at` (M,): fraction of the hour; exponent: of permeability in T."""
    n, m = pk.shape
    w, dw, flow, dflow, delta, ddelta = look_up(pk, u)
    cold = t.min() < 0
    if cold:
        limit = frozen_potential(t)
        stiff = u > limit
        if stiff.any():
            flow, dflow = _unfrozen(pk, u, limit, stiff, flow, dflow)
    kelvin = t + KELVIN
    ratio = T_REF_K / kelvin
    suck = np.exp(-u) * ratio
    phi = np.exp(-suck)
    if cold:
        ice = t < 0
        num, den = np.where(ice, 21.875, 17.269), np.where(ice, 265.5, 237.3) + t
        ps = 610.5 * np.exp(num * t / den)
        dps = ps * num * (den - t) / (den * den)
    else:
        den = 237.3 + t
        ps = 610.5 * np.exp(17.269 * t / den)
        dps = ps * (17.269 * 237.3) / (den * den)
    p = phi * ps
    dphi = phi * suck
    p_u = dphi * ps
    p_t = phi * dps + p_u / kelvin
    if exponent:
        warm = ratio ** (-exponent)
        delta, ddelta = delta * warm, ddelta * warm
    lam = pk.lam * (1 + pk.lam_t * (t - 10.0)) + pk.lam_w * w
    half_v = 0.5 * pk.dx / delta
    half_h = 0.5 * pk.dx / lam
    blunt = half_v * (ddelta / delta)  # -d(half_v)/du

    resist = pk.resist_v
    ends_p = (_mid(bc, "p_out_Pa", at), _mid(bc, "p_in_Pa", at))
    if len(pk.curved):
        resist = _with_curves(pk, resist, phi, p, ps, ends_p)
    # Where liquid reaches a face that it cannot pass it evaporates there: the half cell resists less.
    over = dflow / np.maximum(p_u, 1e-12)
    outer, inner = half_v[:-1], half_v[1:]
    if len(pk.bare):
        outer, inner = _wicking(pk, half_v, delta, over)
    g_v = 1 / (outer + inner + resist[1:-1])
    dp = p[:-1] - p[1:]
    vapor = g_v * dp
    gain = vapor * g_v
    vi_u = g_v * p_u[:-1] + gain * blunt[:-1]
    vj_u = g_v * p_u[1:] - gain * blunt[1:]
    vi_t, vj_t = g_v * p_t[:-1], g_v * p_t[1:]
    mi, mj = vi_u + pk.liquid * dflow[:-1], vj_u + pk.liquid * dflow[1:]
    moist = vapor + pk.liquid * (flow[:-1] - flow[1:])
    if len(pk.joint):
        _joints(pk, u, dflow, moist, mi, mj)
    g_h = 1 / (half_h[:-1] + half_h[1:] + pk.resist_h[1:-1])
    warmth = g_h * (t[:-1] - t[1:])
    damp = warmth * g_h
    soften = (0.5 * pk.dx * pk.lam_w) * dw / (lam * lam)  # -d(half_h)/du
    hi_u, hj_u = damp * soften[:-1], damp * soften[1:]
    warmth += LATENT_J_KG * vapor

    low, up = np.empty((n - 1, 2, 2, m)), np.empty((n - 1, 2, 2, m))
    np.negative(mi, out=low[:, 0, 0])
    np.negative(vi_t, out=low[:, 0, 1])
    np.subtract(-LATENT_J_KG * vi_u, hi_u, out=low[:, 1, 0])
    np.subtract(-g_h, LATENT_J_KG * vi_t, out=low[:, 1, 1])
    np.negative(mj, out=up[:, 0, 0])
    np.negative(vj_t, out=up[:, 0, 1])
    np.subtract(hj_u, LATENT_J_KG * vj_u, out=up[:, 1, 0])
    np.subtract(-g_h, LATENT_J_KG * vj_t, out=up[:, 1, 1])
    main = np.empty((n, 2, 2, m))
    np.negative(low, out=main[:-1])
    main[-1] = 0.0
    main[1:] -= up
    out_m, out_h = np.empty((n, m)), np.empty((n, m))
    out_m[:-1], out_h[:-1] = moist, warmth
    out_m[-1] = out_h[-1] = 0.0
    out_m[1:] -= moist
    out_h[1:] -= warmth

    ends = []
    for side, cell, face in (("out", 0, 0), ("in", n - 1, n)):
        h_film, b_film = bc[f"h_{side}_W_m2K"], bc[f"b_{side}"]
        half = 0.5 * pk.dx[cell] / (delta[cell] + over[cell])
        cond = 1 / (1 / np.maximum(b_film, 1e-30) + resist[face] + half)
        air_t = _mid(bc, f"t_{side}_C", at)
        if side == "out":
            air_t = air_t + _mid(bc, "gain_W_m2", at) / h_film
        pull = ends_p[face != 0] - p[cell]
        into = cond * pull
        into_u = -cond * p_u[cell] + into * cond * half * (ddelta[cell] / (delta[cell] + over[cell]))
        into_t = -cond * p_t[cell]
        heat_c = 1 / (1 / h_film + pk.resist_h[face] + half_h[cell])
        heat_in = heat_c * (air_t - t[cell]) + LATENT_J_KG * into
        _enter(out_m, out_h, main, cell, into, heat_in, into_u, into_t, LATENT_J_KG * into_u, LATENT_J_KG * into_t - heat_c)
        ends.append((np.full(m, cell), into, into_u, into_t))
    ends.append(_rain(pk, bc, flow, dflow, out_m, main))
    members = np.arange(m)
    for k in range(len(pk.vent_cell)):
        cell = pk.vent_cell[k]
        spot = (cell, members)
        inside = pk.vent_inside[k]
        air_p = np.where(inside, ends_p[1], ends_p[0])
        air_t = np.where(inside, _mid(bc, "t_in_C", at), _mid(bc, "t_out_C", at))
        cond = vapor_rate(bc["vents"][k], ATMOSPHERE_PA)
        heat_c = bc["vents"][k] * AIR_J_KGK * pk.vent_heat[k]
        into = cond * (air_p - p[spot])
        into_u, into_t = -cond * p_u[spot], -cond * p_t[spot]
        out_m[spot] -= into
        out_h[spot] -= heat_c * (air_t - t[spot]) + LATENT_J_KG * into
        main[cell, 0, 0, members] -= into_u
        main[cell, 0, 1, members] -= into_t
        main[cell, 1, 0, members] -= LATENT_J_KG * into_u
        main[cell, 1, 1, members] -= LATENT_J_KG * into_t - heat_c
        ends.append((cell, into, into_u, into_t))
    for k in range(len(pk.drip_cell)):
        cell = pk.drip_cell[k]
        spot = (cell, members)
        rate = bc["drips"][k]
        # What conducts liquid draws in as a wet surface does; what does not holds so much, and the rest drains.
        width = RUN_OFF * pk.hold[spot]
        room = (pk.hold[spot] - w[spot]) / width
        reach = 2 / pk.dx[spot]
        draws = np.maximum(pk.flow_top[spot] - flow[spot], 0.0) * reach
        wicks = pk.flow_top[spot] > 0
        into = np.where(wicks, np.minimum(rate, draws), rate * np.clip(room, 0.0, 1.0))
        fills = np.where((room > 0) & (room < 1), -rate * dw[spot] / width, 0.0)
        into_u = np.where(wicks, np.where((rate > draws) & (draws > 0), -dflow[spot] * reach, 0.0), fills)
        out_m[spot] -= into
        main[cell, 0, 0, members] -= into_u
        ends.append((cell, into, into_u, np.zeros(m)))
    return Slopes(w, dw, dphi, out_m, out_h, low, main, up, ends)


def _mid(bc: Hour, name: str, at: Array) -> Array:
    a = bc[name + "0"]
    return np.asarray(a + at * (bc[name + "1"] - a))


def _enter(
    out_m: Array, out_h: Array, main: Array, cell: int,
    into: Array, heat: Array, m_u: Array, m_t: Array, h_u: Array, h_t: Array,
) -> None:  # fmt: skip
    out_m[cell] -= into
    out_h[cell] -= heat
    main[cell, 0, 0] -= m_u
    main[cell, 0, 1] -= m_t
    main[cell, 1, 0] -= h_u
    main[cell, 1, 1] -= h_t


def _rain(
    pk: Pack, bc: Hour, flow: Array, dflow: Array, out_m: Array, main: Array
) -> tuple[Array, Array, Array, Array]:
    """Let rain into the outermost cell: all of it, or what a surface at its wet end would draw in."""
    room = (pk.flow_top[0] - flow[0]) * (2 / pk.dx[0])
    draws = np.maximum(room, 0.0)
    full = bc["rain"] > draws
    into = np.where(full, draws, bc["rain"])
    into_u = np.where(full & (room > 0), -dflow[0] * (2 / pk.dx[0]), 0.0)
    out_m[0] -= into
    main[0, 0, 0] -= into_u
    m = len(into)
    return np.zeros(m, dtype=np.intp), into, into_u, np.zeros(m)


def _unfrozen(
    pk: Pack, u: Array, limit: Array, stiff: Array, flow: Array, dflow: Array
) -> tuple[Array, Array]:
    """Return flow and slope with ice standing still: liquid moves as if the pores that froze were empty.

    A thousandth of the conductivity is left, so that a frozen cell keeps a slope.
    """
    low_flow = look_up(pk, np.where(stiff, limit, u))[2]
    flow = np.where(stiff, low_flow + 1e-3 * (flow - low_flow), flow)
    return flow, np.where(stiff, 1e-3 * dflow, dflow)


def _wicking(pk: Pack, half_v: Array, delta: Array, over: Array) -> tuple[Array, Array]:
    """Return the half-cell resistances outward and inward of every inner face, liquid helping where it stops."""
    outer, inner = half_v[:-1].copy(), half_v[1:].copy()
    for side, array in ((0, outer), (1, inner)):
        rows = pk.bare[pk.bare[:, 2] == side]
        f, j = rows[:, 0], rows[:, 1]
        cell = (f - 1 + side, j)
        array[f - 1, j] = 0.5 * pk.dx[cell] / (delta[cell] + over[cell])
    return outer, inner


def _joints(pk: Pack, u: Array, dflow: Array, moist: Array, mi: Array, mj: Array) -> None:
    """Add the liquid from one material into the next: half cells in series, driven by the potential both share."""
    f, j = pk.joint[:, 0], pk.joint[:, 1]
    a, b = (f - 1, j), (f, j)
    g = 2 / (pk.dx[a] / np.maximum(dflow[a], 1e-30) + pk.dx[b] / np.maximum(dflow[b], 1e-30))
    moist[a] += g * (u[a] - u[b])
    mi[a] += g
    mj[a] += g


def _with_curves(pk: Pack, resist: Array, phi: Array, p: Array, ps: Array, ends_p: tuple[Array, Array]) -> Array:
    """Return the resistances of all faces with those of humidity-dependent membranes added."""
    n = len(phi)
    f, j, curve = pk.curved.T
    outer = np.where(f == 0, np.minimum(ends_p[0][j] / ps[0, j], 1.0), phi[np.maximum(f - 1, 0), j])
    inner = np.where(f == n, np.minimum(ends_p[1][j] / ps[n - 1, j], 1.0), phi[np.minimum(f, n - 1), j])
    x = 0.5 * (outer + inner) * (CURVE_KNOTS - 1)
    k = np.minimum(x.astype(np.intp), CURVE_KNOTS - 2)
    flat = pk.curves.ravel()
    at = curve * CURVE_KNOTS + k
    value = flat[at] + (x - k) * (flat[at + 1] - flat[at])
    out = resist.copy()
    np.add.at(out, (f, j), value)
    return out
