"""Sheets over an area: rows, joints staggered in the row and between layers, boards, seam tape.

Where the rows and their joints go is found by `sheet_search`; here the area is cut along them.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

import shapely
from shapely import LineString, Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from lapwright.catalog.model import Product
from lapwright.details.sheet_claim import SheetClaim
from lapwright.geometry import box, polygons
from lapwright.layout.rows import UNIT_M, Joints, Span
from lapwright.layout.sheet_search import Area, Search
from lapwright.memo import mark

SWAP = (0.0, 1.0, 1.0, 0.0, 0.0, 0.0)  # x and y change places: its own inverse


@dataclass(frozen=True)
class Board:
    """One board in row coordinates: its row, its polygon (clipped to the region)."""

    row: int
    polygon: Polygon


@dataclass(frozen=True)
class Sheeting:
    """How one claim's area is covered: boards, joints (centers, in surface coordinates), and what it cost.

    opened: sheets that the plan opens by its own count (packing may need fewer); broken: joints where none
    should be; lying: whether the rows run along x; areas, rule_price: what its bound is worked out from.
    """

    claim: SheetClaim
    boards: tuple[Board, ...]
    joints: tuple[LineString, ...]
    opened: int
    broken: int
    lying: bool
    areas: tuple[Area, ...] = field(default=(), compare=False, repr=False)
    rule_price: float = 0.0

    @cached_property
    def bound_m(self) -> float:
        """Length of sheets, in metres, that no layout under the claim's rules beats (see `Search.bound_m`)."""
        return min((Search(a).bound_m(self.rule_price, self.opened) for a in self.areas), default=0.0)


def lay_sheets(
    claim: SheetClaim, product: Product, grid_m: float, under: Sequence[LineString] = ()
) -> Sheeting:
    """Cover the claim's region with sheets.

    grid_m: joints are tried on it; under: joints of the layer underneath, on the same surface. Raises KeyError when
    the product has no width_m or length_m. Deterministic; a region with no interior gives no boards.
    """
    if not polygons(shapely.make_valid(claim.region)):
        return Sheeting(claim, (), (), 0, 0, claim.lay != "standing")
    sheet = product.needed("length_m"), product.needed("width_m")
    turns = {"lying": (True,), "standing": (False,), "either": (True, False)}[claim.lay]
    searches = [Search(_area(claim, sheet, grid_m, under, lying)) for lying in turns]
    searches.sort(key=lambda s: s.plans[0].key)
    best, mine = searches[0].best(), searches[0]
    assert best is not None  # there is always some way, however bad
    for other in searches[1:]:
        better = other.best(best)
        if better is not None:
            best, mine = better, other
    area = mine.area
    boards, joints = _boards(area.region, best.rows, best.lines, claim.gap_m)
    return Sheeting(
        claim,
        tuple(replace(b, polygon=_turned(b.polygon, area.lying)) for b in boards),
        tuple(_turned(j, area.lying) for j in joints),
        best.opened,
        broken_joints(claim, joints, area.corners, area.seams),
        area.lying,
        tuple(s.area for s in searches),
        best.rule_price,
    )


def _turned(geom: Any, lying: bool) -> Any:
    return geom if lying else affine_transform(geom, SWAP)


def _area(
    claim: SheetClaim, sheet: tuple[float, float], grid_m: float, under: Sequence[LineString], lying: bool
) -> Area:
    region = shapely.make_valid(_turned(claim.region, lying))
    shapely.prepare(region)
    corners = tuple(p if lying else (p[1], p[0]) for p in claim.corners)
    return Area(claim, region, sheet, corners, tuple(_turned(j, lying) for j in under), grid_m, lying)


def broken_joints(
    claim: SheetClaim, joints: Sequence[LineString], corners: Sequence[tuple[float, float]], seams: Sequence[LineString]
) -> int:
    """Return how many joints lie in line with a corner, or too near a joint beside or underneath; row coordinates."""
    count = 0
    upright = [j for j in joints if j.bounds[2] - j.bounds[0] < 1e-6]
    for n, j in enumerate(joints):
        axis = 0 if j.bounds[2] - j.bounds[0] < 1e-6 else 1
        low, high = j.bounds[1 - axis], j.bounds[3 - axis]
        at = j.bounds[axis]
        in_line = any(
            abs(c[axis] - at) < claim.off_m - 1e-6 and low - claim.off_m < c[1 - axis] < high + claim.off_m for c in corners
        )
        over = any(
            abs(s.bounds[axis] - at) < claim.layer_off_m - 1e-6
            and s.bounds[axis + 2] - s.bounds[axis] < 1e-6
            and min(high, s.bounds[3 - axis]) - max(low, s.bounds[1 - axis]) > 1e-3
            for s in seams
        )
        beside = axis == 0 and any(
            abs(o.bounds[0] - at) < claim.stagger_m - 1e-6 and abs(o.bounds[3] - low) < claim.gap_m + 1e-3
            for o in upright
            if o is not joints[n]
        )
        count += in_line or over or beside
    return count


def _boards(
    region: BaseGeometry, rows: Sequence[Sequence[tuple[Span, Joints]]], lines: Sequence[float], gap: float
) -> tuple[list[Board], list[LineString]]:
    """Cut the region along the joints: the boards in working order, and the joints as lines."""
    boards: list[Board] = []
    joints: list[LineString] = []
    last = len(lines) - 2
    for row, spans in enumerate(rows):
        y0 = lines[row] + (gap / 2 if row else 0.0)
        y1 = lines[row + 1] - (gap / 2 if row < last else 0.0)
        band = region.intersection(box(region.bounds[0] - 1, lines[row], region.bounds[2] + 1, lines[row + 1]))
        parts = sorted(
            (p for p in polygons(band) if p.bounds[2] - p.bounds[0] > 1e-3 and p.bounds[3] - p.bounds[1] > 1e-3),
            key=lambda p: (round(p.bounds[0], 6), round(p.bounds[1], 6)),
        )
        for part, (span, at) in zip(parts, spans, strict=True):
            ends = [round(e * UNIT_M, 6) for e in (span.low, *at, span.high)]
            for i, (a, b) in enumerate(pairwise(ends)):
                x0 = a + (gap / 2 if i else 0.0)
                x1 = b - (gap / 2 if i < len(ends) - 2 else 0.0)
                boards += [Board(row, p) for p in polygons(part.intersection(box(x0, y0, x1, y1)))]
            for x in ends[1:-1]:
                seam = part.intersection(LineString([(x, lines[row]), (x, lines[row + 1])]))
                joints += _segments(seam)
        if row < last:
            y = lines[row + 1]
            above = region.intersection(box(region.bounds[0] - 1, y, region.bounds[2] + 1, lines[row + 2]))
            joints += _segments(shapely.intersection(_foot(band, y), _foot(above, y)))
    return boards, joints


def _foot(band: BaseGeometry, y: float) -> BaseGeometry:
    """Return where the band touches the height y."""
    line = LineString([(band.bounds[0] - 1, y), (band.bounds[2] + 1, y)]) if not band.is_empty else LineString()
    return band.intersection(line)


def _segments(geom: BaseGeometry) -> list[LineString]:
    parts = getattr(geom, "geoms", [geom])
    return [
        LineString([p.coords[0], p.coords[-1]]) for p in parts if isinstance(p, LineString) and p.length > 1e-3
    ]


def sheet_key(claim: SheetClaim) -> tuple[Hashable, ...]:
    """Return everything that a claim's sheeting depends on, as a key."""
    rest = tuple(repr(getattr(claim, f.name)) for f in fields(claim) if f.name != "region")
    return (mark(claim.region), *rest)


def off_supports(laid: Sheeting) -> int:
    """Return how many upright joints miss the supports that the claim names."""
    at = [j.bounds[0] for j in laid.joints if j.bounds[2] - j.bounds[0] < 1e-6]
    supports = laid.claim.supports
    return 0 if supports is None else sum(all(abs(x - s) > 1e-4 for s in supports) for x in at)
