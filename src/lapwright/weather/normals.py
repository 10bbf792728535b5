"""Monthly normals of places that ship with the program, and the climate zone that they make."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources
from math import erf, exp, pi, radians, sin, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]
DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
FIELDS = ("t_mean_C", "t_max_C", "t_min_C", "rh_pct", "wind_m_s", "precip_mm", "wet_days", "ghi_W_m2")


@dataclass(frozen=True)
class Normals:
    """Monthly normals of a place; arrays hold 12 values, January first.

    wet_day_mm: least rain of a day that counts as wet; ghi_W_m2: mean sun on the flat, day and night;
    wind_m_s at 10 m, mostly at an airfield; precip_mm includes melted snow.
    """

    place: str
    region: str
    latitude: float
    longitude: float
    elevation_m: float
    period: str
    wet_day_mm: float
    t_mean_C: Array
    t_max_C: Array
    t_min_C: Array
    rh_pct: Array
    wind_m_s: Array
    precip_mm: Array
    wet_days: Array
    ghi_W_m2: Array
    source: str

    @property
    def key(self) -> str:
        """`Place, Region`, as a job names it."""
        return f"{self.place}, {self.region}"


@cache
def places() -> dict[str, Normals]:
    """Return all places by `Normals.key`."""
    text = resources.files("lapwright.weather").joinpath("normals.csv").read_text(encoding="utf-8")
    out = {}
    for row in csv.DictReader(text.splitlines()):
        months: dict[str, Any] = {name: np.array(row[name].split(), dtype=float) for name in FIELDS}
        numbers: dict[str, Any] = {k: float(row[k]) for k in ("latitude", "longitude", "elevation_m", "wet_day_mm")}
        region = row["region"].removesuffix("/US")
        n = Normals(place=row["place"], region=region, period=row["period"], source=row["source"], **numbers, **months)
        out[n.key] = n
    return out


def find(name: str) -> Normals | None:
    """Return the place whose key or whose own name (if only one has it) is `name`, whatever the case; else None."""
    wanted = " ".join(name.lower().replace(",", " ").split())
    table = {" ".join(k.lower().replace(",", " ").split()): n for k, n in places().items()}
    if wanted in table:
        return table[wanted]
    same = [n for n in table.values() if n.place.lower() == wanted]
    return same[0] if len(same) == 1 else None


def nearest(latitude: float, longitude: float) -> tuple[Normals, float]:
    """Return the nearest place and its distance in km."""

    def km(n: Normals) -> float:
        a = sin(radians(n.latitude - latitude) / 2) ** 2
        b = sin(radians(n.longitude - longitude) / 2) ** 2
        c = np.cos(radians(latitude)) * np.cos(radians(n.latitude))
        return float(2 * 6371 * np.arcsin(np.sqrt(a + c * b)))

    best = min(places().values(), key=lambda n: (km(n), n.key))
    return best, km(best)


def day_spread_K(n: Normals) -> Array:
    """Return the standard deviation of daily mean temperature about its month's mean, K.

    2.8 + 0.13 (22 - t) K within 1.5 to 7: read off ten hourly years of cold and marine places (1.3 to 3.5 in summer,
    2.5 to 7.1 in winter), less near the sea: scaled by the swing of the year, 0.22 + swing / 25 K, at most 1.15.
    """
    swing = float(n.t_mean_C.max() - n.t_mean_C.min())
    return np.asarray(np.clip(2.8 + 0.13 * (22 - n.t_mean_C), 1.5, 7.0) * min(1.15, 0.22 + swing / 25))


def degree_days(n: Normals, base_C: float, heating: bool) -> float:
    """Return degree days (K d) below (heating) or above a base, from monthly means and the spread of the days."""
    total = 0.0
    for mean, sd, days in zip(n.t_mean_C, day_spread_K(n), DAYS, strict=True):
        gap = (base_C - mean if heating else mean - base_C) / sd
        total += days * sd * (gap * 0.5 * (1 + erf(gap / sqrt(2))) + exp(-gap * gap / 2) / sqrt(2 * pi))
    return float(total)


def climate_zone(n: Normals) -> str:
    """Return the climate zone, 1 to 8 with A moist, B dry, C marine: thresholds of ASHRAE 169, as the IRC uses them.

    From memory: cooling degree days over 10 C above 6000, 5000, 3500 make zones 0, 1, 2; heating degree days under
    18 C up to 2000, 3000, 4000, 5000, 7000 make 3, 4, 5, 6, 7. Counties are assigned by the code itself: where the
    local code says otherwise it governs.
    """
    cool, heat = degree_days(n, 10.0, False), degree_days(n, 18.3, True)
    if cool > 3500:
        number = 0 if cool > 6000 else 1 if cool > 5000 else 2
    else:
        number = next((z for z, top in ((3, 2000), (4, 3000), (5, 4000), (6, 5000), (7, 7000)) if heat <= top), 8)
    if number >= 7:
        return str(number)
    cold, warm = float(n.t_mean_C.min()), float(n.t_mean_C.max())
    winter = np.array([9, 10, 11, 0, 1, 2]) if n.latitude >= 0 else np.array([3, 4, 5, 6, 7, 8])
    summer = np.setdiff1d(np.arange(12), winter)
    dry_summer = n.precip_mm[winter].max() >= 3 * n.precip_mm[summer].min()
    if -3 < cold < 18 and warm < 22 and np.count_nonzero(n.t_mean_C > 10) >= 4 and dry_summer and number in (3, 4, 5):
        return f"{number}C"
    dry = n.precip_mm.sum() < 20 * (float(np.average(n.t_mean_C, weights=DAYS)) + 7)
    return f"{number}{'B' if dry else 'A'}"
