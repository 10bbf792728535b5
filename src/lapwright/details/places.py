"""From the survey and the scope to the list of places that want a detail.

A place is one spot on one face where something has to be done: a stretch of base, a corner, an
opening, the field of a zone. Its id comes from the survey's own ids, so that an edit elsewhere
never renames it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from shapely import LineString, Polygon
from shapely.geometry import polygon

from lapwright.details.base import Context, Place
from lapwright.details.runs import Line, left_over, merged_spans, shared_parts
from lapwright.geometry import polygons, snap
from lapwright.survey.model import Attachment, Face, Opening, Penetration, Zone
from lapwright.survey.slab_model import Slab
from lapwright.survey.slabs import surface_of

OFF_LINE_M = 2 * 0.0254  # how far from an attachment's line to ask which zone it lies in
# Layers that are put on in a field, by place kind. Furring is laid on studs, cladding by area.
FIELD_LAYERS = {
    **{"sheathing": "sheathing", "barrier": "field", "insulation": "insulation"},
    **{"mat": "mat", "furring": "furring", "cladding": "cladding"},
}


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
    return out + [p for slab in ctx.survey.slabs for p in _floor(slab, ctx)]


def _floor(slab: Slab, ctx: Context) -> Iterator[Place]:
    """Yield the floor as one place: what goes into it is one detail's affair, from the dig to the drying."""
    if slab.assembly is None or not slab.outline:
        return
    face = surface_of(slab)
    yield Place(
        f"{slab.id}/floor",
        "slab",
        face,
        zone=face.zones[0],
        assembly=ctx.scope.assemblies[slab.assembly],
        polygon=face.outline,
        layer="slab",
        where=slab.where,
    )


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
    """Yield (side, start, end) of each straight edge of the zone, holes too, side = base|top|rake|left|right.

    Start lies left of end (below it on a vertical edge). `top` is level, `rake` slopes.
    """
    # on a grid of 0.1 um, so that two zones split along a rake leave no hair between them
    shapes = [polygon.orient(p) for p in polygons(snap(zone.polygon, 1e-7))]  # the zone lies to the left of every edge
    for ring in (r for shape in shapes for r in (shape.exterior, *shape.interiors)):
        for (x0, y0, *_), (x1, y1, *_) in itertools.pairwise(ring.coords):
            if abs(x1 - x0) < 1e-6:
                low, high = sorted(((x0, y0), (x1, y1)), key=lambda p: p[1])
                yield ("right" if y1 > y0 else "left"), low, high
            elif x1 > x0:
                yield "base", (x0, y0), (x1, y1)
            else:
                yield ("top" if abs(y1 - y0) < 1e-6 else "rake"), (x1, y1), (x0, y0)


def _on_roof(face: Face, start: tuple[float, float], end: tuple[float, float]) -> bool:
    """Return whether the foot of the wall stands on a roof: its flashing is the roof's detail, not a base."""
    return any(
        a.kind in ("roof", "porch_roof") and LineString([a.start, a.end]).buffer(0.05).covers(LineString([start, end]))
        for a in face.attachments
    )


def _under_eave(face: Face, start: tuple[float, float], end: tuple[float, float]) -> bool:
    """Return whether the top of the wall ends at an eave that the survey lists as fixed to it: its own detail closes it."""
    return any(
        a.kind == "eave" and a.decision == "keep" and LineString([a.start, a.end]).buffer(0.05).covers(LineString([start, end]))
        for a in face.attachments
    )


def _in_the_open(face: Face, edge: Line) -> list[Line]:
    """Return the stretches of a foot of wall that stand outside: not in the rooms under a roof against the wall."""
    (x0, y0), (x1, y1) = edge
    rooms = [
        (a.start[0], a.end[0])
        for a in face.attachments
        if a.kind in ("roof", "porch_roof") and a.below == "inside" and max(a.start[1], a.end[1]) > max(y0, y1) + 0.05
    ]
    rise = (y1 - y0) / (x1 - x0)
    return [((a, y0 + rise * (a - x0)), (b, y0 + rise * (b - x0))) for a, b in left_over((x0, x1), rooms, 0.05)]


def _edges(face: Face, ctx: Context) -> Iterator[Place]:
    counts: dict[str, int] = {}
    for zone in face.zones:
        if not is_new(zone):
            continue
        assembly = ctx.scope.assemblies[zone.assembly or ""]
        found = [
            (side, *part)
            for side, start, end in edges_of(zone)
            if side in ("base", "top", "rake")
            for edge in shared_parts((start, end), face.outline)
            for part in (_in_the_open(face, edge) if side == "base" else [edge])
        ]
        for side, start, end in sorted(found, key=lambda e: (e[0], e[1])):
            if side == "base" and _on_roof(face, start, end):
                continue
            if side == "top" and _under_eave(face, start, end):
                continue
            kind = {"base": "base", "top": "eave", "rake": "rake"}[side]
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


Span = tuple[float, float, Zone]


def _new_spans(face: Face, x: float) -> list[Span]:
    """Return (low, high, zone) of each stretch of the face's vertical edge at x where new skin stands, upwards."""
    found = [
        (s[1], e[1], zone)
        for zone in face.zones
        if is_new(zone)
        for side, s, e in edges_of(zone)
        if side in ("left", "right") and abs(s[0] - x) < 1e-4 and e[1] - s[1] > 1e-4
    ]
    return sorted(found, key=lambda t: t[0])


def _corner(face: Face, faces: dict[str, Face], ctx: Context) -> Iterator[Place]:
    """Yield the corner at the face's right end where new skin stands on both sides of it."""
    if face.right is None or faces[face.right].adjoins != "outside":
        return
    other = faces[face.right]
    count = 0
    for low_a, high_a, here in _new_spans(face, face.width_m):
        for low_b, high_b, there in _new_spans(other, 0.0):
            low, high = max(low_a, low_b), min(high_a, high_b)
            if high - low < 0.05:
                continue
            count += 1
            yield Place(
                f"{face.id}/corner-{other.id}" + (f"-{count}" if count > 1 else ""),
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


def corners_of(face: Face, zone: Zone | None, ctx: Context) -> list[Place]:
    """Return the corners at which the new skin of a face's zone runs on round to a neighbor."""
    faces = {f.id: f for f in ctx.survey.faces}
    starts = [face, *([faces[face.left]] if face.left in faces else [])]
    found = [p for f in starts for p in _corner(f, faces, ctx)]
    return [p for p in found if (face.id, zone) in ((p.face.id, p.zone), (p.other.id if p.other else "", p.other_zone))]


def _boundaries(face: Face, faces: dict[str, Face], ctx: Context) -> Iterator[Place]:
    """Yield where new skin ends: against what is kept, at another make-up, at a free edge of the face."""
    taken: dict[str, int] = {}
    for zone in (z for z in face.zones if is_new(z)):
        for old in face.zones:
            if is_new(old) and not _seam(zone, old, ctx):
                continue
            for side, start, end in edges_of(zone):
                sort = {"left": "left", "right": "right", "base": "below"}.get(side, "above")
                if is_new(old):
                    if sort in ("left", "below"):
                        continue  # told once, by the zone on the other side
                    sort = f"seam-{sort}"
                for line in shared_parts((start, end), old.polygon):
                    if sort == "below" and _on_roof(face, *line):
                        continue
                    name = _fresh(f"{face.id}/{zone.id}-{old.id}-{sort}", line, taken)
                    yield Place(
                        name,
                        "boundary",
                        face,
                        sort=sort,
                        zone=zone,
                        assembly=ctx.scope.assemblies[zone.assembly or ""],
                        other=face,
                        other_zone=old,
                        line=line,
                        where=old.where,
                    )
    yield from _ends(face, faces, ctx)


def joints(face: Face, ctx: Context) -> list[Place]:
    """Return the places of one face where its new skin ends (see `Place`, kind boundary)."""
    return list(_boundaries(face, {f.id: f for f in ctx.survey.faces}, ctx))


def _seam(zone: Zone, other: Zone, ctx: Context) -> bool:
    """Return whether two new zones side by side have different sheets, so that no course runs across."""
    if zone.id == other.id:
        return False
    here, there = (ctx.scope.assemblies[z.assembly or ""].product("barrier") for z in (zone, other))
    return here is not None and there is not None and here != there


def _fresh(name: str, line: Line, taken: dict[str, int]) -> str:
    """Return the name, or the name with the line's place on the face when it is taken."""
    taken[name] = taken.get(name, 0) + 1
    if taken[name] == 1:
        return name
    return f"{name}-{round(line[0][0] / 0.0254)}-{round(line[0][1] / 0.0254)}"


def _upright(face: Face, x: float) -> list[tuple[float, float]]:
    """Return the heights over which new skin stands at a vertical line of the face."""
    return merged_spans(
        (s[1], e[1])
        for zone in face.zones
        if is_new(zone)
        for side, s, e in edges_of(zone)
        if side in ("left", "right") and abs(s[0] - x) < 1e-4
    )


def _ends(face: Face, faces: dict[str, Face], ctx: Context) -> Iterator[Place]:
    """Yield the upright edges of the face where its skin stops and none goes on round the corner."""
    taken: dict[str, int] = {}
    for zone in (z for z in face.zones if is_new(z)):
        for side, start, end in edges_of(zone):
            if side not in ("left", "right"):
                continue
            for low, high in shared_parts((start, end), face.outline):
                neighbor, at = None, 0.0
                if side == "left" and low[0] < 1e-4 and face.left is not None:
                    neighbor = faces[face.left]
                    at = neighbor.width_m
                elif side == "right" and low[0] > face.width_m - 1e-4 and face.right is not None:
                    neighbor = faces[face.right]
                there = [] if neighbor is None or neighbor.adjoins != "outside" else _upright(neighbor, at)
                for y0, y1 in left_over((low[1], high[1]), there, 0.05):
                    line = ((low[0], y0), (low[0], y1))
                    yield Place(
                        _fresh(f"{face.id}/end-{side}", line, taken),
                        "boundary",
                        face,
                        sort=f"end-{side}",
                        zone=zone,
                        assembly=ctx.scope.assemblies[zone.assembly or ""],
                        other=neighbor,
                        line=line,
                        where=face.where,
                    )


def _center(poly: Polygon) -> tuple[float, float]:
    point = poly.representative_point()
    return point.x, point.y


def things_on(face: Face, ctx: Context) -> list[Place]:
    """Return the places of the openings, penetrations and attachments of one face."""
    return list(_things(face, ctx))


def _zone_of(face: Face, item: Attachment) -> Zone | None:
    """Return the new zone an attachment lies in, or None. A line often lies on the seam of two zones: what is above a
    roof or eave counts first, what is behind a ledger or band."""
    x, y = (item.start[0] + item.end[0]) / 2, (item.start[1] + item.end[1]) / 2
    if item.polygon is not None:
        spots = [_center(item.polygon)]
    elif item.kind in ("deck_ledger", "belly_band"):
        spots = [(x, y - item.depth_m / 2), (x, y + OFF_LINE_M)]
    else:
        spots = [(x, y + OFF_LINE_M), (x, y - OFF_LINE_M)]
    found = [zone for spot in spots if (zone := zone_at(face, *spot)) is not None and is_new(zone)]
    return found[0] if found else None


def _things(face: Face, ctx: Context) -> Iterator[Place]:
    things: list[Opening | Penetration] = [*face.openings, *face.penetrations]
    for thing in things:
        zone = zone_at(face, *_center(thing.polygon))
        if zone is None or not is_new(zone):  # its middle is kept; its edge may still reach into new skin
            zone = next(
                (z for z in face.zones if is_new(z) and z.polygon.intersection(thing.polygon).area > 1e-4), None
            )
        if zone is None:
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
        zone = _zone_of(face, item)
        if zone is None or item.decision == "remove":
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
