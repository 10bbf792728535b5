"""What packing hands on: placed cuts, the stock they come from, and bounds no packing can beat."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from lapwright.details.base import Cut
from lapwright.findings import Finding


@dataclass(frozen=True)
class StockUnit:
    """One roll, sheet or length. Lengths in metres.

    id: `<product>/r01` for stock to buy, `<product>/h01` for stock on hand, the built id for an opened unit.
    on_hand: True when it need not be bought (it was there, or it is already opened on the job).
    """

    id: str
    product: str
    length_m: float
    width_m: float
    on_hand: bool = False

    def to_json(self) -> dict[str, Any]:
        """Return the row of plan.json `stock[]`, lengths rounded to 0.1 mm."""
        return {
            "id": self.id,
            "product": self.product,
            "length_m": round(self.length_m, 4),
            "width_m": round(self.width_m, 4),
            "on_hand": self.on_hand,
        }


@dataclass(frozen=True)
class Bound:
    """How far a product's packing can be from the best. Lengths in metres.

    drawn_m: used length summed over the stock units; stock_used: units touched.
    packing_bound_m, packing_bound_stock: no packing of these cuts draws less, or touches fewer units once what is
    at hand is used first.
    layout_bound_m: no layout of this house draws less (None when not computed).
    proven: drawn within 1 mm of its bound (sheets and lengths: as many units as the bound).
    """

    product: str
    drawn_m: float
    stock_used: int
    packing_bound_m: float
    packing_bound_stock: int
    layout_bound_m: float | None
    proven: bool
    leaves_out: str

    def to_json(self) -> dict[str, Any]:
        """Return the row of plan.json `bounds[]`, lengths rounded to 0.1 mm."""
        return {
            "product": self.product,
            "drawn_m": round(self.drawn_m, 4),
            "stock_used": self.stock_used,
            "packing_bound_m": round(self.packing_bound_m, 4),
            "packing_bound_stock": self.packing_bound_stock,
            "layout_bound_m": None if self.layout_bound_m is None else round(self.layout_bound_m, 4),
            "proven": self.proven,
            "leaves_out": self.leaves_out,
        }


@dataclass(frozen=True)
class Packing:
    """All cuts (in the order given, built ones included), the stock they lie on, and findings.

    bounders: one call per product with stock, in the order of the products; see `bounds`.
    """

    cuts: tuple[Cut, ...]
    stock: tuple[StockUnit, ...]
    findings: tuple[Finding, ...] = field(default=())
    bounders: tuple[Callable[[], Bound], ...] = field(default=(), compare=False, repr=False)

    @cached_property
    def bounds(self) -> tuple[Bound, ...]:
        """Per product, what no packing can beat. Worked out when first asked for: an order does not need it."""
        return tuple(make() for make in self.bounders)
