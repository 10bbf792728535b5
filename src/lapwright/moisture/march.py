"""From hour to hour: two-stage implicit steps (SDIRK2, L-stable), each member at its own pace within the hour.

Water content is carried as its own figure beside the unknown: what a step's linear solve says came in is what is
booked, so water is conserved whatever the Newton error, and the small mismatch is paid back in the next step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.moisture.kernel import Hour, Slopes, slopes, stored
from lapwright.moisture.linear import solve
from lapwright.moisture.pack import Index, Pack
from lapwright.moisture.vapor import WATER_J_KGK, Array

GAMMA = 1 - 0.5**0.5
HOUR_S = 3600.0
ROUNDS = 7  # Newton iterations before a step is cut
REACH = 1.5  # largest change of u taken in one iteration below saturation
THIN_M = 0.005
SHORTEST = 2.0**-26  # hours; a step below it is given up


@dataclass(frozen=True)
class Pace:
    """What a step may be wrong by: water kg/m3, temperature K, humidity; and when Newton's iterations end."""

    water: float = 0.4
    kelvin: float = 1.0
    phi: float = 0.02
    newton_water: float = 0.2
    newton_kelvin: float = 2.0
    newton_phi: float = 0.01
    exponent: float = 0.81  # of vapor permeability in absolute temperature, Schirmer: 1.81 - 1


@dataclass
class State:
    """t (C), u, w (kg/m3, as booked) per cell and member (N, M); dt hours per member; `failed`: hour of giving up."""

    t: Array
    u: Array
    w: Array
    dt: Array
    failed: Array
    steps: int = 0
    solves: int = 0


@dataclass
class Ledger:
    """What crossed into the wall since the start, kg/m2 per member: net, and the sum of all amounts (gross)."""

    net: Array
    gross: Array


def advance(pk: Pack, bc: Hour, state: State, ledger: Ledger, pace: Pace) -> None:
    """Carry all members through one hour; a member that cannot be carried gets its hour in `failed` (as a fraction)."""
    _, m = pk.shape
    at = np.where(np.isfinite(state.failed), 1.0, 0.0)
    while True:
        cols = np.flatnonzero(at < 1.0 - 1e-12)
        if not len(cols):
            return
        whole = len(cols) == m
        part, hour = (pk, bc) if whole else (pk.take(cols), {k: v[..., cols] for k, v in bc.items()})
        left = 1.0 - at[cols]
        dt = left / np.ceil(left / state.dt[cols] - 1e-9)  # what is left of the hour in equal steps
        old = (state.t, state.u, state.w) if whole else (state.t[:, cols], state.u[:, cols], state.w[:, cols])
        new, flows, worst, rounds = _step(part, hour, at[cols], dt, old, pace)
        state.steps += len(cols)
        state.solves += rounds
        good = worst <= 1.0
        keep = cols[good]
        if good.all() and whole:
            state.t, state.u, state.w = new
        else:
            for target, source in zip((state.t, state.u, state.w), new, strict=True):
                target[:, keep] = source[:, good]
        for net, gross in flows:
            ledger.net[keep] += net[good]
            ledger.gross[keep] += gross[good]
        at[keep] += dt[good]
        scale = np.clip(0.85 / np.sqrt(np.maximum(worst, 1e-4)), 0.2, 2.5)
        state.dt[cols] = np.clip(dt * scale, SHORTEST / 2, 1.0)
        lost = cols[state.dt[cols] < SHORTEST]
        if len(lost):
            state.failed[lost] = at[lost]
            at[lost] = 1.0


def _step(
    pk: Pack, bc: Hour, at: Array, dt: Array, old: tuple[Array, Array, Array], pace: Pace
) -> tuple[tuple[Array, Array, Array], list[tuple[Array, Array]], Array, int]:
    t0, u0, w0 = old
    seconds = dt * HOUR_S
    d = GAMMA * seconds
    store = pk.dx * (pk.heat + WATER_J_KGK * np.maximum(w0, 0.0))
    water0 = pk.dx * w0
    one = _stage(pk, bc, at + GAMMA * dt, d, t0, u0, water0, store, t0, pace)
    ahead = (1 - GAMMA) / GAMMA
    water1 = water0 + ahead * pk.dx * (one.w - w0)
    heat1 = t0 + ahead * (one.t - t0)
    guess = 1 / GAMMA
    drift = one.u - u0
    u_guess = u0 + np.clip(guess * drift, -0.4, 0.4) if drift.size else u0
    t_guess = t0 + guess * (one.t - t0)
    two = _stage(pk, bc, at + dt, d, t_guess, u_guess, water1, store, heat1, pace)
    # A thin cell holds little: its error counts by what it is to a cell of THIN_M.
    share = np.minimum(pk.dx * (1 / THIN_M), 1.0)
    worst = _bend(two.w, one.w, w0, share) / pace.water
    worst = np.maximum(worst, _bend(two.t, one.t, t0) / pace.kelvin)
    worst = np.maximum(worst, _bend(_phi(two.u), _phi(one.u), _phi(u0)) / pace.phi)
    worst = np.where(one.done & two.done & np.isfinite(worst), worst, 16.0)
    flows = [(net * dt * HOUR_S * share, gross * dt * HOUR_S * share)
             for stage, share in ((one, 1 - GAMMA), (two, GAMMA)) for net, gross in stage.crossed]  # fmt: skip
    return (two.t, two.u, two.w), flows, worst, one.rounds + two.rounds


@dataclass
class _Stage:
    t: Array
    u: Array
    w: Array
    crossed: list[tuple[Array, Array]]
    done: NDArray[np.bool_]
    rounds: int

def _phi(u: Array) -> Array:
    return np.exp(-np.exp(-u))


def _bend(two: Array, one: Array, zero: Array, share: Array | float = 1.0) -> Array:
    """Return the largest error estimate over the cells.

    The end of the step against the line through start and stage: of second order in the step where all runs
    smoothly. Where a jump settles within the stage (rain starts on a thin cell) stage and end agree: take that.
    """
    line = np.abs(two - zero - (one - zero) * (1 / GAMMA))
    return np.asarray(np.minimum(line, np.abs(two - one)).max(axis=0))


def _stage(
    pk: Pack, bc: Hour, at: Array, d: Array, t: Array, u: Array, water: Array, store: Array, heat: Array, pace: Pace
) -> _Stage:
    """Solve dx w + d out = water, store T + d out_h = store heat, from the guess t, u; Newton on members not done."""
    m = pk.shape[1]
    t, u = t.copy(), u.copy()
    w = np.empty_like(t)
    net, gross = np.zeros(m), np.zeros(m)
    done = np.zeros(m, dtype=bool)
    cols: Index = np.arange(m)
    part, hour = pk, bc
    rounds = 0
    for _ in range(ROUNDS):
        every = len(cols) == m
        tt, uu = (t, u) if every else (t[:, cols], u[:, cols])
        s = slopes(part, hour, at[cols], tt, uu, pace.exponent)
        rounds += len(cols)
        dd = d[cols]
        right = np.empty((tt.shape[0], 2, len(cols)))
        right[:, 0] = water[:, cols] - part.dx * s.water - dd * s.out_m
        right[:, 1] = store[:, cols] * (heat[:, cols] - tt) - dd * s.out_h
        s.low *= dd
        s.up *= dd
        s.main *= dd
        s.main[:, 0, 0] += part.dx * s.dwater
        s.main[:, 1, 1] += store[:, cols]
        du, dtemp = solve(s.low, s.main, s.up, right)
        fine, step, held = _judge(part, s, uu, du, dtemp, pace)
        t[:, cols] = tt + step * dtemp
        u[:, cols] = uu + held
        w[:, cols] = s.water + s.dwater * du
        net[cols], gross[cols] = _crossings(s, du, dtemp)
        done[cols] = fine
        cols = cols[~fine]
        if not len(cols):
            break
        part, hour = pk.take(cols), {k: v[..., cols] for k, v in bc.items()}
    return _Stage(t, u, w, [(net, gross)], done, rounds)


def _judge(pk: Pack, s: Slopes, u: Array, du: Array, dt: Array, pace: Pace) -> tuple[Array, Array, Array]:
    """Return (done, temperature share, change of u taken) per member: whether the linear solve may stand."""
    size = np.abs(du)
    held = np.clip(du, -REACH, np.where(u < 8.0, REACH, 40.0))
    held = np.where(np.isfinite(held), held, 0.0)
    # What the linear solve left out of the storage is known exactly; it must stay small, and small beside what is there.
    real = stored(pk, u + held)
    gap = np.abs(real - s.water - s.dwater * du) / np.minimum(pace.newton_water, 0.1 * real + 1e-3)
    move_w = gap.max(axis=0)
    move_p = (s.dphi * size * size).max(axis=0) / pace.newton_phi
    move_t = np.abs(dt).max(axis=0) / pace.newton_kelvin
    worst = np.maximum(np.maximum(move_w, move_p), move_t)
    fine = (worst <= 1.0) & (held == du).all(axis=0)
    return fine, np.minimum(1.0, 10.0 / np.maximum(move_t * pace.newton_kelvin, 1e-9)), held


def _crossings(s: Slopes, du: Array, dt: Array) -> tuple[Array, Array]:
    members = np.arange(du.shape[1])
    net, gross = np.zeros(len(members)), np.zeros(len(members))
    for cell, value, by_u, by_t in s.ends:
        spot = (cell, members)
        amount = value + by_u * du[spot] + by_t * dt[spot]
        net += amount
        gross += np.abs(amount)
    return net, gross
