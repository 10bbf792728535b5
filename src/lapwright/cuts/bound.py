"""How little any packing could draw: bounds beside every result."""

from __future__ import annotations

from collections.abc import Sequence

from lapwright.cuts.model import Bound
from lapwright.cuts.pack1d import l2_bound
from lapwright.cuts.shapes import UNIT_M, Shape, along
from lapwright.cuts.stockroom import Kind, Unit

SAME_M = 1e-3  # drawn and bound within 1 mm count as equal
LEAVES_OUT = "roll ends, the order of work, the width of the knife"


def bound(
    kind: Kind, shapes: Sequence[Shape], rows: Sequence[Unit], have: Sequence[Unit], layout_m: float | None
) -> Bound:
    """Return a product's row of bounds."""
    drawn = sum(u.end - kind.kerf for u in rows if u.used) * UNIT_M
    used_units = [u for u in rows if u.used]
    used = len(used_units)
    width = max([kind.width, *(u.width - kind.kerf for u in rows)]) * UNIT_M
    if kind.form == "length":
        least = sum(along(s, kind.width) - s.kerf for s in shapes) * UNIT_M
        least += sum(p.bounds[2] - p.bounds[0] for u in rows for p in u.fixed)
    else:
        least = (sum(s.poly.area for s in shapes) + sum(p.area for u in rows for p in u.fixed)) / width
    longest = max([kind.length, *(u.length - kind.kerf for u in rows)]) * UNIT_M
    stock = -int(-(least - SAME_M) // longest)
    if kind.form == "length" and len(used_units) == len(
        [u for u in used_units if not u.on_hand and not u.fixed]
    ):
        stock = l2_bound([along(s, kind.width) for s in shapes], kind.length - kind.trim + kind.kerf)
    proven = used == stock if kind.form != "roll" else drawn - least <= SAME_M
    return Bound(kind.product, drawn, used, least, stock, layout_m, proven, LEAVES_OUT)
