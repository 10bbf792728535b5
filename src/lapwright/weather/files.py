"""Hourly weather from files: plain CSV, and the typical years of TMY3. Gaps and wrong units are named, not filled."""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from io import StringIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]


@dataclass(frozen=True)
class Hourly:
    """Hourly weather from 1 January 0:00 UTC of a 365-day year (n values; n may be several years).

    t_C, rh_pct (over water), wind_m_s at 10 m, wind_from_deg, rain_mm in the hour, ghi_W_m2 mean of the hour;
    source says where they come from.
    """

    t_C: Array
    rh_pct: Array
    wind_m_s: Array
    wind_from_deg: Array
    rain_mm: Array
    ghi_W_m2: Array
    latitude: float
    longitude: float
    source: str

    @property
    def hours(self) -> int:
        """Number of hours."""
        return len(self.t_C)

    def scaled_rain(self, annual_mm: float) -> Hourly:
        """Return the same weather with its rain scaled to annual_mm a year (typical years are not chosen for rain)."""
        have = self.rain_mm.sum() * 8760 / self.hours
        if have <= 0:
            raise ValueError("weather: there is no rain to scale")
        return replace(self, rain_mm=self.rain_mm * (annual_mm / have))


LIMITS = {
    "t_C": (-70.0, 60.0), "rh_pct": (0.5, 100.0), "wind_m_s": (0.0, 75.0), "wind_dir_deg": (0.0, 360.0),
    "rain_mm": (0.0, 200.0), "ghi_W_m2": (0.0, 1500.0),
}  # fmt: skip
HINTS = {"t_C": "is it in F or kelvin?", "rh_pct": "is it a fraction?", "wind_m_s": "is it in km/h or mph?"}


def read_csv(text: str, latitude: float, longitude: float, source: str) -> Hourly:
    """Return hourly weather from CSV with columns time_utc, t_C, rh_pct, wind_m_s, wind_dir_deg, rain_mm, ghi_W_m2.

    Whole years of 8760 hours (29 February is left out). Raises ValueError with the line for a missing column, a gap,
    a value out of range, humidity that never passes 1.5 (a fraction).
    """
    rows = list(csv.DictReader(StringIO(text)))
    missing = [c for c in ("time_utc", *LIMITS) if not rows or c not in rows[0]]
    if missing:
        raise ValueError(f"weather: column {missing[0]} is missing; needed are time_utc, {', '.join(LIMITS)}")
    kept = [(i + 2, r) for i, r in enumerate(rows) if "-02-29" not in r["time_utc"]]
    data = {name: _column(kept, name) for name in LIMITS}
    if len(kept) % 8760:
        raise ValueError(f"weather: {len(kept)} hours; whole years of 8760 hours are needed (gaps are not filled)")
    return _made(data, latitude, longitude, source)


def _column(rows: list[tuple[int, dict[str, str]]], name: str) -> Array:
    low, high = LIMITS[name]
    out = np.empty(len(rows))
    for k, (line, row) in enumerate(rows):
        try:
            value = float(row[name])
        except (TypeError, ValueError):
            raise ValueError(f"weather line {line}: {name} is {row[name]!r}, not a number (gaps are not filled)") from None
        if not low <= value <= high:
            hint = f": {HINTS[name]}" if name in HINTS else ""
            raise ValueError(f"weather line {line}: {name} is {value:g}, outside {low:g} to {high:g}{hint}")
        out[k] = value
    if name == "rh_pct" and len(out) and out.max() <= 1.5:
        raise ValueError("weather: rh_pct never passes 1.5: it is a fraction, percent is needed")
    return out


def _made(d: dict[str, Array], latitude: float, longitude: float, source: str) -> Hourly:
    return Hourly(d["t_C"], d["rh_pct"], d["wind_m_s"], d["wind_dir_deg"], d["rain_mm"], d["ghi_W_m2"], latitude, longitude, source)


TMY3 = {
    "t_C": "Dry-bulb (C)", "rh_pct": "RHum (%)", "wind_m_s": "Wspd (m/s)", "wind_dir_deg": "Wdir (degrees)",
    "rain_mm": "Lprecip depth (mm)", "ghi_W_m2": "GHI (W/m^2)",
}  # fmt: skip


def read_tmy3(text: str) -> Hourly:
    """Return a typical year in TMY3 CSV. Its rain is in tenths of mm (users' manual says mm; totals tell otherwise).

    Its hours end at the stamped local time; they are moved to UTC by whole hours. Missing rain (-9900) reads 0 and
    frozen rain is not in it: scale by the normals (`Hourly.scaled_rain`).
    """
    head, _, body = text.partition("\n")
    station = next(csv.reader([head]))
    try:
        zone, latitude, longitude = float(station[3]), float(station[4]), float(station[5])
    except (IndexError, ValueError):
        raise ValueError("weather: the first line of a TMY3 file names station, zone, latitude, longitude") from None
    rows = [(i + 3, r) for i, r in enumerate(csv.DictReader(StringIO(body)))]
    if len(rows) != 8760:
        raise ValueError(f"weather: a TMY3 year has 8760 hours, this file {len(rows)}")
    for _, row in rows:
        depth = row.get(TMY3["rain_mm"], "0")
        row[TMY3["rain_mm"]] = "0" if depth.startswith("-9") else str(float(depth) / 10)
    data = {}
    for name, column in TMY3.items():
        data[name] = np.roll(_column([(i, {name: r.get(column, "")}) for i, r in rows], name), -int(zone))
    return _made(data, latitude, longitude, f"TMY3 {station[0]} {station[1]}")
