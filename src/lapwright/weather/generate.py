"""Hourly years drawn from monthly normals: rain, wind, temperature, humidity and sun of an hour are drawn together.

What the normals do not say (how long it rains on a wet day, how gusts and rain go together, how days differ) is
taken from ten hourly years of cold and marine places; the figures stand below, read off, not fitted place by place.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gamma
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter
from scipy.special import ndtr

from lapwright.weather.files import Hourly
from lapwright.weather.normals import DAYS, Normals, day_spread_K
from lapwright.weather.sun import position

Array = NDArray[Any]
RNG = np.random.Generator
MONTH = np.repeat(np.arange(12), DAYS)  # of each day of a 365-day year
WET_AFTER_WET = (0.22, 0.82)  # chance of a wet day after one: a + b x share of wet days; ten years, 0.36 to 0.84
RAIN_SHAPE = 0.55  # of the gamma distribution of a wet day's rain: its spread is 1.0 to 1.7 times its mean
HOURS_POWER = 0.47  # hours with rain go as rain of the day to this power (0.34 to 0.60)
HOURS_COLD, HOURS_WARM = 2.15, -0.040  # hours at 1 mm, at 0 C, and less of them per K above (showers)
HOURS_FINE = 1.9  # more where a day counts as wet from 0.2 mm and gauges read 0.1 mm (3.3 to 3.9 hours at 1 mm)
HOURS_SEA = 1.42  # more where the sea makes the weather (read off Astoria, Seattle, Anchorage, Valentia)
SPELL, SPELL_SEA = 0.90, 0.91  # hour-to-hour memory of rain within a day: spells of 2.0 to 3.4 hours
HOUR_SPREAD = 0.85  # spread of the logarithm of rain of an hour within its day
WEIBULL = 2.1  # shape of hourly wind: spread 0.41 to 0.61 of its mean
WIND_MEMORY = 0.93  # per hour
WIND_WET, WIND_SEA = 0.25, 0.35  # wind is up by so many spreads when it rains; more in marine places (1.0 to 1.3 x)
DAY_MEMORY = 0.65  # of a day's temperature anomaly (0.44 to 0.78)
CLOUDY = 0.68  # sun and daily swing of wet days to dry days (0.57 to 0.98)
LEAST_MM = 0.1  # an hour with less counts as dry
FREEZES_C = 0.5  # at and below it falls as snow and wets no wall
ROUNDS = 4  # of scaling to the monthly means


@dataclass(frozen=True)
class _Frame:
    """Days and hours of the years drawn: month of every day and hour, local solar hour, normals by day."""

    month: Array
    solar: Array
    n: Normals
    years: int

    @property
    def sea(self) -> bool:
        """Whether the sea makes the weather: a cool summer and a small swing of the year."""
        warm, swing = float(self.n.t_mean_C.max()), float(np.ptp(self.n.t_mean_C))
        return warm < 16.5 or (warm < 22.0 and swing < 17.0)

    def daily(self, values: Array) -> Array:
        """Spread 12 values over the days: straight between mid-months, month means kept."""
        middles = np.concatenate([[-15.5], np.cumsum(DAYS) - DAYS / 2, [365 + 15.5]])
        wanted = values.astype(float)
        shifted = wanted.copy()
        for _ in range(3):
            line = np.interp(np.arange(365) + 0.5, middles, np.concatenate([shifted[-1:], shifted, shifted[:1]]))
            shifted = shifted + wanted - np.bincount(MONTH, line) / DAYS
        return np.tile(line, self.years)


def draw(normals: Normals, years: int, seed: int, rain_from_deg: float | None = None) -> Hourly:
    """Return hourly years drawn from monthly normals, from 1 January 0:00 UTC, 8760 hours each.

    seed: the same seed gives the same years; rain_from_deg: where rain mostly blows from, if known (normals do not
    say: else every direction is as likely). rain_mm holds what falls as water; snow wets no wall.
    Means of every month over all years drawn equal the normals (humidity within 1 %, rain as drawn).

    Raises ValueError for less than one year.
    """
    if years < 1:
        raise ValueError(f"weather: at least one year is drawn, got {years}")
    rng = np.random.default_rng(seed)
    n = normals
    f = _Frame(np.tile(MONTH, years), (np.arange(24 * 365 * years) + n.longitude / 15) % 24, n, years)
    wet, amount = _days(f, rng)
    rain = _hours(f, rng, wet, amount)
    raining = rain > 0
    wind, direction = _wind(f, rng, raining, rain_from_deg)
    t = _temperature(f, rng, wet)
    rh = _humidity(f, rng, wet, raining, t)
    ghi = _sun(f, rng, wet)
    liquid = np.where(t > FREEZES_C, rain, 0.0)
    return Hourly(t, rh, wind, direction, liquid, ghi, n.latitude, n.longitude, f"{years} years drawn from normals of {n.key}, {n.period}; seed {seed}")


def _days(f: _Frame, rng: RNG) -> tuple[Array, Array]:
    share = np.clip(f.n.wet_days / DAYS, 0.002, 0.97)[f.month]
    stay = np.clip(WET_AFTER_WET[0] + WET_AFTER_WET[1] * share, share, 0.985)
    come = share * (1 - stay) / (1 - share)
    luck = rng.random(len(share))
    wet = np.zeros(len(share), dtype=bool)
    now = bool(luck[0] < share[0])
    for k in range(len(share)):
        now = bool(luck[k] < (stay[k] if now else come[k]))
        wet[k] = now
    per_day = np.maximum(f.n.precip_mm / np.maximum(f.n.wet_days, 0.1), f.n.wet_day_mm + 0.05)[f.month]
    extra = per_day - f.n.wet_day_mm
    amount = f.n.wet_day_mm + extra / RAIN_SHAPE * rng.standard_gamma(RAIN_SHAPE, len(share))
    return wet, np.where(wet, amount, 0.0)


def _hours(f: _Frame, rng: RNG, wet: Array, amount: Array) -> Array:
    """Give a day's rain to hours: as many as such a day has, those where a slow random wave is highest."""
    days = len(wet)
    t = f.n.t_mean_C[f.month]
    at_1mm = np.clip(HOURS_COLD + HOURS_WARM * np.maximum(t, 0.0), 1.2, 2.2)
    if f.n.wet_day_mm < 0.25:
        at_1mm = at_1mm * HOURS_FINE
    elif f.sea:
        at_1mm = at_1mm * HOURS_SEA
    count = at_1mm * np.maximum(amount, 0.1) ** HOURS_POWER * np.exp(0.35 * rng.standard_normal(days))
    most = np.maximum(np.floor(amount / LEAST_MM), 1.0)
    count = np.where(wet, np.clip(np.floor(count + rng.random(days)), 1, np.minimum(24, most)), 0).astype(int)
    wave = _memory(rng, days * 24, SPELL_SEA if f.sea else SPELL).reshape(days, 24)
    rank = np.argsort(np.argsort(-wave, axis=1, kind="stable"), axis=1, kind="stable")
    on = rank < count[:, None]
    weight = np.where(on, np.exp(HOUR_SPREAD * rng.standard_normal((days, 24)) + 0.3 * wave), 0.0)
    total = np.maximum(weight.sum(axis=1, keepdims=True), 1e-12)
    floor = np.minimum(LEAST_MM, amount / np.maximum(count, 1))[:, None] * on
    rest = np.maximum(amount - floor.sum(axis=1), 0.0)[:, None]
    return np.asarray((floor + rest * weight / total).ravel())


def _memory(rng: RNG, n: int, rho: float) -> Array:
    """Return a random wave of spread 1 that remembers rho of itself from one step to the next."""
    noise = rng.standard_normal(n) * np.sqrt(1 - rho * rho)
    noise[0] /= np.sqrt(1 - rho * rho)
    return np.asarray(lfilter([1.0], [1.0, -rho], noise))


def _wind(f: _Frame, rng: RNG, raining: Array, rain_from_deg: float | None) -> tuple[Array, Array]:
    hours = len(raining)
    month = np.repeat(f.month, 24)
    lift = WIND_WET + (WIND_SEA if f.sea else 0.0)
    spread = np.convolve(raining, np.ones(7) / 7, mode="same")  # a storm's wind begins before and outlasts its rain
    wave = _memory(rng, hours, WIND_MEMORY) + lift * (0.6 * raining + 0.8 * spread)
    scale = 1 / gamma(1 + 1 / WEIBULL)
    speed = scale * (-np.log(np.clip(1 - ndtr(wave), 1e-9, 1.0))) ** (1 / WEIBULL)
    speed *= 1 + 0.18 * np.cos(2 * np.pi * (f.solar - 14.5) / 24)
    speed = _to_means(speed, month, f.n.wind_m_s)
    turn = np.cumsum(rng.normal(0.0, 12.0, hours)) + rng.uniform(0, 360)
    direction = turn % 360
    if rain_from_deg is not None:
        direction = np.where(raining, (rain_from_deg + rng.normal(0.0, 45.0, hours)) % 360, direction)
    return speed, direction


def _to_means(values: Array, month: Array, wanted: Array) -> Array:
    mean = np.bincount(month, values, minlength=12) / np.bincount(month, minlength=12)
    return np.asarray(values * (wanted / np.maximum(mean, 1e-9))[month])


def _temperature(f: _Frame, rng: RNG, wet: Array) -> Array:
    spread = f.daily(day_spread_K(f.n))
    odd = _memory(rng, len(wet), DAY_MEMORY) * spread
    share = np.clip(f.n.wet_days / DAYS, 0.0, 0.97)[f.month]
    swing = f.daily(f.n.t_max_C - f.n.t_min_C) * np.where(wet, CLOUDY, 1.0) / (1 - share * (1 - CLOUDY))
    middle = f.daily(f.n.t_mean_C) + odd
    at = np.arange(len(wet) * 24) / 24 - 0.5
    slow = np.interp(at, np.arange(len(wet)), middle)
    day = np.repeat(swing, 24) / 2 * np.cos(2 * np.pi * (f.solar - 14.8) / 24)
    t = slow + day * 0.9 + 0.4 * _memory(rng, len(at), 0.8)
    month = np.repeat(f.month, 24)
    have = np.bincount(month, t, minlength=12) / np.bincount(month, minlength=12)
    gap = f.n.t_mean_C - have
    return np.asarray(t + np.interp(at, np.arange(len(wet)), f.daily(gap)))


def _humidity(f: _Frame, rng: RNG, wet: Array, raining: Array, t: Array) -> Array:
    month = np.repeat(f.month, 24)
    share = np.clip(f.n.wet_days / DAYS, 0.0, 0.97)[f.month]
    odd = np.exp(0.10 * _memory(rng, len(wet), 0.5) + 0.12 * (wet - share))
    day_t = t.reshape(-1, 24).mean(axis=1)
    sat_day = 610.5 * np.exp(17.269 * day_t / (237.3 + day_t))
    sat = 610.5 * np.exp(17.269 * t / (237.3 + t))
    at = np.arange(len(t)) / 24 - 0.5
    base = np.interp(at, np.arange(len(wet)), sat_day * odd)
    low = 0.80 + 0.17 * rng.beta(2.0, 1.3, len(t))  # humidity of hours with rain, mostly 82 to 97 %
    factor = f.n.rh_pct / 100
    for _ in range(ROUNDS):
        rh = np.clip(base * factor[month] / sat, 0.08, 0.995)
        rh = np.where(raining, np.maximum(rh, low), rh)
        have = np.bincount(month, rh, minlength=12) / np.bincount(month, minlength=12)
        factor = factor * (f.n.rh_pct / 100 / have) ** 1.5
    return np.asarray(100 * rh)


def _sun(f: _Frame, rng: RNG, wet: Array) -> Array:
    hour = np.arange(24 * 365)
    sine, _ = position(hour // 24 + 1, hour % 24 + 0.5, f.n.latitude, f.n.longitude)
    up = np.maximum(sine, 0.0)
    clear = np.tile(1098 * up * np.exp(-0.057 / np.maximum(up, 1e-3)), f.years)  # Haurwitz 1945
    month = np.repeat(f.month, 24)
    bright = np.bincount(month, clear, minlength=12) / np.bincount(month, minlength=12)
    share = f.n.ghi_W_m2 / np.maximum(bright, 1e-6)
    wave = np.clip(_memory(rng, len(wet), 0.3), -2.2, 2.2)
    factor = share.copy()
    for _ in range(ROUNDS):
        mean = factor[f.month] * np.where(wet, CLOUDY, 1.0)
        day = np.clip(mean * (1 + 0.35 * wave), 0.08, 1.08)
        ghi = clear * np.repeat(day, 24)
        have = np.bincount(month, ghi, minlength=12) / np.bincount(month, minlength=12)
        factor = np.clip(factor * f.n.ghi_W_m2 / np.maximum(have, 1e-6), 0.0, 3.0)
    return np.asarray(ghi)
