"""From what a piece covers to what a product is bought by: areas, lengths, film and beads into pack units."""

from __future__ import annotations

import math
from itertools import pairwise

from shapely import Polygon

from lapwright.catalog.model import Product
from lapwright.details.base import Piece

LITER_M3 = 0.001
STOCK_FORMS = ("roll", "sheet", "length")

# How details may write a measure -> (base measure, how many of it)
MEASURES: dict[str, tuple[str, float]] = {
    "m3": ("m3", 1.0), "L": ("m3", LITER_M3), "l": ("m3", LITER_M3), "liter": ("m3", LITER_M3),
    "liters": ("m3", LITER_M3), "ml": ("m3", 1e-6), "m2": ("m2", 1.0), "m": ("m", 1.0), "kg": ("kg", 1.0),
    "each": ("each", 1.0), "pieces": ("each", 1.0),
}  # fmt: skip


class NotGiven(Exception):
    """A figure that the conversion needs is not in the catalog; `names` says which, as written there."""

    def __init__(self, *names: str) -> None:
        self.names = names
        super().__init__(" or ".join(names))


def long_side(polygon: Polygon) -> float:
    """Return the long side of the smallest rectangle round the polygon, in metres.

    >>> long_side(Polygon([(0, 0), (3, 4), (3.08, 3.94), (0.08, -0.06)])) - 5 < 1e-9
    True
    """
    corners = list(polygon.minimum_rotated_rectangle.exterior.coords)
    return max(math.dist(a, b) for a, b in pairwise(corners))


def amount_of(piece: Piece, product: Product) -> tuple[float, str]:
    """Return what a piece without a cut asks for, as (number, base measure m | m2 | m3 | kg | each).

    Its own quantity comes first (film: wet, as on a smooth wall); else one each, the long side of beads
    and lengths, or the area.
    KeyError when the piece's own measure is not one of `MEASURES`.
    """
    own = piece.facts.get("quantity")
    if own is not None:
        base, factor = MEASURES[str(own[1])]
        return float(own[0]) * factor, base
    if product.form == "each":
        return 1.0, "each"
    if product.form == "length" or product.layer == "sealant":
        return long_side(piece.polygon), "m"
    return piece.polygon.area, "m2"


def bought_by(product: Product) -> str:
    """Return the measure a product is bought by: rolls and lengths m, sheets m2, else that of its pack."""
    if product.form in ("roll", "length"):
        return "m"
    if product.form == "sheet":
        return "m2"
    if product.form == "each":
        return "each"
    pack = product.values.get("pack_size")
    if pack is not None and pack.value is not None:
        return pack.unit
    return "m2" if product.form == "area" or product.number("cover_m2") else "m3"


def pack_of(product: Product) -> tuple[float, int] | None:
    """Return (what one holds in the measure of `bought_by`, how many are sold together); None: not given.

    Rolls, sheets and lengths: their own size, and `pack` if that is a count. Else: the pack, and 1.
    """
    pack = product.number("pack_size")
    if product.form not in STOCK_FORMS:
        one = product.number("cover_m2") if pack is None and bought_by(product) == "m2" else pack
        return None if one is None else (one, 1)
    length, width = product.number("length_m"), product.number("width_m")
    one = length if product.form != "sheet" else (length * width if length and width else None)
    count = pack if pack is not None and product.values["pack_size"].unit == "each" else 1.0
    return None if one is None else (one, max(1, round(count)))


def wet_film_m(product: Product) -> float:
    """Return the wet thickness of a film: as given, else dry / solids by volume. Raises NotGiven."""
    wet = product.number("film_m")
    if wet is not None:
        return wet
    dry, solids = product.number("dry_film_m"), product.number("solids_ratio")
    if dry is None or not solids:
        raise NotGiven("film", "dry film and solids")
    return dry / solids


def converted(product: Product, amount: float, measure: str, rough: bool = False) -> float:
    """Return `amount` (in `measure`) in the measure that the product is bought by.

    Film: area x wet thickness, times the product's rough factor on rough boards (1 US gal = 231 in3, so
    1604.17 sq ft at 1 mil; 1 L = 1 m2 at 1 mm). Spread stuff with a cover figure: area / cover x pack, same
    factor. Bead: width x half the width. Slab stuff: area x thickness (x density). NotGiven names what lacks.
    """
    want = bought_by(product)
    factor = (product.number("rough_factor") or 1.0) if rough else 1.0
    if measure == want:
        return amount * factor
    route = (measure, want)
    if route == ("m2", "m3"):
        cover, pack = product.number("cover_m2"), product.number("pack_size")
        if cover and pack is not None:
            return amount / cover * pack * factor
        if product.layer == "slab":
            return amount * _given(product, "thickness_m", "thickness")
        return amount * wet_film_m(product) * factor
    if route == ("m", "m3"):
        return amount * _given(product, "bead_m", "bead") ** 2 / 2
    if route == ("m2", "kg"):
        return amount * _given(product, "thickness_m", "thickness") * _given(product, "density_kg_m3", "density")
    if route == ("m3", "kg"):
        return amount * _given(product, "density_kg_m3", "density")
    if route == ("m2", "m"):
        return amount / _given(product, "width_m", "width")
    if route == ("m", "m2"):
        return amount * _given(product, "width_m", "width")
    if route == ("each", "m"):
        return amount * _given(product, "length_m", "length")
    raise NotGiven(f"a way from {measure} to {want}")


def _given(product: Product, name: str, written: str) -> float:
    value = product.number(name)
    if value is None:
        raise NotGiven(written)
    return value
