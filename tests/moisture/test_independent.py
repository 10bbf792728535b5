"""The solver against a second solution written from the definitions: humidity and temperature by scipy's BDF."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from lapwright.moisture import Climate, Drip, Exchange, Layer, Material, Membrane, Wall, simulate
from lapwright.moisture.mesh import mesh
from lapwright.moisture.pack import place

HV, RV = 2.5e6, 461.5


def _curve(wf: float, b: float):  # type: ignore[no-untyped-def]
    """Return storage w(phi) and its slope: wf (b-1) phi / (b-phi) (Kuenzel 1995, equation 11)."""
    return (lambda p: wf * (b - 1) * p / (b - p)), (lambda p: wf * (b - 1) * b / (b - p) ** 2)


BRICK, BOARD = _curve(190.0, 1.05), _curve(300.0, 1.2)


def _material(name: str, curve, rho: float, c: float, lam: float, delta: float, d0: float) -> Material:  # type: ignore[no-untyped-def]
    return Material(
        name, rho, c, lam, lambda s: curve[0](np.exp(-s / (1000 * RV * 293.15))), lambda p: np.full_like(p, delta),
        liquid=(lambda w: d0 * np.exp(w / 60.0)) if d0 else None,
    )  # fmt: skip


def _reference(dx, kind, hours, bc):  # type: ignore[no-untyped-def]
    """March phi and T of every cell by BDF. kind: 0 brick, 1 board; a membrane of 1e-9 where the kind changes."""
    lam, delta = np.array([0.6, 0.12])[kind], np.array([1.9e-11, 3e-12])[kind]
    rc, d0 = np.array([1.5e6, 8e5])[kind], np.array([2e-9, 0.0])[kind]

    def water(p):  # type: ignore[no-untyped-def]
        return np.where(kind == 0, BRICK[0](p), BOARD[0](p)), np.where(kind == 0, BRICK[1](p), BOARD[1](p))

    def rhs(t, y):  # type: ignore[no-untyped-def]
        phi, temp = np.clip(y[: len(dx)], 1e-6, 0.99999), y[len(dx) :]
        a, b = (17.269, 237.3)
        p = phi * 610.5 * np.exp(a * temp / (b + temp))
        w, slope = water(phi)
        # Suction is what the stored water goes by: humidity at 20 C over the same water.
        tilt = (temp + 273.15) / 293.15
        phi20 = phi**tilt
        w, slope20 = water(phi20)
        slope_phi = slope20 * tilt * phi20 / phi
        slope_t = slope20 * phi20 * np.log(phi) / 293.15
        r = dx / 2 / delta
        z = np.where(kind[:-1] != kind[1:], 1e9, 0.0)
        gv = (p[:-1] - p[1:]) / (r[:-1] + r[1:] + z)
        same = kind[:-1] == kind[1:]
        kirchhoff = d0 * 60.0 * np.exp(w / 60.0)
        gl = np.where(same, (kirchhoff[:-1] - kirchhoff[1:]) * 2 / (dx[:-1] + dx[1:]), 0.0)
        rh = dx / 2 / lam
        q = (temp[:-1] - temp[1:]) / (rh[:-1] + rh[1:]) + HV * gv
        out = bc(t)
        half = dx[0] / 2 / (delta[0] + d0[0] * np.exp(w[0] / 60) * slope[0] / (p[0] / phi[0]))
        into = (out["p"] - p[0]) / (1 / 7e-8 + half)
        inward = (1000.0 - p[-1]) / (1 / 3e-8 + r[-1])
        gm = np.concatenate([[into + out["rain"]], gv + gl, [-inward]])
        gq = np.concatenate([
            [(out["t"] - temp[0]) / (1 / 15 + rh[0]) + HV * into], q,
            [-((20.0 - temp[-1]) / (1 / 8 + rh[-1]) + HV * inward)],
        ])  # fmt: skip
        water_in, heat_in = gm[:-1] - gm[1:], gq[:-1] - gq[1:]
        k = out["vent_cell"]
        v = out["vent"] * 0.62198 / 101325 * (out["p"] - p[k])
        water_in[k] += v
        heat_in[k] += HV * v + out["vent"] * 1006 * (out["t"] - temp[k])
        water_in[k] += out["drip"]
        dt = heat_in / dx / (rc + 4187 * w)
        dphi = (water_in / dx - slope_t * dt) / slope_phi
        return np.concatenate([dphi, dt])

    y = np.concatenate([np.full(len(dx), 0.7), np.full(len(dx), 10.0)])
    for h in range(hours):
        y = _hour(rhs, h, y)
    phi, temp = y[: len(dx)], y[len(dx) :]
    return water(phi ** ((temp + 273.15) / 293.15))[0], temp


def _hour(rhs, h, y):  # type: ignore[no-untyped-def]
    def seconds(t, v):  # type: ignore[no-untyped-def]
        return 3600 * rhs(t, v)

    return solve_ivp(seconds, (h, h + 1 - 1e-9), y, method="BDF", rtol=1e-6, atol=1e-7).y[:, -1]


def test_a_wall_under_rain_sun_and_leaks_agrees_with_a_second_solver() -> None:
    hours = 48
    k = np.arange(hours + 1)
    t_out, p_out = 10 + 8 * np.sin(2 * np.pi * k / 24), np.full(hours + 1, 800.0)
    rain = np.where((k % 24 > 5) & (k % 24 < 9), 0.35 / 3600, 0.0)
    vent, drip = np.full(hours + 1, 2e-4), rain * 0.05
    brick = _material("brick", BRICK, 1500, 1000, 0.6, 1.9e-11, 2e-9)
    board = _material("board", BOARD, 500, 1600, 0.12, 3e-12, 0.0)
    wall = Wall((Layer(brick, 0.05, 0.7, 10.0), Membrane(1e-9), Layer(board, 0.02, 0.7, 10.0)))
    climate = Climate(
        t_out, p_out, 20.0, 1000.0, rain=rain, h_out_W_m2K=15.0, b_out=7e-8, h_in_W_m2K=8.0, b_in=3e-8,
        exchanges=(Exchange(1, "outer", "out", vent),), drips=(Drip(1, "outer", drip),),
    )  # fmt: skip
    run = simulate(wall, climate, pace=_sharp(), record_every=hours)
    cut = mesh(wall)

    def bc(t: float) -> dict[str, float]:
        h = int(t)
        f = t - h
        at = min(h + 1, hours)
        return {
            "t": t_out[h] + f * (t_out[at] - t_out[h]), "p": 800.0, "rain": rain[h],
            "vent": 2e-4, "vent_cell": place(cut, 1, "outer"), "drip": drip[h],
        }  # fmt: skip

    w, t = _reference(cut.dx, cut.layer, hours, bc)
    assert run.converged
    assert run.profile_w[:, 0] == pytest.approx(w, abs=0.1)
    assert run.profile_t_C[:, 0] == pytest.approx(t, abs=0.05)
    assert run.balance[0] < 1e-9


def _sharp():  # type: ignore[no-untyped-def]
    from lapwright.moisture import Pace

    return Pace(water=0.01, kelvin=0.02, phi=0.001, newton_water=1e-3, newton_kelvin=0.05, newton_phi=1e-4, exponent=0.0)
