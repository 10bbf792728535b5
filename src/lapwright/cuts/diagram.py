"""What lies where on one stock unit, for the drawings."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Polygon

from lapwright.cuts.model import Packing
from lapwright.cuts.stockroom import lying


@dataclass(frozen=True)
class Drawn:
    """One placed flat in stock coordinates (x along, y across), metres."""

    cut: str
    pieces: tuple[str, ...]
    polygon: Polygon
    installed: int


def diagram(packing: Packing, stock_id: str) -> list[Drawn]:
    """Return the flats on one stock unit from its outer end on; KeyError for an unknown unit."""
    if all(unit.id != stock_id for unit in packing.stock):
        raise KeyError(stock_id)
    on_it = [Drawn(c.id, c.pieces, lying(c), c.installed) for c in packing.cuts if c.stock == stock_id]
    return sorted(on_it, key=lambda d: (round(d.polygon.bounds[0], 4), round(d.polygon.bounds[1], 4), d.cut))
