"""How far the new layers move the wall out: each layer's place in the depth, counted from the barrier's own plane."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.catalog.model import Catalog
from lapwright.details.base import PHASE_GAP
from lapwright.scope.model import Assembly, Layer

PHASE_BOARDS = PHASE_GAP - 20  # foam goes on over barrier and flashings, under the gap
BACKED = ("furring", "insulation")  # what trim and flanges can lie against; a mat or siding gives way


@dataclass(frozen=True)
class Slab:
    """One layer between two planes; metres out from the barrier, + towards the weather. None of `layer.thickness_m` counts as nothing."""

    layer: Layer
    inner_m: float
    outer_m: float


@dataclass(frozen=True)
class Depths:
    """The new layers outside of the barrier, from the wall outwards.

    under_m: new layers between the barrier and what stands; missing: layers whose thickness nobody wrote.
    """

    slabs: tuple[Slab, ...]
    under_m: float = 0.0
    missing: tuple[str, ...] = ()

    @property
    def face_m(self) -> float:
        """The new face: the outside of the cladding, metres out from the barrier."""
        return self.slabs[-1].outer_m if self.slabs else 0.0

    @property
    def out_m(self) -> float:
        """How far the face has moved from what stood, metres."""
        return self.face_m + self.under_m

    @property
    def backing_m(self) -> float:
        """The outermost plane of foam or furring, metres out from the barrier; 0 where there is neither."""
        return max((s.outer_m for s in self.slabs if s.layer.layer in BACKED), default=0.0)

    @property
    def foam_m(self) -> float:
        """The outermost plane of the insulation, metres out from the barrier; 0 without."""
        return max((s.outer_m for s in self.slabs if s.layer.layer == "insulation"), default=0.0)

    @property
    def trim_m(self) -> float:
        """The plane that cladding and trim lie on, metres out from the barrier."""
        return max((s.outer_m for s in self.slabs if s.layer.layer != "cladding"), default=0.0)


def thickness_of(layer: Layer, catalog: Catalog) -> float | None:
    """Return a layer's thickness, metres: its own, else its product's; None when nobody wrote one. Sheets, strips and films count 0."""
    if layer.thickness_m is not None:
        return layer.thickness_m
    product = catalog[layer.product] if layer.product and layer.product in catalog else None
    thick = product.number("thickness_m") if product else None
    return 0.0 if thick is None and layer.layer in ("film", "strip", "tape", "primer", "air") else thick


def depths_of(assembly: Assembly | None, catalog: Catalog) -> Depths:
    """Return where the new layers of an assembly lie. Without a new barrier its plane is the face of what stands.

    Counts up to the first layer that stands; the barrier itself has no thickness.
    """
    new: list[Layer] = []
    for layer in assembly.layers if assembly is not None else ():
        if layer.existing:
            break
        new.append(layer)
    at = next((i for i, y in enumerate(new) if y.layer == "barrier"), len(new))
    missing = [y.product or y.material or y.layer for y in new if y.layer != "barrier" and thickness_of(y, catalog) is None]
    slabs, plane = [], 0.0
    for layer in reversed(new[:at]):
        thick = thickness_of(layer, catalog) or 0.0
        slabs.append(Slab(layer, plane, plane + thick))
        plane += thick
    under = sum(thickness_of(y, catalog) or 0.0 for y in new[at + 1 :])
    return Depths(tuple(slabs), under, tuple(missing))
