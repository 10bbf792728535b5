"""Where a long strip can run: along an edge, inside its outline, clear of what is in the way.

No material is shaped here; these helpers only find the lines that run claims follow.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from functools import lru_cache

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.catalog.model import Product
from lapwright.details.base import Context, Place
from lapwright.details.shapes import IN
from lapwright.geometry import Point, near, polygons, quad

Line = tuple[Point, Point]
Span = tuple[float, float]
SHORTEST_M = 2 * IN  # a strip shorter than 2 in is not worth a cut: common practice


def merged_spans(spans: Iterable[Span], gap: float = 1e-6) -> list[Span]:
    """Return the intervals joined where they touch within `gap`, in order.

    >>> merged_spans([(2.0, 3.0), (0.0, 1.0), (1.0, 1.5)])
    [(0.0, 1.5), (2.0, 3.0)]
    """
    out: list[Span] = []
    for a, b in sorted(spans):
        if out and a <= out[-1][1] + gap:
            out[-1] = (out[-1][0], max(out[-1][1], b))
        else:
            out.append((a, b))
    return out


def left_over(whole: Span, taken: Iterable[Span], shortest: float = 0.0) -> list[Span]:
    """Return what is left of an interval beside the taken ones, pieces of `shortest` or less dropped.

    >>> left_over((0.0, 5.0), [(1.0, 2.0), (4.5, 6.0)])
    [(0.0, 1.0), (2.0, 4.5)]
    """
    out, at = [], whole[0]
    for a, b in merged_spans(taken):
        if a > at:
            out.append((at, min(a, whole[1])))
        at = max(at, b)
        if at >= whole[1]:
            break
    if at < whole[1]:
        out.append((at, whole[1]))
    return [(a, b) for a, b in out if b - a > max(shortest, 1e-9)]


def along(line: Line, at: float) -> Point:
    """Return the point at a distance from the line's start, in metres."""
    (x0, y0), (x1, y1) = line
    total = math.hypot(x1 - x0, y1 - y0)
    return x0 + (x1 - x0) * at / total, y0 + (y1 - y0) * at / total


def span_on(line: Line, points: Iterable[Sequence[float]]) -> Span:
    """Return the interval, in metres from the line's start, that the points cover when dropped onto the line."""
    (x0, y0), (x1, y1) = line
    total = math.hypot(x1 - x0, y1 - y0)
    found = [((p[0] - x0) * (x1 - x0) + (p[1] - y0) * (y1 - y0)) / total for p in points]
    return min(found), max(found)


def shared_parts(line: Line, outline: Polygon, shortest: float = 0.05) -> list[Line]:
    """Return the parts of a straight edge that lie on the outline's edges (holes count), within 0.1 mm.

    shortest: parts of this length or less are left out, in metres.
    """
    (x0, y0), (x1, y1) = line
    total = math.hypot(x1 - x0, y1 - y0)
    spans = []
    for ring in (outline.exterior, *outline.interiors):
        for p, q in itertools.pairwise(ring.coords):
            off = [abs((x1 - x0) * (r[1] - y0) - (y1 - y0) * (r[0] - x0)) / total for r in (p, q)]
            if max(off) > 1e-4:
                continue
            a, b = span_on(line, (p, q))
            a, b = max(a, 0.0), min(b, total)
            if b > a:
                spans.append((a, b))
    out = []
    for a, b in merged_spans(spans, 1e-4):
        if b - a > shortest:
            start = line[0] if a < 1e-4 else along(line, a)
            end = line[1] if b > total - 1e-4 else along(line, b)
            out.append((start, end))
    return out


def free_runs(
    line: Line, low: float, high: float, inside: BaseGeometry, blocked: Iterable[BaseGeometry] = (),
    shortest: float = SHORTEST_M,
) -> list[Line]:  # fmt: skip
    """Return the parts of a line along which a strip lies wholly inside and off everything blocked.

    low, high: the strip's offsets to the left of the line's direction, as in `RunClaim`; inside: the outline
    it may not leave; blocked: polygons it may not cover. All in metres on one face.
    """
    total = math.hypot(line[1][0] - line[0][0], line[1][1] - line[0][1])
    if total < max(shortest, 1e-9) or high - low < 1e-6:
        return []
    strip = quad(line[0], line[1], low, high)
    taken = [strip.difference(_widened(inside))]
    taken += [strip.intersection(b) for b in near(strip, blocked)]
    spans = [span_on(line, part.exterior.coords) for geom in taken for part in polygons(geom)]
    return [
        (line[0] if a <= 0 else along(line, a), line[1] if b >= total else along(line, b))
        for a, b in left_over((0.0, total), spans, shortest)
    ]


@lru_cache(maxsize=64)
def _widened(inside: BaseGeometry) -> BaseGeometry:
    """Return an outline a hair of 1 um wider; a snapped outline would round that away, so it goes off its grid first."""
    return shapely.set_precision(inside, 0.0).buffer(1e-6, join_style="mitre")


def lengths(total: float, longest: float, lap: float) -> list[Span]:
    """Return (from, to) of each length of a run, full lengths first.

    >>> lengths(5.0, 3.0, 0.25)
    [(0.0, 3.0), (2.75, 5.0)]
    """
    out, at = [], 0.0
    while total - at > longest + 1e-9:
        out.append((at, at + longest))
        at = round(at + longest - lap, 6)
    return [*out, (at, total)]


def climbing(line: Line, longest: float | None, lap: float) -> list[Line]:
    """Return the lengths of a run in the order they go on, lowest first, so that the upper laps over the lower.

    A level run, or one that one length covers, stays whole. The direction of the line is kept.

    >>> climbing(((0.0, 5.0), (0.0, 0.0)), 3.0, 0.5)
    [((0.0, 3.0), (0.0, 0.0)), ((0.0, 5.0), (0.0, 2.5))]
    """
    (x0, y0), (x1, y1) = line
    total = math.hypot(x1 - x0, y1 - y0)
    if longest is None or total <= longest + 1e-9 or abs(y1 - y0) < 1e-6:
        return [line]
    if y1 > y0:
        return [(along(line, a), along(line, b)) for a, b in lengths(total, longest, lap)]
    return [(along(line, total - b), along(line, total - a)) for a, b in lengths(total, longest, lap)]


def strip_product(place: Place, ctx: Context, width: float) -> Product:
    """Return what a strip of this width is cut from: the barrier's own roll when it sticks, else the narrowest tape.

    Wider than any tape, it is ripped from a roll of self-adhered sheet.
    """
    sheet = ctx.product(place, "barrier", "self-adhered-sheet")
    if sheet.word("adhesive"):
        return sheet
    for name in ("flashing-tape-4", "flashing-tape-6", "flashing-tape-9"):
        if width <= ctx.catalog[name].needed("width_m") + 1e-9:
            return ctx.catalog[name]
    return ctx.catalog["self-adhered-sheet"]


def wall_of(place: Place) -> str:
    """Return the place's zone as ties and needs name it: face/zone."""
    return f"{place.face.id}/{place.zone.id if place.zone else 'main'}"


def inside_of(place: Place) -> Polygon:
    """Return the area of the place's own zone, or the whole face."""
    return place.zone.polygon if place.zone else place.face.outline


def opening_shapes(place: Place) -> list[Polygon]:
    """Return the rough openings of the place's face."""
    return [o.polygon for o in place.face.openings]


def torn_off(place: Place) -> tuple[str, ...]:
    """Return the step that tears the old layers off the place's zone, when there is one."""
    if place.zone is None or place.zone.decision != "remove":
        return ()
    return (f"{wall_of(place)}/tear-off/tear-off",)
