"""Generic materials and membranes with their figures, each with source, spread and how sure it is.

`honesty`: `seen` (read in a source), `memory` (recalled), `practice`. None of these figures was measured on a job:
whoever has the sheet of the real product uses that.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from lapwright.moisture.material import Material
from lapwright.moisture.vapor import PERM_SI
from lapwright.moisture.wall import Membrane
from lapwright.moisture.wood import equilibrium_pct

WOOD_PHI = (0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.95, 0.98)
PANEL = 0.9  # glued panels hold less than solid wood at the same humidity (0.8 to 0.95, from memory)


@dataclass(frozen=True)
class Generic:
    """A material of the library: words for people, group, mold sensitivity, spread (percent, of vapor and liquid
    transport), honesty, source, and `material` for the solver; `wood`: whether moisture content is told in percent."""

    id: str
    words: str
    group: str
    mold: str
    spread_pct: float
    honesty: str
    source: str
    material: Material

    @property
    def wood(self) -> bool:
        """Whether its wetness is told as percent of dry mass."""
        return self.group == "wood"


@dataclass(frozen=True)
class GenericMembrane:
    """A membrane of the library, with where its figure comes from."""

    id: str
    words: str
    honesty: str
    source: str
    membrane: Membrane


@cache
def materials() -> dict[str, Generic]:
    """Return the materials by id."""
    out = {}
    for row in _rows("materials.csv"):
        density = float(row["density"])
        material = Material.of(
            row["id"],
            density=density,
            heat_capacity=float(row["heat_capacity"]),
            conductivity=float(row["conductivity"]),
            conductivity_per_water=float(row["per_water"]),
            conductivity_per_K=float(row["per_K"]),
            mu_dry=float(row["mu_dry"]),
            mu_wet=float(row["mu_wet"]),
            absorption=float(row["absorption"]),
            sorption=sorption(row["sorption"]),
        )
        out[row["id"]] = Generic(
            row["id"], row["words"], row["group"], row["mold"], float(row["spread_pct"]), row["honesty"], row["source"], material
        )
    return out


@cache
def membranes() -> dict[str, GenericMembrane]:
    """Return the membranes by id."""
    out = {}
    for row in _rows("membranes.csv"):
        pairs = tuple((float(a), float(b) * PERM_SI) for a, b in (p.split(":") for p in row["perms"].split()))
        what = pairs[0][1] if len(pairs) == 1 else pairs
        out[row["id"]] = GenericMembrane(row["id"], row["words"], row["honesty"], row["source"], Membrane(what, row["id"]))
    return out


def sorption(text: str) -> list[tuple[float, float]]:
    """Return (humidity, kg/m3) pairs of `0.5:3 0.8:6 1:200`, or of `wood:DENSITY:FREE` and `panel:DENSITY:FREE`.

    Wood and panels: equilibrium of FPL-RN-0268 at 20 C times density, up to free saturation.

    >>> sorption("0.8:6 1:200")
    [(0.8, 6.0), (1.0, 200.0)]
    """
    head, _, rest = text.partition(":")
    if head not in ("wood", "panel"):
        return [(float(a), float(b)) for a, b in (p.split(":") for p in text.split())]
    density, free = map(float, rest.split(":"))
    share = PANEL if head == "panel" else 1.0
    water = share * density / 100 * np.asarray(equilibrium_pct(20.0, np.asarray(WOOD_PHI)))
    return [*((p, float(w)) for p, w in zip(WOOD_PHI, water, strict=True)), (1.0, free)]


def _rows(name: str) -> list[dict[str, str]]:
    text = resources.files("lapwright.moisture").joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))
