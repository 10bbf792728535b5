"""Build the order: needs into packs, packs into prices, steps into hours, all of it into a bid."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lapwright.catalog.model import LAYERS, Catalog, Product
from lapwright.catalog.rates import spread
from lapwright.details.base import Cut, Piece, Step
from lapwright.findings import in_order
from lapwright.order.measure import STOCK_FORMS, pack_of
from lapwright.order.model import Bid, Order, OrderRow, Range
from lapwright.order.needs import Need, Needs, Stock, hand_amount, measure_words, price_of
from lapwright.scope.model import Scope
from lapwright.survey.model import Survey

INCH_M = 0.0254
HAIR = 1e-9  # a pack more is not bought for the rounding of floats


def build(
    pieces: Sequence[Piece],
    cuts: Sequence[Cut],
    stock: Sequence[Stock],
    steps: Sequence[Step],
    survey: Survey,
    scope: Scope,
    catalog: Catalog,
) -> Order:
    """Return what is still to buy and do, and what it may cost.

    pieces, cuts, stock: as layout and packing made them (each cut with its stock's id). Pieces, stock and
    steps already built take nothing. Rolls and lengths are counted as packing used them, plus the product's
    spare; pieces without a cut by their quantity, area or length; fasteners and primer by their pieces.
    Stock on hand is taken off. Findings name what could not be counted; nothing not given counts as zero.
    """
    needs = Needs(survey, scope, catalog)
    needs.add_stock(cuts, stock)
    needs.add_pieces(pieces, cuts)
    rows = [_row(catalog[product_id], need, needs) for product_id, need in needs.by_product.items()]
    rows.sort(key=lambda row: (LAYERS.index(row.layer), row.product))
    return Order(tuple(rows), _bid(rows, steps, needs), tuple(in_order(needs.findings)))


def _ceil(value: float) -> int:
    return max(0, math.ceil(value - HAIR))


def _row(product: Product, need: Need, needs: Needs) -> OrderRow:
    pack = pack_of(product)
    one, count = pack or (None, 1)
    words, factor = measure_words(product, one)
    spare_ratio = product.number("spare_ratio", 0.0) or 0.0
    waste_ratio = product.number("waste_ratio", 0.0) or 0.0
    asked = float(_ceil(need.loose)) if words == "each" else need.loose
    waste = asked * waste_ratio
    spare = (need.drawn + asked + waste) * spare_ratio
    # The longest rest of a roll and what is left on hand serve for what is not packed, and for the spare.
    hand_left = max(0.0, hand_amount(product, needs.scope, one) - need.hand_taken)
    wanted = max(0.0, asked + waste + spare - need.tail)
    from_hand = min(wanted, hand_left)
    bare = max(0.0, asked + waste - need.tail - hand_left)
    known = not need.unknown
    return OrderRow(
        product=product.id,
        title=product.title,
        layer=product.layer,
        need=(need.drawn + need.drawn_hand + asked) * factor if known else None,
        measured_in=words,
        spare=(spare + waste) * factor if known else None,
        spare_reason=_spare_reason(product, spare_ratio, waste_ratio if need.loose else 0.0),
        packs=_packs(need.units, wanted - from_hand, one, count) if known else None,
        pack_size=None if one is None else one * count * factor,
        price=price_of(needs.scope, product),
        kgCO2e=product.number("kgCO2e"),
        source=_source(product, need, from_hand * factor, words, needs.survey.units),
        on_hand=(need.drawn_hand + from_hand) * factor,
        packs_bare=_packs(need.units, bare, one, count) if known else None,
    )


def _packs(units: int, more: float, one: float | None, count: int) -> int | None:
    """Return packs of `count` for `units` stock units and `more` on top; None for an unknown size."""
    return None if one is None else _ceil((units + _ceil(more / one)) / count)


def _spare_reason(product: Product, spare_ratio: float, waste_ratio: float) -> str:
    parts = []
    if waste_ratio:
        parts.append(f"{waste_ratio:.0%} waste: {product.source('waste_ratio')}")
    if spare_ratio:
        parts.append(f"{spare_ratio:.0%}: {product.word('spare_reason', product.source('spare_ratio'))}")
    return "; ".join(parts) or product.word("spare_reason", "no spare given")


def _source(product: Product, need: Need, from_hand: float, words: str, units: str) -> str:
    """Say in a line what the figure is made of."""
    parts = []
    if need.cuts and product.form in STOCK_FORMS:
        parts.append(f"{_counted(need.cuts, 'cut')} from {_counted(need.units + need.units_hand, product.form)}")
    if need.units_hand:
        parts.append(f"{_counted(need.units_hand, product.form)} on hand, not bought")
    parts += [_counted(number, what) for what, number in sorted(need.reasons.items())]
    if from_hand > HAIR:
        parts.append(f"{from_hand:.4g} {words} on hand, not bought")
    if product.layer == "film" and need.reasons:
        name = "film_m" if product.number("film_m") else "dry_film_m"
        if (film := product.number(name)) is not None:
            shown = f"{film / INCH_M * 1000:.3g} mil" if units == "imperial" else f"{film * 1000:.3g} mm"
            wet = "wet" if name == "film_m" else "dry, wet = dry / solids"
            parts.append(f"film {shown} {wet} ({product.source(name)})")
    return "; ".join(parts) or "not counted: a figure is not given"


def _counted(number: int, what: str) -> str:
    """Return "1 roll", "3 rolls", "2 places on rough boards"."""
    head, _, rest = what.partition(" ")
    plural = head if number == 1 or head == "stock" else head + "s"
    return f"{number} {plural}{' ' + rest if rest else ''}"


# ---------------------------------------------------------------- bid


def _bid(rows: Sequence[OrderRow], steps: Sequence[Step], needs: Needs) -> Bid:
    """Add up what is given; name what is not. Low: no spare used, shortest hours; high: all of it."""
    scope = needs.scope
    missing: list[str] = []
    known: list[tuple[float, float]] = []
    for row in rows:
        if row.packs is None or row.packs_bare is None or (row.price is None and row.packs):
            missing.append(row.product)
        elif row.price is not None:
            known.append((row.packs_bare * row.price, row.packs * row.price))
    missing += sorted(set(needs.without_product))
    material = _sum(known) if known or not rows else None
    hours = _sum([_person_hours(step) for step in steps if not _done(step, needs.done)])
    wage = scope.crew.wage_per_h
    if wage is None:
        missing.append("wage_per_h")
    labor = None if wage is None else (hours[0] * wage, hours[1] * wage)
    given = [part for part in (material, labor) if part is not None]
    work = _sum(given)
    low, high = scope.unfound_ratio
    allowance = (work[0] * low, work[1] * high) if given else None
    so_far = _sum([work, allowance]) if allowance is not None else None
    return Bid(
        material=material,
        labor=labor,
        allowance=allowance,
        total=None if missing else so_far,
        hours=hours,
        wage_per_h=wage,
        missing=tuple(missing),
        currency=scope.currency,
        so_far=so_far,
    )


def _sum(ranges: Sequence[Range]) -> Range:
    return math.fsum(low for low, _ in ranges), math.fsum(high for _, high in ranges)


def _person_hours(step: Step) -> Range:
    """Return the step's (low, high) hours times its people; one figure where its source has no range."""
    low, high = spread(step.hours_source, step.hours) or (step.hours, step.hours)
    return low * step.people, high * step.people


def _done(step: Step, built: set[str]) -> bool:
    return bool(step.pieces) and all(piece in built for piece in step.pieces)
