"""What is bought and what it may cost: rows of the order, and the bid made from them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from lapwright.findings import Finding

Range = tuple[float, float]


def _figure(value: float | None, measured_in: str = "") -> float | None:
    """Round as the contract asks: lengths to 0.1 mm, else 4 significant figures; counts whole."""
    if value is None:
        return None
    if measured_in == "m":
        return round(value, 4) + 0.0
    if measured_in == "each" and abs(value - round(value)) < 1e-9:
        return float(round(value))
    return float(f"{value:.4g}") + 0.0


def _money(value: Range | None) -> list[float] | None:
    return None if value is None else [round(value[0], 2) + 0.0, round(value[1], 2) + 0.0]


@dataclass(frozen=True)
class OrderRow:
    """One product to buy.

    need, spare, on_hand and pack_size are in `measured_in` (m, m2, m3, L, kg, each). `on_hand` is what lies
    there already and is taken off. need is None when a figure lacks, packs when that or the pack lacks.
    price and kgCO2e are per pack, None when not given. packs_bare: packs for the need alone, without spare.
    """

    product: str
    title: str
    layer: str
    need: float | None
    measured_in: str
    spare: float | None
    spare_reason: str
    packs: int | None
    pack_size: float | None
    price: float | None
    kgCO2e: float | None
    source: str
    on_hand: float = 0.0
    packs_bare: int | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the row of plan.json `order[]`."""
        return {
            "product": self.product,
            "title": self.title,
            "need": _figure(self.need, self.measured_in),
            "measured_in": self.measured_in,
            "spare": _figure(self.spare, self.measured_in),
            "spare_reason": self.spare_reason,
            "on_hand": _figure(self.on_hand, self.measured_in),
            "packs": self.packs,
            "pack_size": _figure(self.pack_size, self.measured_in),
            "price": self.price,
            "kgCO2e": self.kgCO2e,
            "source": self.source,
        }


@dataclass(frozen=True)
class Bid:
    """Material + labor + allowance for what is not found yet, each (low, high) in `currency`.

    hours: (low, high) summed over all hands. missing: product ids without a price and other things not given.
    While there are any, `total` is None and `so_far` is what the given figures come to: nothing counts as 0.
    """

    material: Range | None
    labor: Range | None
    allowance: Range | None
    total: Range | None
    hours: Range
    wage_per_h: float | None
    missing: tuple[str, ...]
    currency: str
    so_far: Range | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the bid as plan.json holds it, money to the cent."""
        return {
            "material": _money(self.material),
            "labor": _money(self.labor),
            "allowance": _money(self.allowance),
            "total": _money(self.total),
            "so_far": _money(self.so_far),
            "hours": [_figure(self.hours[0]), _figure(self.hours[1])],
            "wage_per_h": self.wage_per_h,
            "missing": list(self.missing),
            "currency": self.currency,
        }


@dataclass(frozen=True)
class Order:
    """All rows (by layer, then product), the bid, and what could not be counted."""

    rows: tuple[OrderRow, ...]
    bid: Bid
    findings: tuple[Finding, ...] = field(default=())

    def to_json(self) -> list[dict[str, Any]]:
        """Return plan.json `order[]`."""
        return [row.to_json() for row in self.rows]
