"""A wall and what bears on it: layers outside to inside, membranes between them, air and sun and rain by the hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from lapwright.moisture.material import Material
from lapwright.moisture.vapor import Array


@dataclass(frozen=True)
class Layer:
    """A layer with thickness: thickness_m above 0; start_phi: humidity (0..1) at the start, start_t_C: temperature.

    `liquid_contact`: water may pass as liquid into the next layer inward where both conduct it.
    """

    material: Material
    thickness_m: float
    start_phi: float = 0.8
    start_t_C: float = 20.0
    liquid_contact: bool = True
    name: str = ""


@dataclass(frozen=True)
class Membrane:
    """A sheet or a coat of paint: a surface resistance to vapor, a stop to liquid.

    permeance: kg/(s m2 Pa); one number, or pairs of (mean humidity of its two sides, permeance), lines between.
    resistance_m2K_W: heat resistance that comes with it (a still gap), mostly 0.
    """

    permeance: float | tuple[tuple[float, float], ...]
    name: str = ""
    resistance_m2K_W: float = 0.0

    def at(self, phi: Array) -> Array:
        """Return the permeance at mean humidity phi."""
        if isinstance(self.permeance, (int, float)):
            return np.full_like(np.asarray(phi, dtype=float), float(self.permeance))
        x, y = zip(*self.permeance, strict=True)
        return np.asarray(np.interp(phi, x, y))


@dataclass(frozen=True)
class Wall:
    """Layers and membranes, outside to inside. At least one layer. A membrane at an end is a coat on that surface."""

    parts: tuple[Layer | Membrane, ...]
    name: str = ""

    def __post_init__(self) -> None:
        if not self.layers:
            raise ValueError(f"wall {self.name!r}: needs at least one layer with thickness")
        for part in self.parts:
            if isinstance(part, Layer):
                label = part.name or part.material.name
                if not (np.isfinite(part.thickness_m) and part.thickness_m > 0):
                    raise ValueError(f"{label}: thickness must be above 0, got {part.thickness_m!r} m")
                if not 0 < part.start_phi <= 1:
                    raise ValueError(f"{label}: humidity at the start must lie within 0 to 1, got {part.start_phi!r}")
            elif np.any(np.asarray(part.permeance, dtype=float) < 0) or np.all(np.asarray(part.permeance) == 0):
                raise ValueError(f"{part.name or 'membrane'}: permeance must be above 0, got {part.permeance!r}")

    @property
    def layers(self) -> tuple[Layer, ...]:
        """The parts that have thickness, outside to inside."""
        return tuple(p for p in self.parts if isinstance(p, Layer))

    def between(self) -> tuple[tuple[Membrane, ...], ...]:
        """Return len(layers)+1 groups: the membranes outside the first layer, between each two, inside the last."""
        groups: list[list[Membrane]] = [[]]
        for part in self.parts:
            if isinstance(part, Layer):
                groups.append([])
            else:
                groups[-1].append(part)
        return tuple(tuple(g) for g in groups)


@dataclass(frozen=True)
class Exchange:
    """Air that passes through one place of the wall and takes on its heat and humidity.

    layer: index among the layers; at: outer or inner cell of it, or its middle; air: `out` or `in`, where the air
    comes from; rate: kg/(s m2), hourly; heat: share of the sensible heat that it brings to this place (0..1).
    """

    layer: int
    at: Literal["outer", "middle", "inner"]
    air: Literal["out", "in"]
    rate: Array
    heat: float = 1.0


@dataclass(frozen=True)
class Drip:
    """Liquid water put into one place: rate kg/(s m2), hourly. What the place cannot hold any more runs off."""

    layer: int
    at: Literal["outer", "middle", "inner"]
    rate: Array


@dataclass(frozen=True)
class Climate:
    """What bears on a wall, hourly, n + 1 instants for n hours (the last one may repeat the first).

    t_out_C, p_out_Pa: outdoor air and its vapor pressure; gain_W_m2: sun absorbed less long-wave loss to the sky;
    rain: kg/(s m2) that the outer face could take; h_out_W_m2K: film with radiation; b_out: film of vapor,
    kg/(s m2 Pa); the same of the inside. Air, vapor and gain run as lines between instants; rain, films, rates are
    constant through the hour after the instant. Scalars are taken for every hour.
    """

    t_out_C: Array
    p_out_Pa: Array
    t_in_C: Array | float = 20.0
    p_in_Pa: Array | float = 1000.0
    gain_W_m2: Array | float = 0.0
    rain: Array | float = 0.0
    h_out_W_m2K: Array | float = 17.0
    b_out: Array | float = 7.5e-8
    h_in_W_m2K: Array | float = 7.7
    b_in: Array | float = 2.5e-8
    exchanges: Sequence[Exchange] = field(default_factory=tuple)
    drips: Sequence[Drip] = field(default_factory=tuple)

    def __post_init__(self) -> None:
        n = len(np.atleast_1d(self.t_out_C))
        if n < 2:
            raise ValueError(f"climate: needs at least 2 instants, got {n}")
        for label, low, high in _RANGES:
            values = np.asarray(getattr(self, label), dtype=float)
            _within(label, values, low, high)
            if values.ndim and values.shape != (n,):
                raise ValueError(f"climate: {label} has {values.shape}, expected ({n},) or one number")
        for series in [x.rate for x in self.exchanges] + [x.rate for x in self.drips]:
            rate = np.asarray(series, dtype=float)
            _within("rate", rate, 0.0, 10.0)
            if rate.ndim and rate.shape != (n,):
                raise ValueError(f"climate: a rate has {rate.shape}, expected ({n},) or one number")

    @property
    def hours(self) -> int:
        """Number of hours that the series span."""
        return len(np.atleast_1d(self.t_out_C)) - 1


_RANGES = (
    ("t_out_C", -70.0, 90.0),
    ("p_out_Pa", 0.0, 70000.0),
    ("t_in_C", -40.0, 90.0),
    ("p_in_Pa", 0.0, 70000.0),
    ("gain_W_m2", -500.0, 2000.0),
    ("rain", 0.0, 0.1),
    ("h_out_W_m2K", 1e-3, 1e9),
    ("b_out", 0.0, 1.0),
    ("h_in_W_m2K", 1e-3, 1e9),
    ("b_in", 0.0, 1.0),
)


def _within(label: str, values: Array, low: float, high: float) -> None:
    bad = ~((values >= low) & (values <= high))
    if np.any(bad):
        at = int(np.flatnonzero(np.atleast_1d(bad))[0])
        value = float(np.atleast_1d(values)[at])
        raise ValueError(f"climate: {label} at hour {at} is {value:g}; it must lie within {low:g} to {high:g}")
