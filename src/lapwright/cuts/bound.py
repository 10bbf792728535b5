"""The row of bounds beside a product's packing."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lapwright.cuts.apart import units_apart
from lapwright.cuts.barlp import bar_bound
from lapwright.cuts.bars import Item, items_of
from lapwright.cuts.model import Bound
from lapwright.cuts.pack1d import dual_bound, l2_bound, pack_bins
from lapwright.cuts.sections import Sections, sections
from lapwright.cuts.shapes import UNIT_M, Shape, fitting
from lapwright.cuts.stockroom import Kind, Unit

SAME_M = 1e-3  # drawn and bound within 1 mm count as equal
LEAVES_OUT = {
    "roll": "ends of rolls, trimmed ends, the width of the knife and the order of work; "
    "counts pieces as if they could be sliced lengthwise",
    "sheet": "edges trimmed, the width of the saw and the order of work; "
    "counts pieces as if they could be sliced lengthwise",
    "length": "trimmed ends and the order of work; the length drawn leaves out the width of the saw",
}


def bound(kind: Kind, shapes: Sequence[Shape], units: Sequence[Unit], layout_m: float | None) -> Bound:
    """Return a product's row of bounds.

    shapes: the cuts laid now; units: every unit used, and those at hand that were not.
    """
    used = [u for u in units if u.used]
    drawn_m = math.fsum((u.end - kind.kerf) * UNIT_M for u in used)
    if kind.form == "length":
        least_m = math.fsum((_along(s, kind) - s.kerf) * UNIT_M for s in shapes)
        least_m += math.fsum(p.bounds[2] - p.bounds[0] for u in used for p in u.fixed)
        stock = _units_for(least_m, kind, units)
        if all(not u.on_hand and not u.fixed for u in units):
            stock = max(stock, _lengths_for(shapes, kind, len(used)))
    else:
        items, area_m, cores = _rolled(kind, shapes, units)
        width = max([kind.width, *(u.width - kind.kerf for u in units)])
        longest = max([kind.length, *(u.length - kind.kerf for u in units)])
        least_m = max(area_m, bar_bound(items, width * UNIT_M))
        stock = max(_units_for(least_m, kind, units), l2_bound(cores, longest), dual_bound(cores, longest))
        if kind.form == "sheet" and stock < len(used):
            stock = max(stock, units_apart(items, longest * UNIT_M, width * UNIT_M))
    least_m, stock = min(least_m, drawn_m), min(stock, len(used))  # rounding of floats, never more
    proven = drawn_m - least_m <= SAME_M if kind.form == "roll" else len(used) == stock
    return Bound(kind.product, drawn_m, len(used), least_m, stock, layout_m, proven, LEAVES_OUT[kind.form])


def _along(shape: Shape, kind: Kind) -> int:
    """Length along new stock as `lay_lengths` lays it, with kerf; the shorter way on stock of another size."""
    ways = fitting(shape, kind.length - kind.trim + kind.kerf, kind.width + kind.kerf)
    return shape.size(ways[0])[0] if ways else min(shape.size(a)[0] for a in shape.angles)


def _units_for(least_m: float, kind: Kind, units: Sequence[Unit]) -> int:
    """How many units are as long as the bound together: those at hand that are used, then new ones.

    What is at hand is used up before any is bought, so that it counts even where a new unit is longer.
    """
    left = least_m - SAME_M
    count = 0
    for unit in units:
        if unit.used and (unit.on_hand or unit.row is not None):
            count += 1
            left -= (unit.length - kind.kerf) * UNIT_M
    return count + max(0, math.ceil(left / (kind.length * UNIT_M)))


def _lengths_for(shapes: Sequence[Shape], kind: Kind, used: int) -> int:
    sizes = [_along(s, kind) for s in shapes]
    capacity = kind.length - kind.trim + kind.kerf
    if not sizes or max(sizes) > capacity:
        return 0
    quick = max(l2_bound(sizes, capacity), dual_bound(sizes, capacity))
    return quick if quick >= used else pack_bins(sizes, capacity).bound


def _rolled(kind: Kind, shapes: Sequence[Shape], units: Sequence[Unit]) -> tuple[list[Item], float, list[int]]:
    """The pieces, their area over the width, and per wide piece the length where no other wide one fits beside it."""
    width = max([kind.width, *(u.width - kind.kerf for u in units)])
    longest = max([kind.length, *(u.length - kind.kerf for u in units)])
    flats = []
    cores: list[int] = []
    for s in shapes:
        ways = sorted({a % 180 == 90 for a in fitting(s, longest + s.kerf, width + s.kerf)})
        flats.append((s.poly, ways))
        if ways:
            cores.append(min(_core(s.sections_turned if w else s.sections, width) for w in ways))
    for unit in units:
        for poly in unit.fixed:
            flats.append((poly, [False]))
            cores.append(_core(sections(poly), width))
    area_m = math.fsum(poly.area for poly, _ in flats) / (width * UNIT_M)
    return items_of(flats), area_m, [c for c in cores if c > 0]


def _core(way: Sections, width: int) -> int:
    half = width * UNIT_M / 2
    return math.floor(math.fsum(s.length_m for s in way.slices if s.most > half + 1e-6) / UNIT_M)
