"""The stock a product's cuts may come from: opened units, units on hand, and new ones to buy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from shapely import Polygon
from shapely.affinity import translate

from lapwright.catalog.model import Product
from lapwright.cuts.model import StockUnit
from lapwright.cuts.shapes import UNIT_M, Rect, Shape, turned, units
from lapwright.cuts.space import Lie, take_all
from lapwright.details.base import Cut
from lapwright.geometry import from_rings
from lapwright.scope.model import Scope

INCH_M = 0.0254
SAW_M = INCH_M / 8  # common practice: a saw or snips takes about 1/8 in


@dataclass
class Unit:
    """One stock unit while it is being filled. Whole tenths of a millimetre; length and width hold one kerf.

    start: where new cuts may begin; fixed: what already lies on it (built), turned, in stock metres.
    """

    id: str
    length: int
    width: int
    on_hand: bool
    start: int
    fixed: list[Polygon] = field(default_factory=list)
    lies: list[Lie] = field(default_factory=list)
    row: StockUnit | None = None  # the built unit as it was

    @property
    def end(self) -> int:
        """How far along the unit is used, with kerf."""
        return max([self.start if self.fixed else 0, *(lie.box[2] for lie in self.lies)])

    def add(self, lies: Sequence[Lie]) -> None:
        """Put a block behind what is there."""
        at = max(self.end, self.start)
        self.lies += [lie.moved(at) for lie in lies]

    @property
    def used(self) -> bool:
        """True when anything lies on it."""
        return bool(self.fixed or self.lies)

    @property
    def rest(self) -> int:
        """Length still free at the far end."""
        return self.length - max(self.end, self.start)


@dataclass(frozen=True)
class Kind:
    """What one product's stock is like. Whole tenths of a millimetre; length and width without kerf."""

    product: str
    form: str
    length: int
    width: int
    kerf: int
    trim: int
    turn: str


def kind_of(product: Product) -> Kind | None:
    """Return the stock's sizes, or None when the catalog does not give them.

    Values used: length_m, width_m (lengths may leave it out), kerf_m (default 1/8 in for lengths, else 0),
    trim_m (cut off the outer end of each unit before the first piece, default 0), turn (default "any").
    """
    length, width = product.number("length_m"), product.number("width_m")
    if length is None or length <= 0 or (width is None and product.form != "length"):
        return None
    kerf = product.number("kerf_m", SAW_M if product.form == "length" else 0.0)
    turn = product.word("turn", "any")
    return Kind(
        product.id,
        product.form,
        units(length),
        units(width) if width else 0,
        units(kerf or 0.0),
        units(product.number("trim_m", 0.0) or 0.0),
        turn if turn in ("any", "half", "none") else "any",
    )


def flat_of(value: Any) -> Polygon:
    """Return the polygon of a flat as plan.json holds it: a polygon, its rings, or a GeoJSON polygon."""
    if isinstance(value, Polygon):
        return value
    return from_rings(value["coordinates"] if isinstance(value, Mapping) else value)


def built_cuts(scope: Scope) -> dict[str, Cut]:
    """Return the cuts already made, by id, as they lie on their stock."""
    out: dict[str, Cut] = {}
    for row in scope.built.cuts:
        if row.get("stock") is None:
            continue
        out[str(row["id"])] = Cut(
            str(row["id"]),
            str(row["product"]),
            flat_of(row["flat"]),
            stock=str(row["stock"]),
            along_m=float(row.get("along_m") or 0.0),  # type: ignore[arg-type]
            across_m=float(row.get("across_m") or 0.0),  # type: ignore[arg-type]
            turned_deg=int(row.get("turned_deg") or 0),  # type: ignore[call-overload]
        )
    return out


def opened_units(kind: Kind, scope: Scope, built: Mapping[str, Cut]) -> list[Unit]:
    """Return the opened units of a product with what lies on them, in the order they were opened."""
    out: list[Unit] = []
    for row in scope.built.stock:
        if row["product"] != kind.product:
            continue
        length = float(row["length_m"])  # type: ignore[arg-type]
        width = float(row.get("width_m") or kind.width * UNIT_M)  # type: ignore[arg-type]
        on_hand = bool(row.get("on_hand", False))
        unit = Unit(
            str(row["id"]),
            units(length) + kind.kerf,
            units(width) + kind.kerf,
            on_hand,
            kind.trim,
            row=StockUnit(str(row["id"]), kind.product, length, width, on_hand),
        )
        for cut in built.values():
            if cut.stock == unit.id:
                unit.fixed.append(lying(cut))
        if unit.fixed:
            unit.start = max(units(p.bounds[2]) for p in unit.fixed) + kind.kerf
        out.append(unit)
    return out


def lying(cut: Cut) -> Polygon:
    """Return a placed cut's flat in stock coordinates, metres."""
    return translate(turned(cut.flat, cut.turned_deg), cut.along_m, cut.across_m)


def on_hand_units(kind: Kind, scope: Scope) -> list[Unit]:
    """Return the units on hand, shortest first (rests are used up before whole ones), ids h01, h02 ..."""
    rows: list[tuple[int, int]] = []
    for product, length_m, width_m, count in scope.on_hand:
        if product == kind.product:
            width = units(width_m) if width_m else kind.width
            rows += [(units(length_m), width)] * count
    return [
        Unit(f"{kind.product}/h{n:02d}", length + kind.kerf, width + kind.kerf, True, kind.trim)
        for n, (length, width) in enumerate(sorted(rows), start=1)
    ]


def free_beside(unit: Unit, kerf: int) -> list[Rect]:
    """Return the free rectangles beside and inside what already lies on an opened unit."""
    if not unit.fixed:
        return []
    free: list[Rect] = [(0, 0, unit.start, unit.width)]
    for poly in unit.fixed:
        shape = Shape(0, Cut("", "", poly), turned(poly, 0), kerf)
        x0, y0, _, _ = poly.bounds
        # one unit wider than it is: what is built may lie off the grid
        free = take_all(
            free, [(a - 1, b - 1, c + 1, d + 1) for a, b, c, d in shape.solids_at(units(x0), units(y0), 0)]
        )
    return free


def numbered(units_: Sequence[Unit], product: str, taken: set[str]) -> None:
    """Give new units the ids r01, r02 ... in the order of their earliest piece, leaving out ids in use."""
    n = 0
    for unit in sorted(units_, key=_opened):
        n += 1
        while f"{product}/r{n:02d}" in taken:
            n += 1
        unit.id = f"{product}/r{n:02d}"


def _opened(unit: Unit) -> tuple[int, str]:
    return min((lie.shape.cut.installed, lie.shape.cut.id) for lie in unit.lies)
