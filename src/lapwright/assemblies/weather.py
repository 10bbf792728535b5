"""What bears on a wall of this job: drawn years on a face, house air, leaks. Each member of the ensemble has its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from lapwright.assemblies.build import Built
from lapwright.moisture.vapor import saturation_over_water_Pa, saturation_Pa
from lapwright.moisture.wall import Climate, Drip, Exchange
from lapwright.weather import Hourly, on_face, wall_rain

Array = NDArray[Any]
STEFAN = 5.67e-8
ABSORBS = 0.6  # of the sun, a medium color; common practice
SKY_SEEN, SKY_CLEAR = 0.5, 0.55  # share of the sky that a wall sees; share of the clear sky's loss left under mean cloud
EXPOSURE, DEPOSITION = 1.0, 0.5  # ASHRAE 160: medium exposure, eaves above (from memory)
FAULT = 0.01  # of the face's rain on the outside of the barrier, ASHRAE 160
WINDOW_FT2 = 12.0  # a window of 3 x 4 ft, whose 1 % is put on 1 sq ft below its sill corner
LEAK_M3 = 0.010  # m3/(h m2 Pa), air that wets: class C (Kuenzel, Zirkelbach, Schafaczek 2012, from memory)
NEUTRAL_M = 2.5  # height of the place above the level without pressure difference: an upper story
START_DAY = 273  # 1 October: the skin goes on before winter
FACTORS = (
    "which way the wall faces", "how much air leaks out through it", "how much rain gets behind the cladding",
    "how humid the rooms are", "how much air moves behind the cladding", "how much rain strikes the wall",
)  # fmt: skip


@dataclass(frozen=True)
class Member:
    """One draw: azimuth (degrees), factors of leak and fault, indoor humidity offset (share of 1), factors of the
    gap's air changes and of rain on the wall; `years`: which drawn years; `leaky`: the fault case below a sill corner."""

    azimuth_deg: float
    leak: float
    fault: float
    indoor: float
    changes: float
    rain: float
    years: int
    leaky: bool


def members(count: int, seed: int, leaky: bool) -> tuple[list[Member], Array]:
    """Return a Latin hypercube of members and the (count, 6) unit figures they were made from."""
    rng = np.random.default_rng(seed)
    cells = np.array([rng.permutation(count) for _ in FACTORS]).T
    unit = (cells + rng.random(cells.shape)) / count
    z = ndtri(unit)
    out = [
        Member(
            360.0 * float(unit[k, 0]),
            float(np.exp(0.5 * z[k, 1])),
            float(np.exp(0.6 * z[k, 2])),
            float(0.05 * z[k, 3]),
            float(np.exp(0.5 * z[k, 4])),
            float(np.exp(0.3 * z[k, 5])),
            k,
            leaky,
        )
        for k in range(count)
    ]
    return out, unit


def bearing(built: Built, hourly: Hourly, member: Member) -> Climate:
    """Return what bears on a wall for one member, from 1 October on, as long as the hours last."""
    h = _from_october(hourly)
    n = hourly.hours
    hour = (np.arange(n) + START_DAY * 24) % 8760
    sun = on_face(h["ghi"], hour // 24 + 1, hour % 24 + 0.5, hourly.latitude, hourly.longitude, member.azimuth_deg)
    p_out = h["rh"] / 100 * saturation_over_water_Pa(h["t"])
    dew = 237.3 * np.log(p_out / 610.5) / (17.269 - np.log(p_out / 610.5))
    sky = 0.711 + 0.56 * dew / 100 + 0.73 * (dew / 100) ** 2  # Berdahl and Martin 1984
    loss = SKY_SEEN * SKY_CLEAR * 0.9 * STEFAN * (h["t"] + 273.15) ** 4 * (1 - np.clip(sky, 0.4, 1.0))
    local = 0.5 * h["wind"]  # wind at the wall, half of that at 10 m in the open; common practice
    film = 4.0 + 4.0 * local  # ISO 6946, convection outdoors
    struck = wall_rain(h["wind"], h["from"], h["rain"], member.azimuth_deg, EXPOSURE * member.rain, DEPOSITION) / 3600
    t_in, phi_in = indoor(h["t"], member.indoor)
    p_in = phi_in * saturation_Pa(t_in)
    spread = np.maximum(t_in - h["t"], 0.0) / 293.0
    pressure = 1.2 * 9.81 * NEUTRAL_M * spread  # Pa, stack
    flow = 1.2 * LEAK_M3 * member.leak * pressure / 3600
    exchanges = [Exchange(built.behind, "inner", "in", _wrap(flow), 0.2)]
    if built.gap is not None:
        moved = 1.2 * built.gap_m * built.gap_changes_h * member.changes / 3600
        exchanges.append(Exchange(built.gap, "middle", "out", _wrap(moved * (0.5 + 0.5 * h["wind"] / max(float(h["wind"].mean()), 0.1)))))
    if member.leaky:
        drip = Drip(built.behind, "outer", _wrap(struck * FAULT * WINDOW_FT2 * member.fault))
    else:
        drip = Drip(built.wetted, "inner", _wrap(struck * FAULT * member.fault))
    return Climate(
        _wrap(h["t"]), _wrap(p_out), _wrap(t_in), _wrap(p_in), _wrap(ABSORBS * sun - loss), _wrap(struck),
        _wrap(film + 5.0), _wrap(7e-9 * film), 7.7, 2.0e-8, tuple(exchanges), (drip,),
    )  # fmt: skip


def indoor(t_out_C: Array, offset: float = 0.0) -> tuple[Array, Array]:
    """Return indoor temperature (C) and humidity (0..1) by the hour: EN 15026 Annex C, normal occupancy.

    From the outdoor mean of the day: 20 C up to 10 C outdoors, 25 C from 20 C; 30 % at -10 C, 60 % from 20 C.
    offset shifts humidity (share of 1).

    >>> t, phi = indoor(np.full(48, 5.0))
    >>> float(t[0]), round(float(phi[0]), 2)
    (20.0, 0.45)
    """
    hours = np.arange(len(t_out_C))
    day = np.asarray(t_out_C, dtype=float)[: len(t_out_C) // 24 * 24].reshape(-1, 24).mean(axis=1)
    mean = np.interp(hours / 24 - 0.5, np.arange(len(day)), day)
    t_in = np.interp(mean, [10.0, 20.0], [20.0, 25.0])
    phi = np.clip(np.interp(mean, [-10.0, 20.0], [0.30, 0.60]) + offset, 0.15, 0.85)
    return np.asarray(t_in), np.asarray(phi)


def monthly_air(h: Hourly) -> tuple[Array, Array, Array, Array]:
    """Return twelve monthly means: outdoor temperature and humidity (0..1), indoor the same."""
    from lapwright.weather.generate import MONTH

    years = h.hours // 8760
    month = np.repeat(np.tile(MONTH, years), 24)
    count = np.bincount(month, minlength=12)
    t = np.bincount(month, h.t_C) / count
    p = np.bincount(month, h.rh_pct / 100 * saturation_over_water_Pa(h.t_C)) / count
    t_in = np.interp(t, [10.0, 20.0], [20.0, 25.0])
    phi_in = np.interp(t, [-10.0, 20.0], [0.30, 0.60])
    return t, np.minimum(p / saturation_Pa(t), 0.99), t_in, phi_in


def _from_october(h: Hourly) -> dict[str, Array]:
    def turn(x: Array) -> Array:
        return np.roll(x, -START_DAY * 24)

    return {
        "t": turn(h.t_C), "rh": turn(h.rh_pct), "wind": turn(h.wind_m_s), "from": turn(h.wind_from_deg),
        "rain": turn(h.rain_mm), "ghi": turn(h.ghi_W_m2),
    }  # fmt: skip


def _wrap(x: Array) -> Array:
    return np.append(x, x[-1])


