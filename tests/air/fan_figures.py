"""Reads the published figures of tests/outside/data/fan."""

from __future__ import annotations

import csv
import os
from pathlib import Path

from hypothesis import settings

FOLDER = Path(__file__).parent.parent / "outside" / "data" / "fan"
SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))  # random counts are multiplied by this


def many(count: int = 100) -> settings:
    """Return settings for so many random cases, the same ones every time unless they are multiplied."""
    return settings(max_examples=count * SOAK, deadline=None, derandomize=SOAK == 1)


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
