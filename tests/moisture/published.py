"""Published cases of heat and moisture as the tests read them."""

from __future__ import annotations

import csv
from pathlib import Path

DATA = Path(__file__).parents[1] / "outside" / "data" / "moisture"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a table in tests/outside/data/moisture, comment lines left out."""
    lines = [line for line in (DATA / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))
