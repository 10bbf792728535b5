"""The door of the package: all cuts of a job laid on its stock, product by product."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from lapwright.catalog.model import Catalog
from lapwright.cuts import bound as bounding
from lapwright.cuts.model import Bound, Packing, StockUnit
from lapwright.cuts.rolls import lay_lengths, lay_rolls
from lapwright.cuts.shapes import UNIT_M, Shape, across, fitting, on_grid, shape_of, units
from lapwright.cuts.stockroom import Kind, Unit, built_cuts, kind_of, numbered, on_hand_units, opened_units
from lapwright.details.base import Cut
from lapwright.findings import Finding, Where, in_order
from lapwright.scope.model import Scope

PACKED = ("roll", "sheet", "length")  # forms that pieces are cut from


def pack(
    cuts: Sequence[Cut],
    catalog: Catalog,
    scope: Scope,
    layout_bounds: Mapping[str, float] | None = None,
) -> Packing:
    """Lay every cut on a roll, sheet or length, and say how far from the best the result can be.

    cuts: flats in metres (lower-left corner anywhere); products of other forms are handed through untouched.
    Cuts in `scope.built.cuts` stay where they are; the free rest of their stock is used first, then
    `scope.on_hand`, then new stock. layout_bounds: product -> least drawn length of any layout, metres.
    Returns cuts in the order given, with stock, along_m, across_m, turned_deg set. A cut that fits no stock
    has stock None and a `stop` finding (`cut.too_long`, `cut.too_wide`, `cut.no_stock_size`).
    Deterministic: work limits only.
    """
    built = built_cuts(scope)
    done: dict[int, Cut] = {}
    stock: list[StockUnit] = []
    bounds: list[Bound] = []
    findings: list[Finding] = []
    by_product: dict[str, list[int]] = {}
    for i, cut in enumerate(cuts):
        by_product.setdefault(cut.product, []).append(i)
    opened = [str(row["product"]) for row in scope.built.stock]
    for name in sorted({*by_product, *opened}):
        numbers = by_product.get(name, [])
        product = catalog.products.get(name)
        if product is not None and product.form not in PACKED:
            continue
        kind = kind_of(product) if product is not None else None
        if kind is None:
            findings += [_no_size(name)] if numbers else []
            continue
        fresh: list[Shape] = []
        for i in numbers:
            cut = cuts[i]
            old = built.get(cut.id)
            if old is not None:
                done[i] = replace(
                    cut,
                    flat=old.flat,  # as it was cut
                    stock=old.stock,
                    along_m=old.along_m,
                    across_m=old.across_m,
                    turned_deg=old.turned_deg,
                )
            else:
                fresh.append(shape_of(i, cut, kind.kerf, kind.turn))
        if not kind.width:  # lengths whose width the catalog leaves out are as wide as their widest piece
            kind = replace(kind, width=max((across(s) for s in fresh), default=0))
        units_ = opened_units(kind, scope, built) + on_hand_units(kind, scope)
        good, bad = _sorted_out(fresh, kind, units_)
        findings += bad
        lay = lay_lengths if kind.form == "length" else lay_rolls
        new = lay(good, kind, units_)
        numbered(new, name, {u.id for u in units_})
        laid = [lie.shape for unit in (*units_, *new) for lie in unit.lies]
        there = {s.index for s in laid}  # the one unit that would take a piece may be full
        findings += [_misfit(s, kind) for s in good if s.index not in there]
        rows = [u for u in [*units_, *new] if u.used or u.row is not None]
        for unit in rows:
            stock.append(_row(unit, kind))
            for lie in unit.lies:
                cut = lie.shape.cut
                done[lie.shape.index] = replace(
                    cut,
                    flat=on_grid(cut.flat),
                    stock=unit.id,
                    along_m=round(lie.x * UNIT_M, 4),
                    across_m=round(lie.y * UNIT_M, 4),
                    turned_deg=lie.degrees,
                )
        if rows:
            every = [*units_, *new]
            bounds.append(bounding.bound(kind, laid, every, (layout_bounds or {}).get(name)))
    return Packing(
        tuple(done.get(i, cut) for i, cut in enumerate(cuts)),
        tuple(stock),
        tuple(bounds),
        tuple(in_order(findings)),
    )


def _row(unit: Unit, kind: Kind) -> StockUnit:
    if unit.row is not None:
        return unit.row
    return StockUnit(
        unit.id,
        kind.product,
        round((unit.length - kind.kerf) * UNIT_M, 4),
        round((unit.width - kind.kerf) * UNIT_M, 4),
        unit.on_hand,
    )


def _sorted_out(
    shapes: Sequence[Shape], kind: Kind, have: Sequence[Unit]
) -> tuple[list[Shape], list[Finding]]:
    """Split the shapes into those that fit new stock or one unit at hand, and findings for the others."""
    stock = [
        (kind.length - kind.trim + kind.kerf, kind.width + kind.kerf),
        *((u.rest, u.width) for u in have),
    ]
    good = [s for s in shapes if any(fitting(s, long, wide) for long, wide in stock)]
    kept = {s.index for s in good}
    return good, [_misfit(s, kind) for s in shapes if s.index not in kept]


def _misfit(shape: Shape, kind: Kind) -> Finding:
    w, h = (units(v) for v in shape.poly.bounds[2:])
    long, wide = kind.length - kind.trim, kind.width
    too_wide = bool(wide) and min(h if 90 not in shape.angles else min(w, h), h) > wide
    code, got, have, side = (
        ("cut.too_wide", min(w, h) if 90 in shape.angles else h, wide, "wide")
        if too_wide
        else ("cut.too_long", max(w, h) if 90 in shape.angles else w, long, "long")
    )
    names = ", ".join(shape.cut.pieces) or shape.cut.id
    return Finding(
        code,
        "stop",
        f"{names} is {got * UNIT_M:.3f} m {side}; the {kind.product} gives {have * UNIT_M:.3f} m.",
        "It cannot be cut in one piece.",
        f"Cut it in two with a lap, or choose a {'wider' if too_wide else 'longer'} {kind.form}.",
        Where(thing=shape.cut.id),
        "size of the stock in the catalog",
    )


def _no_size(product: str) -> Finding:
    return Finding(
        "cut.no_stock_size",
        "stop",
        f"{product}: nothing says how long and wide its stock is.",
        "Without it no piece can be laid on it.",
        "Give length_m and width_m in catalog.yaml.",
        Where(thing=product),
        "catalog",
    )
