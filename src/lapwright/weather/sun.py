"""Where the sun stands and what of it falls on a wall.

Position by the low-precision formulas of the Astronomical Almanac, for the days of 2001 (other years shift by up to half
a day); split of the
horizontal sun by Erbs et al. (Solar Energy 28 (1982) 293); diffuse sky as Hay and Davies describe it.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[Any]
SOLAR_W_M2 = 1361.0  # solar constant, Kopp and Lean 2011
LOW_SUN = 0.05  # sine of the altitude (3 degrees) below which beam on a wall is not reckoned from the horizontal
GROUND = 0.2  # reflectance of the ground, common practice; snow has more


def position(day: ArrayLike, hour_utc: ArrayLike, latitude: float, longitude: float) -> tuple[Array, Array]:
    """Return sine of the sun's altitude and its azimuth (degrees clockwise from north).

    day: 1..366; hour_utc: 0..24, the instant; latitude north, longitude east positive, degrees.

    >>> s, a = position(172, 12.0, 40.0, 0.0)
    >>> round(float(np.degrees(np.arcsin(s))), 1), round(float(a))
    (73.4, 179)
    """
    day, hour = np.asarray(day, dtype=float), np.asarray(hour_utc, dtype=float)
    n = 366.0 + day - 1 + (hour - 12) / 24  # days since noon of 1 January 2000, for the year 2001
    anomaly = np.radians(357.529 + 0.98560028 * n)
    mean = 280.459 + 0.98564736 * n
    ecliptic = np.radians(mean + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    tilt = np.radians(23.439)
    decl = np.arcsin(np.sin(tilt) * np.sin(ecliptic))
    ascension = np.degrees(np.arctan2(np.cos(tilt) * np.sin(ecliptic), np.cos(ecliptic)))
    equation = (mean - ascension + 180) % 360 - 180  # degrees, sun ahead of the clock
    angle = np.radians(15 * (hour - 12) + longitude + equation)
    lat = np.radians(latitude)
    sine = np.sin(lat) * np.sin(decl) + np.cos(lat) * np.cos(decl) * np.cos(angle)
    east = -np.cos(decl) * np.sin(angle)
    north = np.sin(decl) * np.cos(lat) - np.cos(decl) * np.sin(lat) * np.cos(angle)
    return sine, np.degrees(np.arctan2(east, north)) % 360


def outside_air_W_m2(day: ArrayLike) -> Array:
    """Return the sun's normal irradiance above the air (W/m2) on a day of the year."""
    return np.asarray(SOLAR_W_M2 * (1 + 0.033 * np.cos(2 * np.pi * np.asarray(day, dtype=float) / 365.25)))


def split(ghi_W_m2: ArrayLike, sine: ArrayLike, day: ArrayLike) -> tuple[Array, Array]:
    """Return beam (normal to the sun) and diffuse horizontal irradiance of global horizontal ghi_W_m2, by Erbs.

    The beam is at most what is above the air; with the sun below 3 degrees all is diffuse.
    """
    ghi, sine = np.asarray(ghi_W_m2, dtype=float), np.asarray(sine, dtype=float)
    top = outside_air_W_m2(day)
    kt = np.clip(ghi / np.maximum(top * np.maximum(sine, LOW_SUN), 1e-9), 0.0, 1.0)
    curve = 0.9511 - 0.1604 * kt + 4.388 * kt**2 - 16.638 * kt**3 + 12.336 * kt**4
    share = np.where(kt <= 0.22, 1 - 0.09 * kt, np.where(kt <= 0.8, curve, 0.165))
    up = sine > LOW_SUN
    diffuse = np.where(up, share * ghi, ghi)
    beam = np.where(up, (ghi - diffuse) / np.maximum(sine, LOW_SUN), 0.0)
    return np.minimum(beam, top), diffuse


def on_face(
    ghi_W_m2: ArrayLike,
    day: ArrayLike,
    hour_utc: ArrayLike,
    latitude: float,
    longitude: float,
    azimuth_deg: float,
    tilt_deg: float = 90.0,
    ground: float = GROUND,
) -> Array:
    """Return irradiance (W/m2) on a face: beam, sky by Hay and Davies, and ground.

    azimuth_deg: outward normal, clockwise from north; tilt_deg: 90 for a wall, 0 for a flat roof.
    """
    ghi = np.asarray(ghi_W_m2, dtype=float)
    sine, azimuth = position(day, hour_utc, latitude, longitude)
    beam, diffuse = split(ghi, sine, day)
    tilt = np.radians(tilt_deg)
    flat = np.sqrt(np.maximum(1 - sine**2, 0.0))
    cosine = sine * np.cos(tilt) + flat * np.sin(tilt) * np.cos(np.radians(azimuth - azimuth_deg))
    cosine = np.maximum(cosine, 0.0)
    ring = beam / outside_air_W_m2(day)
    sky = diffuse * ((1 - ring) * (1 + np.cos(tilt)) / 2 + ring * cosine / np.maximum(sine, 0.0872))
    return np.asarray(beam * cosine + sky + ghi * ground * (1 - np.cos(tilt)) / 2)
