"""When a fan test can be trusted: the limits as data, and which of them a test breaks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.air.fit import PowerLaw, fit_power_law

ISO = "ISO 9972:2015"
MEMORY = "from memory"


@dataclass(frozen=True)
class Limit:
    """One limit: the figure must lie between low and high (None: no bound there)."""

    code: str
    what: str
    unit: str
    low: float | None
    high: float | None
    clause: str

    def broken_by(self, value: float) -> bool:
        """Return whether a figure lies outside."""
        return (self.low is not None and value < self.low) or (self.high is not None and value > self.high)


@dataclass(frozen=True)
class Breach:
    """A limit that a test breaks: the figure, and the bound it passed."""

    limit: Limit
    value: float
    bound: float


LIMITS: dict[str, Limit] = {
    item.code: item
    for item in (
        Limit("exponent", "exponent n", "", 0.5, 1.0, f"{ISO} 6.3, {MEMORY}"),
        Limit("r2", "fit r2", "", 0.98, None, f"{ISO} 6.3, {MEMORY}"),
        Limit("points", "readings", "", 5, None, f"{ISO} 5.3, {MEMORY}"),
        Limit("highest", "highest pressure", "Pa", 50.0, 100.0, f"{ISO} 5.3, {MEMORY}"),
        Limit("lowest", "lowest pressure", "Pa", 10.0, 10.0, f"{ISO} 5.3, {MEMORY}: 10 Pa or 5 times the zero-flow pressure"),
        Limit("step", "widest step between pressures", "Pa", None, 10.0, f"{ISO} 5.3, {MEMORY}"),
        Limit("zero", "zero-flow pressure", "Pa", None, 5.0, f"{ISO} 5.3, {MEMORY}"),
        Limit("zero_part", "zero-flow pressure over the lowest pressure", "", None, 0.30, "common practice"),
        Limit("stack", "temperature difference times height", "m K", None, 250.0, f"{ISO} 5.1, {MEMORY}; ASTM E779 says 200"),
        Limit("wind", "wind", "m/s", None, 6.0, f"{ISO} 5.1, {MEMORY}"),
    )
}  # fmt: skip
HIGHEST_TRIED_PA = 150.0  # fan tests end at 100 Pa; with room for careless ones (common practice)
TOLERANCE_PA = 3.0  # on the lowest pressure and the steps, ISO 9972 5.3 (from memory)
ZERO_TIMES = 5.0  # the lowest pressure is at least so many zero-flow pressures, ISO 9972 5.3 (from memory)


def breaches(
    law: PowerLaw,
    pressures_Pa: Sequence[float],
    zeros_Pa: Sequence[float] = (),
    difference_K: float | None = None,
    height_m: float | None = None,
    wind_m_s: float | None = None,
) -> list[Breach]:
    """Return the limits that a test breaks, in the order of `LIMITS`; what is not given is not judged.

    pressures_Pa: those the fan made, all > 0; zeros_Pa: zero-flow pressures, signed.
    """
    dp = np.sort(np.asarray(pressures_Pa, dtype=np.float64))
    zero = float(np.max(np.abs(zeros_Pa))) if len(zeros_Pa) else None
    least = max(10.0, ZERO_TIMES * (zero or 0.0))
    lowest, widest = float(dp[0]), float(np.max(np.diff(dp))) if dp.size > 1 else 0.0
    figures: dict[str, float | None] = {
        "exponent": law.n,
        "r2": law.r2,
        "points": float(law.points),
        "highest": float(dp[-1]),
        "step": widest - TOLERANCE_PA,
        "zero": zero,
        "zero_part": None if zero is None else zero / lowest,
        "stack": None if difference_K is None or height_m is None else abs(difference_K) * height_m,
        "wind": wind_m_s,
    }
    out = []
    for code, limit in LIMITS.items():
        if code == "lowest":
            if abs(lowest - least) > TOLERANCE_PA:
                out.append(Breach(limit, lowest, least))
            continue
        value = figures[code]
        if value is not None and limit.broken_by(value):
            shown = widest if code == "step" else value
            bound = limit.low if limit.low is not None and value < limit.low else limit.high
            out.append(Breach(limit, shown, float(bound or 0.0)))
    return out


def look_swapped(pressures_Pa: Sequence[float], flows: Sequence[float]) -> bool:
    """Return whether pressures and flows look as if they had changed places.

    Swapped, the law has the exponent 1 / n, above 1, and follows it well. That alone must be plain (1.2 and more);
    it is enough in any degree when the "pressures" are too high for a fan test and the "flows" are not.
    All > 0, at least three.
    """
    try:
        law = fit_power_law(pressures_Pa, flows)
    except ValueError:
        return False
    upside_down = 1.0 < law.n <= 1.0 / 0.45 and law.r2 > 0.9
    too_high = max(pressures_Pa) > HIGHEST_TRIED_PA >= max(flows)
    return upside_down and (too_high or law.n >= 1.2)
