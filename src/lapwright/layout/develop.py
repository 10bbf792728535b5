"""Unroll a loop of faces into one plane, so that courses run round the corners.

In the developed plane u runs along the loop in walking order, y is the height above the reference
line. Face i occupies u in [offset_i, offset_i + width_i]. A closed loop repeats with period `length`.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import ClearClaim, FieldClaim, HoleClaim, SlitClaim
from lapwright.details.shapes import SLIT_M
from lapwright.geometry import SNAP_M, box, merged, slit_polygon, snap
from lapwright.memo import mark
from lapwright.survey.model import Survey


@dataclass(frozen=True)
class Chain:
    """One product of one layer on one loop, unrolled.

    region: what is to be covered; holes: cut-outs; slits: knife cuts (thin polygons);
    clears: (kind, u0, u1, y0, y1, weight) bands where laps are unwelcome; bounds of holes as obstructions.
    plain: faces on which this product's pieces are named by the layer alone; on the others another product of the
    same layer has that name (the one of the face's main zone), and the product is named too.
    """

    key: str
    layer: str
    product: str
    loop: str
    faces: tuple[str, ...]
    offsets: tuple[float, ...]
    widths: tuple[float, ...]
    turns: tuple[float, ...]
    length: float
    ring: bool
    claims: tuple[FieldClaim, ...]
    region: BaseGeometry
    holes: BaseGeometry
    slits: BaseGeometry
    clears: tuple[tuple[str, float, float, float, float, float], ...]
    obstructions: tuple[tuple[float, float, float, float], ...]
    plain: frozenset[str] = frozenset()

    @property
    def rule(self) -> FieldClaim:
        """The claim whose laps and stagger rule the whole chain (the strictest of each)."""
        return self.claims[0]

    def offset(self, face: str) -> float:
        """Return where the face starts in the developed plane."""
        return self.offsets[self.faces.index(face)]

    @cached_property
    def regions(self) -> dict[str, BaseGeometry]:
        """Return what is to be covered on each face, in the face's own coordinates."""
        return {f: merged(c.region for c in self.claims if c.surface == f) for f in self.faces}

    def whole(self) -> BaseGeometry:
        """Return the region less its holes."""
        return self.region.difference(self.holes)


def chains(
    survey: Survey,
    fields: Sequence[FieldClaim],
    holes: Iterable[HoleClaim],
    slits: Iterable[SlitClaim],
    clears: Iterable[ClearClaim],
) -> list[Chain]:
    """Return the chains of all field claims, one per loop, layer and product, in loop order."""
    hole_list, slit_list, clear_list = list(holes), list(slits), list(clears)
    faces = {f.id: f for f in survey.faces}
    namesake = {(c.surface, c.layer): c.product for c in fields}  # the last field of a face is its main zone's
    out: list[Chain] = []
    for loop in survey.loops:
        members = [faces[f] for f in loop.faces]
        keys = dict.fromkeys((c.layer, c.product) for c in fields if c.surface in loop.faces)
        for layer, product in keys:
            mine = [c for c in fields if (c.layer, c.product) == (layer, product) and c.surface in loop.faces]
            mine.sort(key=lambda c: (loop.faces.index(c.surface), c.key))
            offsets: dict[str, float] = {}
            u = 0.0
            for face in members:
                offsets[face.id] = u
                u += face.width_m

            ours = {c.surface for c in mine}
            cut = [h for h in hole_list if h.layer == layer and h.surface in ours]
            knife = [s for s in slit_list if s.layer == layer and s.surface in ours]
            shy = [c for c in clear_list if c.layer == layer and c.surface in ours]
            region = merged(_snapped(moved([c.region for c in mine], [offsets[c.surface] for c in mine])))
            hole_geoms = _snapped(moved([h.polygon for h in cut], [offsets[h.surface] for h in cut]))
            knives = [slit_polygon(shapely.LineString([s.start, s.end]), SLIT_M) for s in knife]
            out.append(
                Chain(
                    key=f"{loop.id}/{layer}/{product}",
                    layer=layer,
                    product=product,
                    loop=loop.id,
                    faces=tuple(f.id for f in members),
                    offsets=tuple(offsets[f.id] for f in members),
                    widths=tuple(f.width_m for f in members),
                    turns=tuple(f.turn_deg for f in members),
                    length=u,
                    ring=loop.closed,
                    claims=tuple(mine),
                    region=region,
                    holes=merged(hole_geoms),
                    slits=merged(moved(knives, [offsets[s.surface] for s in knife])),
                    clears=tuple(
                        (c.kind, b[0] + offsets[c.surface], b[2] + offsets[c.surface], b[1], b[3], c.weight)
                        for c in shy
                        for b in [c.polygon.bounds]
                    ),
                    obstructions=tuple(g.bounds for g in hole_geoms),
                    plain=frozenset(c.surface for c in mine if namesake[c.surface, layer] == product),
                )
            )
    return out


def moved(geoms: Sequence[BaseGeometry], by_m: Sequence[float]) -> list[BaseGeometry]:
    """Return the geometries, each moved to the right by its own distance in metres.

    >>> [g.bounds for g in moved([box(0, 0, 1, 1), box(0, 0, 1, 1)], [0.0, 2.0])]
    [(0.0, 0.0, 1.0, 1.0), (2.0, 0.0, 3.0, 1.0)]
    """
    shapes = np.array([None, *geoms], dtype=object)[1:]
    points, which = shapely.get_coordinates(shapes, return_index=True)
    points[:, 0] += np.array(by_m, dtype=float)[which]
    return list(shapely.set_coordinates(shapes, points + 0.0))


def _snapped(geoms: Sequence[BaseGeometry]) -> list[BaseGeometry]:
    """Return each geometry as `snap` does, all at once where none is odd."""
    try:
        return list(shapely.set_precision(np.array([None, *geoms], dtype=object)[1:], SNAP_M))
    except shapely.errors.GEOSException:
        return [snap(g) for g in geoms]


def seam_pair(geom: BaseGeometry, length: float) -> BaseGeometry:
    """Return the developed geometry followed by its copy one turn further on, joined at the seam."""
    return merged([geom, translate(geom, length, 0)])


def window(u0: float, u1: float, y0: float, y1: float) -> Polygon:
    """Return the rectangle of the developed plane between two u and two y."""
    return box(u0, y0, u1, y1)


def chain_rules(chain: Chain) -> tuple[Hashable, ...]:
    """Return what rules every course of a chain, wherever it runs, as a key."""
    claims = tuple(
        (c.key, c.place, c.surface, mark(c.region), c.course_lap_m, c.end_lap_m, c.stagger_m, c.held, c.phase)
        for c in chain.claims
    )
    return (chain.key, chain.faces, chain.widths, chain.turns, chain.ring, claims, tuple(sorted(chain.plain)))


def chain_key(chain: Chain) -> tuple[Hashable, ...]:
    """Return everything that the courses of a chain depend on, as a key."""
    shapes = (mark(chain.region), mark(chain.holes), mark(chain.slits))
    return (*chain_rules(chain), shapes, chain.clears, chain.obstructions)
