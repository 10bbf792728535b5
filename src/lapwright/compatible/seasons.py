"""Air temperatures by climate zone and season, for the limits that a product's sheet states."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import yaml

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
SEASONS = ("spring", "summer", "fall", "winter")


@dataclass(frozen=True)
class Air:
    """Mean daily low and high of a season's coldest month, mean daily high of its hottest, degrees C; whose they are."""

    low_C: float
    high_C: float
    hottest_C: float
    city: str


@cache
def _table() -> dict[str, dict[str, Any]]:
    text = resources.files("lapwright.compatible").joinpath("seasons.yaml").read_text(encoding="utf-8")
    return dict(yaml.load(text, Loader=_LOADER))


def air(zone: str | None, season: str | None) -> Air | None:
    """Return the season's air in a climate zone, None when one of them is not given or not known.

    zone: 1 to 8 with its letter or without (then the moist part, A); season: spring, summer, fall, winter.

    >>> air("7", "winter").low_C, air("5", "fall") == air("5A", "fall"), air(None, "fall")
    (-15.7, True, None)
    """
    found = re.fullmatch(r"\s*(\d)\s*([ABCabc]?)\s*", zone or "")
    if found is None or season not in SEASONS:
        return None
    row = _table().get(found[1] + found[2].upper()) or _table().get(found[1]) or _table().get(f"{found[1]}A")
    if row is None:
        return None
    low, high, hottest = (float(t) for t in row[season])
    return Air(low, high, hottest, str(row["city"]))
