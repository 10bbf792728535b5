"""From the survey and the scope to the list of places that want a detail.

A place is one spot on one face where something has to be done: a stretch of base, a corner, an
opening, the field of a zone. Its id comes from the survey's own ids, so that an edit elsewhere
never renames it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from shapely import LineString, Polygon

from lapwright.details.base import Context, Place
from lapwright.geometry import polygons
from lapwright.survey.model import Face, Opening, Penetration, Zone

# Layers that are put on in a field, by place kind. Furring is laid on studs, cladding by area.
FIELD_LAYERS = {"barrier": "field", "mat": "mat", "furring": "furring", "cladding": "cladding"}


def is_new(zone: Zone) -> bool:
    """Return whether the zone gets a new skin."""
    return zone.decision != "keep" and zone.assembly is not None


def zone_at(face: Face, x: float, y: float) -> Zone | None:
    """Return the zone of the face that covers the point (its edge counts), or None."""
    from shapely import Point

    spot = Point(x, y)
    for zone in face.zones:
        if zone.polygon.buffer(1e-6).covers(spot):
            return zone
    return None


def all_places(ctx: Context) -> list[Place]:
    """Return every place of the job in a fixed order: face by face, base to top, then things, then fields."""
    out: list[Place] = []
    faces = {f.id: f for f in ctx.survey.faces}
    for face in ctx.survey.faces:
        if face.adjoins != "outside":
            continue
        out += _edges(face, ctx)
        out += _corner(face, faces, ctx)
        out += _boundaries(face, faces, ctx)
        out += _things(face, ctx)
        out += _fields(face, ctx)
    return out


def fixing(ctx: Context, product: str) -> str:
    """Return how a sheet is held: `self-adhered` when its sheet names an adhesive, else `fastened`."""
    return "self-adhered" if ctx.catalog[product].word("adhesive") else "fastened"


def _fields(face: Face, ctx: Context) -> Iterator[Place]:
    for zone in face.zones:
        if not is_new(zone):
            continue
        assembly = ctx.scope.assemblies[zone.assembly or ""]
        if zone.decision == "remove":
            yield Place(
                f"{face.id}/{zone.id}/tear-off",
                "tear-off",
                face,
                zone=zone,
                assembly=assembly,
                polygon=zone.polygon,
                where=zone.where,
            )
        for layer, kind in FIELD_LAYERS.items():
            product = assembly.product(layer)
            if product is None:
                continue
            yield Place(
                f"{face.id}/{zone.id}/{layer}",
                kind,
                face,
                sort=fixing(ctx, product) if layer == "barrier" else "",
                zone=zone,
                assembly=assembly,
                polygon=zone.polygon,
                layer=layer,
                where=zone.where,
            )


def edges_of(zone: Zone) -> Iterator[tuple[str, tuple[float, float], tuple[float, float]]]:
    """Yield (side, start, end) of each straight edge of the zone's shell, side = base|top|rake|left|right.

    Start lies left of end (below it on a vertical edge). `top` is level, `rake` slopes.
    """
    ring = list(zone.polygon.exterior.coords)
    if not zone.polygon.exterior.is_ccw:
        ring.reverse()
    for (x0, y0, *_), (x1, y1, *_) in itertools.pairwise(ring):
        if abs(x1 - x0) < 1e-6:
            low, high = sorted(((x0, y0), (x1, y1)), key=lambda p: p[1])
            yield ("right" if y1 > y0 else "left"), low, high
        elif x1 > x0:
            yield "base", (x0, y0), (x1, y1)
        else:
            yield ("top" if abs(y1 - y0) < 1e-6 else "rake"), (x1, y1), (x0, y0)


def _on_outline(face: Face, start: tuple[float, float], end: tuple[float, float]) -> bool:
    return bool(face.outline.exterior.buffer(1e-4).covers(LineString([start, end])))


def _edges(face: Face, ctx: Context) -> Iterator[Place]:
    counts: dict[str, int] = {}
    for zone in face.zones:
        if not is_new(zone):
            continue
        assembly = ctx.scope.assemblies[zone.assembly or ""]
        found = [e for e in edges_of(zone) if e[0] in ("base", "top", "rake") and _on_outline(face, e[1], e[2])]
        for side, start, end in sorted(found, key=lambda e: (e[0], e[1])):
            kind = {"base": "base", "top": "eave", "rake": "rake"}[side]
            if (
                any(
                    a.kind == "roof_return"
                    and abs(a.start[1] - start[1]) < 0.3
                    and a.start[0] >= start[0] - 0.3
                    and a.end[0] <= end[0] + 0.3
                    for a in face.attachments
                )
                and kind == "eave"
            ):
                kind = "eave"
            counts[kind] = counts.get(kind, 0) + 1
            name = kind if counts[kind] == 1 else f"{kind}-{round(start[0] / 0.0254)}"
            yield Place(
                f"{face.id}/{name}",
                kind,
                face,
                sort=face.eaves if kind == "eave" else "",
                zone=zone,
                assembly=assembly,
                line=(start, end),
                where=face.where,
            )


def _new_zone_along(face: Face, x: float, ctx: Context) -> Zone | None:
    """Return the new zone that touches most of the face's vertical edge at x."""
    best, best_m = None, 0.05
    for zone in face.zones:
        if not is_new(zone):
            continue
        length = sum(e[1] - s[1] for side, s, e in edges_of(zone) if side in ("left", "right") and abs(s[0] - x) < 1e-4)
        if length > best_m:
            best, best_m = zone, length
    return best


def _corner(face: Face, faces: dict[str, Face], ctx: Context) -> Iterator[Place]:
    """Yield the corner at the face's right end when new skin stands on both sides of it."""
    if face.right is None:
        return
    other = faces[face.right]
    if other.adjoins != "outside":
        return
    here, there = _new_zone_along(face, face.width_m, ctx), _new_zone_along(other, 0.0, ctx)
    if here is None or there is None:
        return
    low = max(_span_at(face, face.width_m, ctx)[0], _span_at(other, 0.0, ctx)[0])
    high = min(_span_at(face, face.width_m, ctx)[1], _span_at(other, 0.0, ctx)[1])
    if high - low < 0.05:
        return
    yield Place(
        f"{face.id}/corner-{other.id}",
        "corner",
        face,
        sort="outside" if face.turn_deg > 0 else "inside",
        zone=here,
        assembly=ctx.scope.assemblies[here.assembly or ""],
        other=other,
        other_zone=there,
        line=((face.width_m, low), (face.width_m, high)),
        where=face.where,
    )


def _span_at(face: Face, x: float, ctx: Context) -> tuple[float, float]:
    ys = [
        p[1]
        for zone in face.zones
        if is_new(zone)
        for side, s, e in edges_of(zone)
        if side in ("left", "right") and abs(s[0] - x) < 1e-4
        for p in (s, e)
    ]
    return (min(ys), max(ys)) if ys else (0.0, 0.0)


def _boundaries(face: Face, faces: dict[str, Face], ctx: Context) -> Iterator[Place]:
    """Yield where new skin ends against what is kept: inside a face, or at a corner with a kept face."""
    new = [z for z in face.zones if is_new(z)]
    kept = [z for z in face.zones if not is_new(z)]
    for zone in new:
        assembly = ctx.scope.assemblies[zone.assembly or ""]
        for old in kept:
            for side, start, end in edges_of(zone):
                shared = LineString([start, end]).intersection(old.polygon.buffer(1e-5))
                if shared.length < 0.05:
                    continue
                pts = sorted(shared.coords) if isinstance(shared, LineString) else sorted((start, end))
                if side in ("left", "right"):
                    pts = sorted(pts, key=lambda p: p[1])
                sort = {"left": "left", "right": "right", "base": "below"}.get(side, "above")
                yield Place(
                    f"{face.id}/{zone.id}-{old.id}-{sort}",
                    "boundary",
                    face,
                    sort=sort,
                    zone=zone,
                    assembly=assembly,
                    other=face,
                    other_zone=old,
                    line=(pts[0], pts[-1]),
                    where=old.where,
                )
    for neighbour_id, x, sort in ((face.left, 0.0, "left"), (face.right, face.width_m, "right")):
        zone_here = _new_zone_along(face, x, ctx)
        if zone_here is None:
            continue
        if neighbour_id is not None:
            other = faces[neighbour_id]
            other_x = other.width_m if sort == "left" else 0.0
            if other.adjoins == "outside" and _new_zone_along(other, other_x, ctx) is not None:
                continue
        low, high = _span_at(face, x, ctx)
        yield Place(
            f"{face.id}/end-{sort}",
            "boundary",
            face,
            sort=f"end-{sort}",
            zone=zone_here,
            assembly=ctx.scope.assemblies[zone_here.assembly or ""],
            other=faces[neighbour_id] if neighbour_id else None,
            line=((x, low), (x, high)),
            where=face.where,
        )


def _center(poly: Polygon) -> tuple[float, float]:
    point = poly.representative_point()
    return point.x, point.y


def _things(face: Face, ctx: Context) -> Iterator[Place]:
    things: list[Opening | Penetration] = [*face.openings, *face.penetrations]
    for thing in things:
        zone = zone_at(face, *_center(thing.polygon))
        if zone is None or not is_new(zone):
            continue
        kind, sort = ("opening", thing.state) if isinstance(thing, Opening) else ("penetration", thing.kind)
        yield Place(
            f"{face.id}/{thing.id}",
            kind,
            face,
            sort=sort,
            zone=zone,
            assembly=ctx.scope.assemblies[zone.assembly or ""],
            thing=thing,
            where=thing.where,
        )
    for item in face.attachments:
        middle = ((item.start[0] + item.end[0]) / 2, (item.start[1] + item.end[1]) / 2)
        zone = zone_at(face, *middle) if item.polygon is None else zone_at(face, *_center(item.polygon))
        if zone is None or not is_new(zone) or item.decision == "remove":
            continue
        yield Place(
            f"{face.id}/{item.id}",
            "attachment",
            face,
            sort=item.kind,
            zone=zone,
            assembly=ctx.scope.assemblies[zone.assembly or ""],
            thing=item,
            line=(item.start, item.end),
            where=item.where,
        )


def field_region(place: Place) -> list[Polygon]:
    """Return the polygons of a field place in reading order."""
    return polygons(place.polygon) if place.polygon is not None else []
