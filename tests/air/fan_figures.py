"""Reads the published figures of tests/outside/data/fan."""

from __future__ import annotations

import csv
from pathlib import Path

FOLDER = Path(__file__).parent.parent / "outside" / "data" / "fan"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a file, remarks left out."""
    lines = [line for line in (FOLDER / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def textbook() -> tuple[list[float], list[float]]:
    """Return the textbook's pressures and flows."""
    table = rows("textbook_readings.csv")
    return [float(r["dp_Pa"]) for r in table], [float(r["flow_m3_h"]) for r in table]


def textbook_figures() -> dict[str, tuple[float, float]]:
    """Return {quantity: (value, tolerance)}."""
    return {
        r["quantity"]: (float(r["value"]), 0.5000001 * 10 ** -int(r["digits"])) for r in rows("textbook_figures.csv")
    }
