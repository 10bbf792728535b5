"""One line of a calculation as it is shown to people."""

from __future__ import annotations

from dataclasses import dataclass

IN = 0.0254  # m, exact
LBF = 4.4482216152605  # N, exact: 0.45359237 kg x 9.80665 m/s2
PSI = LBF / IN**2  # Pa
PSF = LBF / (12 * IN) ** 2  # Pa
GRAVITY = 9.80665  # m/s2, standard


@dataclass(frozen=True)
class Row:
    """One step of a calculation: plain words (no symbols), its value in SI, the unit (`""` for ratios), where it is from."""

    words: str
    value: float
    unit: str
    source: str
