"""The facts of tests/outside/data/weather."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from lapwright.weather import Normals

DATA = Path(__file__).parents[1] / "outside" / "data" / "weather"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a table, comment lines left out."""
    lines = [line for line in (DATA / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def months(place: str) -> dict[str, np.ndarray]:
    """Return the monthly figures of a station's hourly year, 12 values each."""
    mine = [r for r in rows("hourly_years.csv") if r["place"] == place]
    return {k: np.array([float(r[k]) for r in mine]) for k in mine[0] if k != "place"}


def as_normals(place: str) -> Normals:
    """Return a station's own months as normals, to draw years from."""
    m = months(place)
    sun = np.maximum(m["ghi_W_m2"], 5.0)
    return Normals(
        place, "file", float(m["latitude"][0]), float(m["longitude"][0]), 0.0, "one year", float(m["wet_day_mm"][0]),
        m["t_mean_C"], m["t_max_C"], m["t_min_C"], m["rh_pct"], m["wind_m_s"], m["rain_mm"], m["wet_days"], sun, "file",
    )  # fmt: skip
