"""Small helpers that details share: flats of folded strips, standard step and check text pieces.

No detail shapes material here; these only describe the sheet before it is folded.
"""

from __future__ import annotations

from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.catalog.model import Product
from lapwright.details.base import Limits
from lapwright.geometry import as_multi, box, polygons

IN = 0.0254  # 1 in = 25.4 mm exactly (international inch)
FT = 12 * IN
HEAD_TRIM_M = 1.25 * IN  # head casing of 5/4 stock; the head flashing sits on it: common practice
SLIT_M = 0.001  # a knife cut is drawn 1 mm wide so that the two lips are separate outlines

Segment = tuple[tuple[float, float], tuple[float, float]]


def below(poly: Polygon, y: float) -> MultiPolygon:
    """Return the part of a polygon at or below a height (all its parts; may be empty)."""
    x0, y0, x1, _ = poly.bounds
    return as_multi(poly.intersection(box(x0 - 1, y0 - 1, x1 + 1, y)) if y > y0 - 1 else Polygon())


def one(geom: BaseGeometry) -> Polygon:
    """Return the largest polygon of a geometry, or an empty polygon."""
    found = polygons(geom)
    return max(found, key=lambda p: p.area) if found else Polygon()


def rect_flat(width: float, height: float) -> Polygon:
    """Return a plain rectangle with its lower-left corner at the origin."""
    return box(0, 0, width, height)


def limits_of(product: Product) -> Limits:
    """Return the weather limits that a product's sheet states; what it leaves out stays None."""
    return Limits(
        t_min_C=product.number("t_min_C"),
        t_max_C=product.number("t_max_C"),
        dry_before_h=product.number("dry_before_h"),
        dry_after_h=product.number("dry_after_h"),
        wind_max_m_s=product.number("wind_max_m_s"),
        moisture_max_pct=product.number("moisture_max_pct"),
    )
