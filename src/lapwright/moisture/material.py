"""What a material does with heat and water, as smooth tables over the solver's unknown.

Storage is a curve of water content over humidity; liquid moves by a diffusivity over water content; vapor by a
permeability over humidity. A material may be given by a few figures (`Material.of`) or by functions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import PchipInterpolator

from lapwright.moisture.vapor import SUCTION_REF_PA, Array, air_permeability, humidity, potential

U_LOW, U_HIGH = -2.5, 14.5  # humidity 5e-6 to 1 - 5e-7 (suction 68 Pa)
STEP = 1 / 32  # of the tables, in u
KNOTS = int((U_HIGH - U_LOW) / STEP) + 1
U_FREE = 9.0  # potential at free saturation (suction 17 kPa) when a sorption curve is given by points: common practice
U_SWELL, SWELL = 8.0, 1e-2  # above this potential a saturated material takes this share more per unit of u
PORE_KG_M3 = 0.02  # water that air in the pores holds at saturation: the least storage, keeps the equations regular

Curve = Callable[[Array], Array]


@dataclass(frozen=True)
class Material:
    """A material for the solver.

    name; density kg/m3 (dry); heat_capacity J/(kg K) (dry); conductivity W/(m K) dry at 10 C;
    conductivity_per_water W/(m K) per kg/m3 of water; conductivity_per_K 1/K, relative;
    water: kg/m3 over suction (Pa), falling; permeability: kg/(m s Pa) over humidity at 20 C;
    liquid: m2/s over water content (kg/m3), or None; conducts: kg/(m s Pa) over suction instead of `liquid`;
    volumetric_heat J/(m3 K) overrides density x heat_capacity; saturation: kg/m3 at the wet end.
    """

    name: str
    density: float
    heat_capacity: float
    conductivity: float
    water: Curve
    permeability: Curve
    conductivity_per_water: float = 0.0
    conductivity_per_K: float = 0.0
    liquid: Curve | None = None
    conducts: Curve | None = None
    volumetric_heat: float | None = None
    table: Tables = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        _check(self)
        object.__setattr__(self, "table", _tabulate(self))

    @property
    def heat(self) -> float:
        """Dry heat capacity by volume, J/(m3 K)."""
        return self.density * self.heat_capacity if self.volumetric_heat is None else self.volumetric_heat

    @property
    def saturation(self) -> float:
        """Water content at the wet end of the table, kg/m3."""
        return self.table.top

    @classmethod
    def of(
        cls,
        name: str,
        *,
        density: float,
        heat_capacity: float,
        conductivity: float,
        sorption: Sequence[tuple[float, float]],
        mu_dry: float,
        mu_wet: float | None = None,
        absorption: float = 0.0,
        liquid: Sequence[tuple[float, float]] | None = None,
        conductivity_per_water: float = 0.0,
        conductivity_per_K: float = 0.0,
    ) -> Material:
        """Return a material from a few figures.

        sorption: (humidity, water kg/m3) pairs, rising, ending at (1, free saturation); mu_dry, mu_wet: vapor
        resistance factors of the dry cup (mean humidity 0.25) and the wet cup (0.75), permeability linear between and
        on to 0.95; absorption: kg/(m2 s^0.5), from which the diffusivity 3.8 (A/wf)^2 1000^(w/wf - 1) follows
        (Kuenzel 1995, equation 25); liquid: (water kg/m3, m2/s) pairs instead, logarithms joined by lines.

        Raises ValueError naming the property and its value when one is missing, negative or not rising.
        """
        points = np.asarray(sorption, dtype=float)
        if points.ndim != 2 or points.shape[1] != 2 or len(points) < 1:
            raise ValueError(f"{name}: sorption must be pairs of (humidity, water content), got {sorption!r}")
        phi, w = points[:, 0], points[:, 1]
        if np.any(phi <= 0) or np.any(phi > 1) or np.any(np.diff(phi) <= 0):
            raise ValueError(f"{name}: humidities of the sorption curve must rise within 0 to 1, got {phi.tolist()}")
        if np.any(w < 0) or np.any(np.diff(w) < 0):
            raise ValueError(f"{name}: water contents of the sorption curve must not fall, got {w.tolist()}")
        free = float(w[-1])
        u = potential(np.clip(phi, 1e-6, np.exp(-np.exp(-U_FREE))))
        u, w = np.concatenate([[U_LOW - 1.0], u, [U_HIGH + 1.0]]), np.concatenate([[0.0], w, [free * 1.0005]])
        curve = PchipInterpolator(u, w, extrapolate=True)

        air = float(air_permeability(20.0))
        wet = mu_dry if mu_wet is None else mu_wet
        for label, mu in (("mu_dry", mu_dry), ("mu_wet", wet)):
            if not mu > 0:
                raise ValueError(f"{name}: {label} must be above 0, got {mu!r}")
        slope = (air / wet - air / mu_dry) / 0.5

        def permeability(x: Array) -> Array:
            return air / mu_dry + slope * (np.clip(x, 0.25, 0.95) - 0.25)

        diffusivity: Curve | None = None
        if liquid is not None:
            pairs = np.asarray(liquid, dtype=float)

            def diffusivity(content: Array) -> Array:
                return np.asarray(np.exp(np.interp(content, pairs[:, 0], np.log(pairs[:, 1]))))

        elif absorption > 0:
            if not free > 0:
                raise ValueError(f"{name}: a material that takes up water needs a water content at humidity 1")

            def diffusivity(content: Array) -> Array:
                return 3.8 * (absorption / free) ** 2 * 1000 ** (np.minimum(content / free, 1.0) - 1)

        elif absorption < 0:
            raise ValueError(f"{name}: absorption must not be negative, got {absorption!r}")
        return cls(
            name,
            density,
            heat_capacity,
            conductivity,
            lambda s: curve(-np.log(np.asarray(s) / SUCTION_REF_PA)),
            permeability,
            conductivity_per_water,
            conductivity_per_K,
            diffusivity,
        )

    def water_at(self, phi: float) -> float:
        """Return the water content (kg/m3) at humidity phi (0..1) and 20 C."""
        return float(np.interp(potential(np.clip(phi, 1e-6, 1 - 1e-7)), self.table.u, self.table.w))

    def humidity_at(self, water: float) -> float:
        """Return the humidity (0..1) at 20 C over the material at a water content (kg/m3)."""
        return float(humidity(np.interp(water, self.table.w, self.table.u)))


@dataclass(frozen=True)
class Tables:
    """Knots over u: water content and its slope, Kirchhoff potential of the liquid and its slope, permeability."""

    u: Array
    w: Array
    dw: Array
    flow: Array
    dflow: Array
    permeability: Array

    @property
    def top(self) -> float:
        """Water content at the wet end, kg/m3."""
        return float(self.w[-1])

    def rows(self) -> Array:
        """Return (KNOTS, 8): quadratics of w and flow, line of permeability, over the fraction of a step."""
        out = np.zeros((len(self.u), 8))
        for at, value, slope in ((0, self.w, self.dw), (3, self.flow, self.dflow)):
            out[:, at], out[:, at + 1] = value, slope * STEP
            out[:-1, at + 2] = np.diff(slope) * STEP / 2
        out[:, 6] = self.permeability
        out[:-1, 7] = np.diff(self.permeability)
        return out


def _check(m: Material) -> None:
    for label in ("density", "heat_capacity", "conductivity"):
        value = getattr(m, label)
        if not (np.isfinite(value) and value > 0):
            raise ValueError(f"{m.name}: {label} must be above 0, got {value!r}")
    if m.conductivity_per_water < 0:
        raise ValueError(f"{m.name}: conductivity_per_water must not be negative, got {m.conductivity_per_water!r}")


def _tabulate(m: Material) -> Tables:
    u = U_LOW + STEP * np.arange(KNOTS)
    half = STEP / 2
    suction = SUCTION_REF_PA * np.exp(-u)
    w0 = np.asarray(m.water(SUCTION_REF_PA * np.exp(-(u - half))), dtype=float)
    w1 = np.asarray(m.water(SUCTION_REF_PA * np.exp(-(u + half))), dtype=float)
    phi = np.asarray(humidity(u))
    # Air in the pores holds a little: without it a foam or a gap would have no storage and the equations no slope.
    # The last term lets a saturated cell swell by some thousandths instead of leaving the table.
    swell = (SWELL * w1[-1] + PORE_KG_M3) / (1 + np.exp(-3 * (u - U_SWELL)))
    dw = np.maximum((w1 - w0) / STEP, 0.0) + PORE_KG_M3 * phi * np.exp(-u) + swell
    start = float(np.asarray(m.water(suction[:1]), dtype=float)[0]) + PORE_KG_M3 * float(phi[0])
    w = start + np.concatenate([[0.0], np.cumsum((dw[1:] + dw[:-1]) * half)])
    if m.conducts is not None:
        dflow = np.asarray(m.conducts(suction), dtype=float) * suction
    elif m.liquid is not None:
        dflow = np.asarray(m.liquid(w), dtype=float) * dw
    else:
        dflow = np.zeros_like(u)
    delta = np.asarray(m.permeability(phi), dtype=float)
    for label, values in (("water", w), ("liquid transport", dflow), ("permeability", delta)):
        if not np.all(np.isfinite(values)) or np.any(values < 0):
            raise ValueError(f"{m.name}: {label} must be a number at every humidity and not negative")
    if np.any(delta <= 0):
        raise ValueError(f"{m.name}: permeability must be above 0")
    flow = np.concatenate([[0.0], np.cumsum((dflow[1:] + dflow[:-1]) * half)])
    return Tables(u, w, dw, flow, dflow, delta)
