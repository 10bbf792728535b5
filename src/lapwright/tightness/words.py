"""How figures of air are said: in the job's own units, three digits, no symbols that a carpenter would look up."""

from __future__ import annotations

from lapwright.survey.model import Survey
from lapwright.units import in_unit, show_quantity


def figure(value: float, digits: int = 4) -> float | None:
    """Return a number to four significant figures, as the contract wants; None for what is no finite number.

    >>> figure(53.39562), figure(float("inf"))
    (53.4, None)
    """
    rounded = float(f"{value:.{digits}g}")
    return rounded if abs(rounded) < float("inf") else None


def pair(ends: tuple[float, float]) -> list[float | None]:
    """Return both ends of an interval, rounded."""
    return [figure(ends[0]), figure(ends[1])]


class Say:
    """Says quantities in feet and inches or metric, as the job does; metric without a job."""

    def __init__(self, survey: Survey | None) -> None:
        self.imperial = survey is not None and survey.units == "imperial"

    def flow(self, m3_h: float) -> str:
        """Return a flow: cfm or m3/h."""
        return self._whole(m3_h / 3600.0, "flow", "cfm") if self.imperial else f"{_short(m3_h)} m3/h"

    def hole(self, cm2: float) -> str:
        """Return a leakage area: square inches or cm2."""
        return f"{_short(in_unit(cm2 / 1e4, 'area', 'sq in'))} sq in" if self.imperial else f"{_short(cm2)} cm2"

    def length(self, m: float) -> str:
        """Return a length of joint: feet or m."""
        return f"{_short(m / 0.3048)} ft" if self.imperial else f"{_short(m)} m"

    def floor(self, m2: float) -> str:
        """Return a floor area: square feet or m2."""
        return self._whole(m2, "area", "sq ft") if self.imperial else f"{_short(m2)} m2"

    @staticmethod
    def _whole(value: float, kind: str, unit: str) -> str:
        return show_quantity(value, kind, unit)  # type: ignore[arg-type]


def _short(value: float) -> str:
    """Return three significant figures without an exponent."""
    return f"{float(f'{value:.3g}'):.10g}"
