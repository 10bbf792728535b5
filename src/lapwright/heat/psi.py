"""Thermal bridges: what an edge costs beside the flat parts that meet there (ISO 10211), and how cold it gets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.heat.conduct import Coldest, Solved, solve
from lapwright.heat.section import Section


@dataclass(frozen=True)
class Bridge:
    """An edge between one warm and one cold air.

    l2d: thermal coupling, W/(m K); psi: linear transmittance, W/(m K), for the lengths that were given; f_rsi: the
    temperature factor of the coldest place of the warm surface, 0 (as cold as outside) to 1; coldest: that place;
    solved: the section.
    """

    l2d: float
    psi: float
    f_rsi: float
    coldest: Coldest
    solved: Solved


def bridge(
    section: Section, warm: str, cold: str, flat: Sequence[tuple[float, float]], cells: int = 50_000, error: float = 0.01
) -> Bridge:
    """Return the bridge of a section between the airs named `warm` and `cold`.

    flat: (U in W/(m2 K), length in metres) of each flat part as it is counted elsewhere: with inside lengths psi is
    the psi of inside lengths. Raises ValueError when the two have one temperature. ISO 10211: psi = L2D - sum U l.
    """
    temps = {a.name: a.t_c for a in section.airs}
    apart = temps[warm] - temps[cold]
    if apart == 0:
        raise ValueError(f"air {warm} and {cold} have the same temperature")
    solved = solve(section, cells, error)
    l2d = solved.flows[warm] / apart
    ends = solved.field.lowest if apart > 0 else solved.field.highest
    factor = (ends[warm].t_c - temps[cold]) / apart
    return Bridge(l2d, l2d - sum(u * m for u, m in flat), factor, ends[warm], solved)


def surface_needed_c(vapor_pa: float, humidity: float = 0.8) -> float:
    """Return the lowest surface temperature, Celsius, at which indoor air of `vapor_pa` stays below `humidity` (0-1].

    ISO 13788: 0.8 against mold, 1 against condensation; saturation by its Magnus formula over water and ice.

    >>> round(surface_needed_c(0.8 * 2337), 1)
    20.0
    """
    if not (vapor_pa > 0 and 0 < humidity <= 1):
        raise ValueError("vapor pressure must be above 0 and humidity between 0 and 1")
    log = math.log(vapor_pa / humidity / 610.5)
    return 237.3 * log / (17.269 - log) if log >= 0 else 265.5 * log / (21.875 - log)
