"""Random but house-like loads, and a verifier written from the contract alone."""

from __future__ import annotations

import random
from collections import defaultdict

import shapely
from shapely import Polygon, STRtree
from shapely.affinity import rotate, translate

from lapwright.catalog.model import Catalog, Product, Value
from lapwright.cuts import Packing
from lapwright.details.base import Cut

W = 1.524
L = 22.86


def product(name: str, form: str, **values: float | str) -> Product:
    return Product(name, name, form, "barrier", {k: Value(v) for k, v in values.items()})  # type: ignore[arg-type]


def catalog(*products: Product) -> Catalog:
    return Catalog({p.id: p for p in products})


def rect(w: float, h: float, *holes: tuple[float, float, float, float]) -> Polygon:
    """Rectangle with its lower-left corner at (0, 0), less some boxes (holes or notches)."""
    flat = shapely.box(0, 0, w, h)
    for box in holes:
        flat = shapely.difference(flat, shapely.box(*box))
    return max(getattr(flat, "geoms", [flat]), key=lambda p: p.area)


def house(seed: int, courses: int = 150, strips: int = 250, name: str = "sheet") -> list[Cut]:
    """About what one house asks of one roll product."""
    rng = random.Random(seed)
    out: list[Cut] = []
    for n in range(courses):
        w = round(rng.uniform(1.0, 7.6), 4)
        h = W if rng.random() < 0.85 else round(rng.uniform(0.5, 1.4), 4)
        holes = []
        if w > 2.5 and rng.random() < 0.5:
            x = rng.uniform(0.3, w - 1.4)
            wide, tall = rng.uniform(0.6, 1.0), rng.uniform(0.5, 1.3)
            y = rng.choice([0.0, h - tall, (h - tall) / 2]) if h > tall else 0.0
            holes.append((x, y, x + wide, min(h, y + tall)))
        flat = rect(w, h, *holes)
        if rng.random() < 0.06:
            flat = Polygon([(0, 0), (w, 0), (w, h), (min(w / 2, 1.2), h)])
        out.append(Cut(f"c{n:03d}", name, flat, pieces=(f"p{n:03d}",), installed=n * 3))
    sizes = [0.1524, 0.2032, 0.2286, 0.3048, 0.1]
    for n in range(strips):
        w, h = round(rng.uniform(0.3, 3.0), 4), rng.choice(sizes)
        if rng.random() < 0.15:
            flat = rect(w, 2 * h, (h, h, w, 2 * h))
        elif rng.random() < 0.5:
            flat = rect(h, w)
        else:
            flat = rect(w, h)
        out.append(
            Cut(f"s{n:03d}", name, flat, pieces=(f"q{n:03d}",), installed=rng.randrange(3 * courses + 1))
        )
    return out


def placed(cut: Cut) -> Polygon:
    """The flat in stock coordinates, as the contract defines it."""
    spun = rotate(cut.flat, cut.turned_deg, origin=(0, 0))
    x, y, _, _ = spun.bounds
    return translate(spun, cut.along_m - x, cut.across_m - y)


def faults(packing: Packing, cuts: list[Cut], turns: tuple[int, ...] = (0, 90, 180, 270)) -> list[str]:
    """Everything in which a packing breaks the contract."""
    bad: list[str] = []
    if [c.id for c in packing.cuts] != [c.id for c in cuts]:
        bad.append("cuts lost or out of order")
    units = {u.id: u for u in packing.stock}
    if len(units) != len(packing.stock):
        bad.append("stock ids repeat")
    on: dict[str, list[tuple[str, Polygon]]] = defaultdict(list)
    stopped = {f.where.thing for f in packing.findings if f.level == "stop"}
    for got, asked in zip(packing.cuts, cuts, strict=True):
        if shapely.hausdorff_distance(got.flat, asked.flat) > 1e-4:
            bad.append(f"{got.id}: flat changed")
        if got.stock is None:
            if got.id not in stopped and got.product not in stopped:
                bad.append(f"{got.id}: unplaced without a finding")
            continue
        if got.turned_deg not in turns:
            bad.append(f"{got.id}: turned {got.turned_deg}")
        unit = units[got.stock]
        if unit.product != got.product:
            bad.append(f"{got.id}: on stock of another product")
        poly = placed(got)
        x0, y0, x1, y1 = poly.bounds
        if x0 < -1e-9 or y0 < -1e-9 or x1 > unit.length_m + 1e-6 or y1 > unit.width_m + 1e-6:
            bad.append(f"{got.id}: off the stock {poly.bounds}")
        on[got.stock].append((got.id, poly))
    for stock, items in on.items():
        polys = [p for _, p in items]
        a, b = STRtree(polys).query(polys, predicate="intersects")
        for i, j in zip(a.tolist(), b.tolist(), strict=True):
            if i < j and shapely.intersection(polys[i], polys[j]).area > 1e-6:
                bad.append(f"{stock}: {items[i][0]} over {items[j][0]}")
    for bound in packing.bounds:
        used = {u.id for u in packing.stock if u.product == bound.product and u.id in on}
        drawn = sum(max(p.bounds[2] for _, p in on[u]) for u in used)
        if abs(drawn - bound.drawn_m) > 1e-6 * max(1, len(used)):
            bad.append(f"{bound.product}: drawn {bound.drawn_m}, measured {drawn}")
        if bound.stock_used != len(used):
            bad.append(f"{bound.product}: stock used {bound.stock_used}, counted {len(used)}")
        if bound.packing_bound_m > bound.drawn_m + 1e-6:
            bad.append(f"{bound.product}: bound {bound.packing_bound_m} above drawn {bound.drawn_m}")
        if bound.packing_bound_stock > bound.stock_used:
            bad.append(f"{bound.product}: stock bound above stock used")
    return bad
