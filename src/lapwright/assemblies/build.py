"""From the job's layers to a wall for the solver: materials by name or by figures, gaps, and what had to be assumed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from lapwright.catalog.model import Catalog
from lapwright.findings import Finding
from lapwright.moisture.library import Generic, GenericMembrane, materials, membranes
from lapwright.moisture.material import Material
from lapwright.moisture.vapor import air_permeability
from lapwright.moisture.wall import Layer, Membrane, Wall
from lapwright.scope.model import Assembly
from lapwright.scope.model import Layer as Wanted

# What a catalog product is made of, where its name is not that of a material.
MADE_OF = {
    "xps-iv": "xps", "xps-vi": "xps", "xps-x": "xps", "eps-viii": "eps", "eps-ii": "eps", "eps-ix": "eps",
    "lap-siding": "fiber-cement", "shingle-siding": "board-siding", "panel-siding": "plywood-panel",
    "starter-strip": "board-siding", "edge-strip-foam": "eps",
}  # fmt: skip
SKIPPED = ("strip", "tape", "flashing", "primer", "sealant", "fastener", "unit", "framing")
THICK_M = {
    "cladding": 0.019, "sheathing": 0.019, "insulation": 0.0508, "lining": 0.0127, "masonry": 0.092, "cavity": 0.089,
    "mat": 0.0095, "furring": 0.019, "air": 0.019, "existing": 0.019, "vapor": 0.0127,
}  # fmt: skip  # common practice, when neither job nor catalog says
GAP_CHANGES_H = {"mat": 5.0, "furring": 50.0, "laps": 20.0}  # air changes an hour: bottom only, bottom and top, lap siding
LAPS_M = 0.003  # lap siding on a sheet touches it in lines only: a gap of this size (common practice)
DIRECT = ("stucco", "adhered-stone", "lime-plaster")  # claddings that sit on the sheet without a gap
FLOOR = ("slab", "gravel")
FIGURE_M = 0.0254  # thickness taken for a layer of which only R or permeance is told


@dataclass(frozen=True)
class Spot:
    """A layer of the wall: index among its layers, kind and name in the job, material of the library or None."""

    index: int
    kind: str
    name: str
    generic: Generic | None

    @property
    def judged(self) -> bool:
        """Whether mold and wetness of it count: what lies behind the cladding and can rot or mold."""
        return self.kind != "cladding" and self.generic is not None and self.generic.mold in ("very sensitive", "sensitive")


@dataclass
class Built:
    """A wall for the solver. gap: layer index of the gap behind the cladding and its air changes per hour;
    wetted: layer on the outside of the barrier; behind: first layer behind the barrier."""

    id: str
    wall: Wall
    spots: list[Spot]
    gap: int | None
    gap_changes_h: float
    gap_m: float
    wetted: int
    behind: int
    assumed: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def is_floor(assembly: Assembly) -> bool:
    """Return whether an assembly is a floor on the ground: no wall to judge."""
    return any(layer.layer in FLOOR for layer in assembly.layers)


def build(assembly: Assembly, catalog: Catalog | None) -> Built | None:
    """Return the wall of an assembly, or None when a layer's figures are not known (see `refusals`)."""
    if refusals(assembly, catalog):
        return None
    maker = _Maker(assembly, catalog)
    return maker.made()


def refusals(assembly: Assembly, catalog: Catalog | None) -> list[Finding]:
    """Return what keeps a wall from being reckoned: layers without known material and without figures."""
    out = []
    for layer in assembly.layers:
        if layer.layer in SKIPPED or layer.layer in ("mat", "furring", "air", "cavity"):
            continue
        if _name(layer) is None and layer.r_m2K_W is None and layer.permeance is None:
            what = f"{assembly.id}: the {layer.layer} {layer.material or layer.product or ''} has no known figures."
            out.append(
                Finding(
                    "moisture.unknown_material", "warn", what.replace("  ", " "),
                    "Without its vapor and heat figures the wall cannot be judged.",
                    "Name a material of docs/moisture.md, or give `r:` and `permeance:` from its sheet.",
                    layer.where,
                )
            )  # fmt: skip
    solid = any(x.layer not in SKIPPED and (x.r_m2K_W is not None or x.layer in ("mat", "furring", "air", "cavity") or _name(x) in materials()) for x in assembly.layers)
    if not out and assembly.layers and not solid:
        what = f"{assembly.id} has sheets only: nothing in it has a thickness."
        out.append(Finding("moisture.no_layers", "warn", what, "Sheets hold no water.", "List what they lie on.", assembly.where))
    elif not [x for x in assembly.layers if x.layer not in SKIPPED]:
        out.append(Finding("moisture.no_layers", "warn", f"{assembly.id} has no layers to judge.", where=assembly.where))
    return out


def _name(layer: Wanted) -> str | None:
    """Return the library's name of a layer's material or membrane, or None."""
    for name in (layer.material, layer.product):
        if name is not None:
            known = MADE_OF.get(name, name)
            if known in materials() or known in membranes():
                return known
    return None


def thickness(layer: Wanted, catalog: Catalog | None, name: str, assumed: list[str]) -> float:
    """Return a layer's thickness, metres: the job's, else the product's, else a usual one, which `assumed` is told by `name`."""
    if layer.thickness_m is not None:
        return layer.thickness_m
    if catalog is not None and layer.product is not None and layer.product in catalog:
        found = catalog.products[layer.product].number("thickness_m")
        if found:
            return found
    size = THICK_M.get(layer.layer, FIGURE_M)
    assumed.append(f"{layer.layer} {name} {1000 * size:.0f} mm thick".replace("  ", " "))
    return size


class _Maker:
    def __init__(self, assembly: Assembly, catalog: Catalog | None) -> None:
        self.assembly = assembly
        self.catalog = catalog
        self.parts: list[Layer | Membrane] = []
        self.spots: list[Spot] = []
        self.gap: int | None = None
        self.changes, self.gap_m = 0.0, 0.0
        self.assumed: list[str] = []
        self.barrier_after: int | None = None

    def made(self) -> Built:
        layers = [x for x in self.assembly.layers if x.layer not in SKIPPED]
        for k, layer in enumerate(layers):
            self._add(layer, layers[k + 1].layer if k + 1 < len(layers) else "")
        if not any(x.layer in ("cavity", "lining") for x in layers):
            self._old_inside()
        wall = Wall(tuple(self.parts), self.assembly.id)
        # without a barrier what gets past the cladding and its gap lands on the first layer behind them
        first = self.gap + 1 if self.gap is not None else 1
        behind = self.barrier_after if self.barrier_after is not None else first
        behind = min(behind, len(self.spots) - 1)
        wetted = max(behind - 1, 0)
        return Built(
            self.assembly.id, wall, self.spots, self.gap, self.changes, self.gap_m, wetted, behind, self.assumed
        )  # fmt: skip

    def _thickness(self, layer: Wanted) -> float:
        return thickness(layer, self.catalog, layer.product or layer.material or "", self.assumed)

    def _put(self, kind: str, name: str, generic: Generic | None, material: Material, size: float) -> None:
        self.spots.append(Spot(len(self.spots), kind, name, generic))
        contact = kind != "air"
        self.parts.append(Layer(material, size, 0.75, 12.0, contact, name))

    def _known(self, kind: str, name: str, size: float) -> None:
        generic = materials()[name]
        self._put(kind, name, generic, generic.material, size)

    def _add(self, layer: Wanted, following: str) -> None:
        name = _name(layer)
        if layer.layer in ("mat", "furring"):
            self._gap(layer.layer, self._thickness(layer))
        elif layer.layer == "air" or (layer.layer == "cavity" and name is None and layer.r_m2K_W is None):
            self._known("air" if layer.layer == "air" else "cavity", "air-gap", self._thickness(layer))
        elif name in membranes():
            self.parts.append(membranes()[name].membrane)
            if layer.layer == "barrier":
                self.barrier_after = len(self.spots)
        elif layer.r_m2K_W is None and layer.permeance is not None:
            self.parts.append(Membrane(max(layer.permeance, 1e-16), layer.layer))
            if layer.layer == "barrier":
                self.barrier_after = len(self.spots)
        elif layer.r_m2K_W is not None:
            self._figures(layer, name)
        elif name is not None:
            self._known(layer.layer, name, self._thickness(layer))
        if layer.layer == "barrier" and self.barrier_after is None:  # a solid one: foam with taped joints, a panel
            self.barrier_after = len(self.spots)
        if layer.layer == "cladding" and following not in ("mat", "furring", "air") and name not in DIRECT:
            self._gap("laps", LAPS_M)
            self.assumed.append("cladding hung on the sheet: air moves behind its laps, 20 changes an hour")

    def _gap(self, kind: str, size: float) -> None:
        if self.gap is None:
            self.gap, self.changes, self.gap_m = len(self.spots), GAP_CHANGES_H[kind], size
        self._known("air", "air-gap", size)

    def _figures(self, layer: Wanted, name: str | None) -> None:
        """Make a material of an R and a permeance (or of an R alone, with the vapor figures of its name)."""
        size = layer.thickness_m or FIGURE_M
        r = max(layer.r_m2K_W or 0.0, 1e-3)
        base = materials().get(name) if name else None
        air = float(air_permeability(20.0))
        if layer.permeance is not None:
            mu = min(max(air / (max(layer.permeance, 1e-16) * size), 1.0), 1e6)
        elif base is not None:
            mu = air / float(base.material.permeability(_HALF))
        else:
            mu = 5.0
            self.assumed.append(f"{layer.layer}: vapor resistance of fibrous insulation, since only R is told")
        if base is not None:  # it holds the water of what it is called, whatever R its sheet says
            made = replace(base.material, conductivity=size / r)
            if layer.permeance is not None:
                told = air / mu
                made = replace(made, permeability=lambda phi: np.full(np.shape(phi), told))
            self._put(layer.layer, name or layer.layer, base, made, size)
            return
        storage = [(0.8, 0.5), (0.95, 1.5), (1.0, 100.0)]
        label = name or layer.material or layer.layer
        self.assumed.append(f"{label}: holds as much water as insulation does, since only figures are told")
        made = Material.of(
            label, density=30, heat_capacity=1000, conductivity=size / r, sorption=storage, mu_dry=mu, mu_wet=mu
        )
        self._put(layer.layer, label, base, made, size)

    def _old_inside(self) -> None:
        self.assumed.append("inside it: empty 2x4 bay, 3/4 in of lime plaster, old oil paint (give the layers `cavity` and `lining`)")
        self._known("cavity", "air-gap", 0.089)
        self._known("lining", "lime-plaster", 0.019)
        self.parts.append(membranes()["oil-paint"].membrane)


_HALF = np.array(0.5)


def worded(name: str) -> str:
    """Return the words for a material's or membrane's name."""
    found: Generic | GenericMembrane | None = materials().get(name) or membranes().get(name)
    return found.words if found else name

