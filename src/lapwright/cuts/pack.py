"""The door of the package: all cuts of a job laid on its stock, product by product."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace

from lapwright.catalog.model import Catalog
from lapwright.cuts import bound as bounding
from lapwright.cuts.model import Bound, Packing, StockUnit
from lapwright.cuts.rolls import lay_lengths, lay_rolls
from lapwright.cuts.shapes import UNIT_M, Shape, across, fitting, on_grid, shape_of, units
from lapwright.cuts.stockroom import Kind, Unit, built_cuts, kind_of, numbered, on_hand_units, opened_units
from lapwright.details.base import Cut
from lapwright.findings import Finding, Where, in_order
from lapwright.memo import Memo, mark
from lapwright.scope.model import Scope

PACKED = ("roll", "sheet", "length")  # forms that pieces are cut from


def pack(
    cuts: Sequence[Cut],
    catalog: Catalog,
    scope: Scope,
    layout_bounds: Mapping[str, float] | None = None,
    memo: Memo | None = None,
) -> Packing:
    """Lay every cut on a roll, sheet or length, and say how far from the best the result can be.

    cuts: flats in metres (lower-left corner anywhere); products of other forms are handed through untouched.
    Cuts in `scope.built.cuts` stay where they are; the free rest of their stock is used first, then
    `scope.on_hand`, then new stock. layout_bounds: product -> least drawn length of any layout, metres.
    memo: packings of an earlier call, kept per product (one memo for one catalog).
    Returns cuts in the order given, with stock, along_m, across_m, turned_deg set. A cut that fits no stock
    has stock None and a `stop` finding (`cut.too_long`, `cut.too_wide`, `cut.no_stock_size`).
    Deterministic: work limits only.
    """
    memo = memo if memo is not None else Memo()
    built = built_cuts(scope)
    done: dict[int, Cut] = {}
    stock: list[StockUnit] = []
    bounders: list[Callable[[], Bound]] = []
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
        for i in numbers:
            old = built.get(cuts[i].id)
            if old is not None:
                done[i] = replace(
                    cuts[i],
                    flat=old.flat,  # as it was cut
                    stock=old.stock,
                    along_m=old.along_m,
                    across_m=old.across_m,
                    turned_deg=old.turned_deg,
                )
        mine = sorted((i for i in numbers if i not in done), key=lambda i: (cuts[i].installed, cuts[i].id))
        # only the order of work counts, not its numbers: pieces of other products may come and go
        ranked = [replace(cuts[i], installed=n) for n, i in enumerate(mine, 1)]
        one = memo.get(
            "packed",
            _key(kind, ranked, scope, built),
            lambda k=kind, r=ranked: _packed(k, r, scope, built),  # type: ignore[misc]
        )
        findings += one.findings
        stock += one.stock
        for n, lie in one.lies.items():
            done[mine[n - 1]] = replace(
                cuts[mine[n - 1]],
                flat=lie.flat,
                stock=lie.stock,
                along_m=lie.along_m,
                across_m=lie.across_m,
                turned_deg=lie.turned_deg,
            )
        if one.stock:
            bounders.append(lambda o=one, n=name: _bound(o, (layout_bounds or {}).get(n), memo))  # type: ignore[misc]
    return Packing(
        tuple(done.get(i, cut) for i, cut in enumerate(cuts)),
        tuple(stock),
        tuple(in_order(findings)),
        tuple(bounders),
    )


@dataclass(frozen=True)
class _Packed:
    """One product's packing: lies by the rank of the cut, its stock, and what its bound is made from."""

    key: Hashable
    kind: Kind
    lies: Mapping[int, Cut]
    stock: tuple[StockUnit, ...]
    findings: tuple[Finding, ...]
    laid: tuple[Shape, ...]
    units: tuple[Unit, ...]

    def bound(self, layout_m: float | None) -> Bound:
        """Return the row of bounds."""
        return bounding.bound(self.kind, self.laid, self.units, layout_m)


def _bound(one: _Packed, layout_m: float | None, memo: Memo) -> Bound:
    """Return a product's row of bounds; the layout's part is worked out only now that it is asked for."""
    return memo.get("bounds", (one.key, layout_m), lambda: one.bound(layout_m))


def _key(kind: Kind, cuts: Sequence[Cut], scope: Scope, built: Mapping[str, Cut]) -> Hashable:
    """Return everything that one product's packing depends on."""
    rows = [row for row in scope.built.stock if row["product"] == kind.product]
    names = {row["id"] for row in rows}
    lying_there = [c for c in built.values() if c.stock in names]
    return (
        kind,
        tuple((c.id, c.pieces, mark(c.flat)) for c in cuts),
        tuple(h for h in scope.on_hand if h[0] == kind.product),
        repr(rows),
        tuple((c.id, c.stock, c.along_m, c.across_m, c.turned_deg, mark(c.flat)) for c in lying_there),
    )


def _packed(kind: Kind, cuts: Sequence[Cut], scope: Scope, built: Mapping[str, Cut]) -> _Packed:
    """Lay one product's cuts, which come in the order of work."""
    key = _key(kind, cuts, scope, built)
    fresh = [shape_of(n, cut, kind.kerf, kind.turn) for n, cut in enumerate(cuts, 1)]
    if not kind.width:  # lengths whose width the catalog leaves out are as wide as their widest piece
        kind = replace(kind, width=max((across(s) for s in fresh), default=0))
    units_ = opened_units(kind, scope, built) + on_hand_units(kind, scope)
    good, findings = _sorted_out(fresh, kind, units_)
    lay = lay_lengths if kind.form == "length" else lay_rolls
    new = lay(good, kind, units_)
    numbered(new, kind.product, {u.id for u in units_})
    every = [*units_, *new]
    laid = [lie.shape for unit in every for lie in unit.lies]
    there = {s.index for s in laid}  # the one unit that would take a piece may be full
    findings += [_misfit(s, kind) for s in good if s.index not in there]
    rows = [u for u in every if u.used or u.row is not None]
    lies = {
        lie.shape.index: replace(
            lie.shape.cut,
            flat=on_grid(lie.shape.cut.flat),
            stock=unit.id,
            along_m=round(lie.x * UNIT_M, 4),
            across_m=round(lie.y * UNIT_M, 4),
            turned_deg=lie.degrees,
        )
        for unit in rows
        for lie in unit.lies
    }
    return _Packed(
        key, kind, lies, tuple(_row(u, kind) for u in rows), tuple(findings), tuple(laid), tuple(every)
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
