"""How much of each product the pieces and cuts ask for, with the reason beside every figure."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from lapwright.catalog.model import Catalog, Product
from lapwright.details.base import Cut, Piece
from lapwright.findings import Finding, Where
from lapwright.order.measure import MEASURES, NotGiven, amount_of, bought_by, converted, long_side
from lapwright.scope.model import Layer, Scope
from lapwright.survey.model import Survey

BOARDS = {"board", "boards", "plank", "planks", "shiplap"}  # sheathing with rough faces and joints, by name


class Stock(Protocol):
    """One roll, sheet or length that cuts lie on. Lengths in metres."""

    @property
    def id(self) -> str: ...
    @property
    def product(self) -> str: ...
    @property
    def length_m(self) -> float: ...
    @property
    def width_m(self) -> float: ...
    @property
    def on_hand(self) -> bool: ...


@dataclass
class Need:
    """What one product is needed for. Figures in the measure the product is bought by.

    drawn, units: off stock to buy; drawn_hand, units_hand: off stock on hand or opened; cuts: off both;
    tail: longest rest of one roll to buy; hand_taken: of what is listed as on hand, gone with units_hand;
    loose: not cut from packed stock; unknown: a figure lacks, so no sum can be trusted; reasons: of loose.
    """

    drawn: float = 0.0
    drawn_hand: float = 0.0
    units: int = 0
    units_hand: int = 0
    cuts: int = 0
    tail: float = 0.0
    hand_taken: float = 0.0
    loose: float = 0.0
    unknown: bool = False
    reasons: Counter[str] = field(default_factory=Counter)


class Needs:
    """Gathers the need of every product; `findings` says what could not be counted."""

    def __init__(self, survey: Survey, scope: Scope, catalog: Catalog) -> None:
        self.survey = survey
        self.catalog = catalog
        self.scope = scope
        self.by_product: dict[str, Need] = {}
        self.findings: list[Finding] = []
        self.without_product: list[str] = []
        self.done = {str(row["id"]) for row in scope.built.pieces}
        self.opened = {str(row["id"]) for row in scope.built.stock}

    def of(self, product_id: str) -> Need:
        """Return the (new) need of a product."""
        return self.by_product.setdefault(product_id, Need())

    def add_stock(self, cuts: Sequence[Cut], stock: Sequence[Stock]) -> None:
        """Count stock units and what is drawn from them: rolls and lengths by the far end of the last cut,
        sheets by the area of the cuts. An opened unit is on hand."""
        on: dict[str, list[Cut]] = {}
        for cut in cuts:
            if cut.stock is not None:
                on.setdefault(cut.stock, []).append(cut)
        for unit in stock:
            product = self.product(unit.product)
            if product is None or unit.id not in on:
                continue
            need = self.of(unit.product)
            opened = unit.id in self.opened
            if product.form == "each":
                need.loose += 0.0 if unit.on_hand or opened else 1.0
                need.reasons["cut"] += len(on[unit.id])
                continue
            if product.form == "sheet":
                drawn = math.fsum(cut.flat.area for cut in on[unit.id])
            else:
                drawn = max(_far_end(cut) for cut in on[unit.id])
            need.cuts += len(on[unit.id])
            if unit.on_hand or opened:
                need.drawn_hand += drawn
                need.units_hand += 1
                if not opened:
                    need.hand_taken += unit.length_m * (unit.width_m if product.form == "sheet" else 1.0)
            else:
                need.drawn += drawn
                need.units += 1
                if product.form == "roll":
                    need.tail = max(need.tail, unit.length_m - drawn)

    def add_pieces(self, pieces: Sequence[Piece], cuts: Sequence[Cut]) -> None:
        """Count what is not cut from packed stock, then fasteners and primer of every piece."""
        packed = {cut.id for cut in cuts if cut.stock is not None}
        # One claim may give several pieces and its quantity stands on one of them; a thing is bought once.
        told = {piece.claim for piece in pieces if "quantity" in piece.facts}
        counted: set[str] = set()
        for piece in pieces:
            if piece.id in self.done or piece.layer == "existing":
                continue
            if piece.product is None:
                self.without_product.append(f"{piece.role or piece.layer} at {piece.place}")
                continue
            product = self.product(piece.product)
            if product is None:
                continue
            cut = piece.cut is not None and piece.cut in packed
            once = product.form == "each" and piece.claim in counted
            if not cut and not once and ("quantity" in piece.facts or piece.claim not in told):
                self._loose(piece, product)
            counted.add(piece.claim)
            self._fasteners(piece, product)
            if piece.facts.get("primer"):
                self._primer(piece, product)

    def product(self, product_id: str) -> Product | None:
        """Return the product; None (and one finding) when the catalog has none of that id."""
        if product_id in self.catalog:
            return self.catalog[product_id]
        self._once(
            Finding(
                "order.unknown_product",
                "stop",
                f"'{product_id}' is not in the catalog, so it cannot be ordered",
                fix="Add it to catalog.yaml with its form, layer and sizes.",
                where=Where(thing=product_id),
            )
        )
        return None

    def _loose(self, piece: Piece, product: Product) -> None:
        try:
            amount, measure = amount_of(piece, product)
        except KeyError:
            said = piece.facts["quantity"][1]
            self._once(
                Finding(
                    "order.unknown_measure",
                    "stop",
                    f"{product.id}: a quantity in '{said}' cannot be ordered",
                    fix=f"The detail must write one of: {', '.join(MEASURES)}.",
                    where=Where(surface=piece.surface, thing=piece.id),
                )
            )
            return
        rough = product.layer in ("film", "primer") and self.rough(piece)
        if piece.cut is not None:
            self._once(
                Finding(
                    "order.not_packed",
                    "warn",
                    f"{product.id}: pieces that lie on no stock are ordered by area or length alone",
                    why="The figure leaves out what is lost between them.",
                    fix="Give its width and length in catalog.yaml, or mend the cut that does not fit.",
                    where=Where(thing=product.id),
                )
            )
        what = "place on rough boards" if rough else "place"
        self._add(product, amount, measure, rough, what)

    def _fasteners(self, piece: Piece, product: Product) -> None:
        holder = self.product(product.word("fastener")) if product.word("fastener") else None
        if holder is None or piece.facts.get("fasteners_counted"):  # counted one by one as pieces of their own
            return
        per_m2, per_m = product.number("fasteners_per_m2"), product.number("fasteners_per_m")
        if per_m2 is not None:
            count = per_m2 * piece.polygon.area
        elif per_m is not None:
            count = per_m * long_side(piece.polygon)
        else:
            self._lacks(product, NotGiven("fasteners per area", "fasteners per length"), holder.id)
            return
        need = self.of(holder.id)
        need.loose += count
        need.reasons[f"piece of {product.id}"] += 1

    def _primer(self, piece: Piece, product: Product) -> None:
        primer_id = str(piece.facts.get("primer_product") or product.word("primer") or "primer")
        primer = self.product(primer_id)
        if primer is not None:
            self._add(primer, piece.polygon.area, "m2", self.rough(piece), f"piece of {product.id}")

    def _add(self, product: Product, amount: float, measure: str, rough: bool, what: str) -> None:
        try:
            more = converted(product, amount, measure, rough)
        except NotGiven as lack:
            self._lacks(product, lack, product.id)
            return
        need = self.of(product.id)
        need.loose += more
        need.reasons[what] += 1

    def _lacks(self, product: Product, lack: NotGiven, ordered: str) -> None:
        self._once(
            Finding(
                "order.not_given",
                "warn",
                f"{ordered} cannot be counted: {product.id} has no figure for {lack}",
                fix=f"Write it in catalog.yaml under {product.id}, from the sheet in hand.",
                where=Where(file=product.where.file, line=product.where.line, thing=ordered),
            )
        )
        self.of(ordered).unknown = True

    def rough(self, piece: Piece) -> bool:
        """Return True where the piece lies on old boards: as the piece says, else by the zone's assembly."""
        if "rough" in piece.facts:
            return bool(piece.facts["rough"])
        if piece.plane != "face":
            return False
        spot = piece.polygon.representative_point()
        for zone in (z for f in self.survey.faces if f.id == piece.surface for z in f.zones):
            assembly = self.scope.assemblies.get(zone.assembly or "")
            if assembly is not None and zone.polygon.covers(spot):
                return any(_boards(layer) for layer in assembly.layers)
        return False

    def _once(self, finding: Finding) -> None:
        if not any(f.code == finding.code and f.what == finding.what for f in self.findings):
            self.findings.append(finding)


def _boards(layer: Layer) -> bool:
    """Return True for sheathing of boards: board-sheathing, pine boards, shiplap; not a gypsum board."""
    words = set((layer.product or layer.material or "").lower().replace("-", " ").split())
    return layer.layer == "sheathing" and bool(words & BOARDS) and not words & {"gypsum", "fiber", "wool"}


def _far_end(cut: Cut) -> float:
    """Return how far along the stock the cut reaches, in metres."""
    angle = math.radians(cut.turned_deg)
    along: list[float] = [x * math.cos(angle) - y * math.sin(angle) for x, y, *_ in cut.flat.exterior.coords]
    return cut.along_m + max(along) - min(along)


def hand_amount(product: Product, scope: Scope, pack: float | None) -> float:
    """Return what of a product lies on hand at the start, in the measure it is bought by.

    Rolls and lengths by their own length, sheets by length x width, everything else by whole packs.
    """
    total = 0.0
    for product_id, length_m, width_m, count in scope.on_hand:
        if product_id != product.id:
            continue
        if product.form in ("roll", "length"):
            total += length_m * count
        elif product.form == "sheet":
            total += length_m * (width_m or product.number("width_m", 0.0) or 0.0) * count
        else:
            total += (pack or 0.0) * count
    return total


def measure_words(product: Product, pack: float | None) -> tuple[str, float]:
    """Return how the order writes the product's measure, and the factor from base to it (m3 pails as L)."""
    base = bought_by(product)
    if base == "m3" and (pack is None or pack < 0.1):
        return "L", 1000.0
    return base, 1.0


def price_of(scope: Scope, product: Product) -> float | None:
    """Return the price of one pack: the job's own, else the catalog's, else None."""
    own: Mapping[str, float] = scope.prices
    return own.get(product.id, product.number("price"))
