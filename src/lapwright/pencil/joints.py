"""Which ties ought to be: every line where a patch with new skin meets another, from the survey alone.

No claim and no piece is asked here: what ought to be tied must not depend on what some detail made of it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from shapely import LineString

from lapwright.details.base import Context, Place
from lapwright.details.heat import boards_outside
from lapwright.details.places import all_places, edges_of, is_new
from lapwright.details.runs import inside_of, left_over, shared_parts, wall_of
from lapwright.findings import Where
from lapwright.geometry import box, merged
from lapwright.survey.model import Attachment, Face, Opening, Penetration, Zone

IN = 0.0254
SHORT_M = 0.05  # shorter stretches are corners of other joints (the details' own limit)
UNTIED = ("tear-off",)  # kinds of place that are no line between two patches
Line = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Ought:
    """A line where layers ought to go on. suffix: which side of its place ("" when it is the whole); asks: layers."""

    place: Place
    suffix: str
    line: Line
    asks: tuple[str, ...]
    sides: tuple[str, str]

    @property
    def id(self) -> str:
        """The place's id, and the side of it."""
        return f"{self.place.id}/{self.suffix}" if self.suffix else self.place.id


BOTH, AIR = ("water", "air"), ("air",)


def oughts(ctx: Context) -> list[Ought]:
    """Return every line where new skin meets something else, in place order."""
    return [_heated(o, ctx) for place in all_places(ctx) for o in _of(place)]


def _heated(o: Ought, ctx: Context) -> Ought:
    """Return the joint with heat asked too where boards outside the barrier meet it: at what comes through the wall, at
    ledgers, chimneys and bands, at corners and seams with boards on both sides. What kept walls, roofs and foundations have
    is not drawn: there heat stays not given."""
    place, beyond = o.place, o.place.other_zone
    if not boards_outside(place.assembly):
        return o
    if isinstance(place.thing, Attachment):
        asked = place.thing.kind in ("deck_ledger", "chimney", "belly_band")
    elif place.thing is None and beyond is not None and is_new(beyond):
        asked = boards_outside(ctx.scope.assemblies[beyond.assembly or ""]) > 0
    else:
        asked = isinstance(place.thing, Opening | Penetration)
    return replace(o, asks=(*o.asks, "heat")) if asked else o


def _of(place: Place) -> Iterator[Ought]:
    if place.kind == "slab":
        yield from _floor_edge(place)
        return
    if place.kind in UNTIED or (place.polygon is not None and place.line is None and place.thing is None):
        return
    here = wall_of(place)
    thing = place.thing
    if isinstance(thing, Opening):
        for side, line in _round(thing):
            yield Ought(place, side, line, BOTH, (here, place.id))
    elif isinstance(thing, Penetration):
        ring = tuple((float(x), float(y)) for x, y, *_ in thing.polygon.exterior.coords)
        yield Ought(place, "", ring, BOTH, (here, place.id))
    elif isinstance(thing, Attachment):
        for side, line, asks in _attached(place, thing):
            yield Ought(place, side, line, asks, (here, place.id))
    elif place.line is not None and not (place.kind == "base" and _taken(place, place.line)):
        asks = AIR if place.kind in ("eave", "rake") else BOTH  # a roof sheds the water over the top of a wall
        yield Ought(place, "", place.line, asks, (here, _beyond(place)))


def _floor_edge(place: Place) -> Iterator[Ought]:
    """Yield the line where a new floor on the ground meets the foundation: its retarder and its foam must reach it."""
    assert place.assembly is not None and place.polygon is not None
    ring = tuple((float(x), float(y)) for x, y, *_ in place.polygon.exterior.coords)
    new = {i.layer for i in place.assembly.layers if not i.existing}
    asks = [word for word, layer in (("air", "vapor"), ("vapor", "vapor"), ("heat", "insulation")) if layer in new]
    yield Ought(place, "edge", ring, tuple(asks), (place.id, "foundation"))


def _beyond(place: Place) -> str:
    if place.kind == "base":
        return "foundation"
    if place.kind in ("eave", "rake"):
        return "roof"
    if place.other_zone is not None:
        return f"{place.other.id if place.other else place.face.id}/{place.other_zone.id}"
    return place.other.id if place.other is not None else "beyond"


def _round(opening: Opening) -> Iterator[tuple[str, Line]]:
    """Yield the sides of an opening: four, or sill and head of one without upright sides."""
    x0, y0, x1, y1 = opening.box
    yield "sill", ((x0, y0), (x1, y0))
    if opening.shape not in ("round", "polygon"):
        spring = y1
        if opening.shape == "arch":  # the jambs end where the arch springs
            spring = max(float(y) for x, y, *_ in opening.polygon.exterior.coords if abs(x - x0) < 1e-4)
        yield "left", ((x0, y0), (x0, spring))
        yield "right", ((x1, y0), (x1, spring))
    yield "head", ((x0, y1), (x1, y1))


def _attached(place: Place, item: Attachment) -> Iterator[tuple[str, Line, tuple[str, ...]]]:
    (x0, y0), (x1, y1) = item.start, item.end
    low = place.face.outline.bounds[1]
    if item.kind == "deck_ledger":
        bottom = y0 - item.depth_m
        yield "", ((x0, y0), (x1, y0)), BOTH
        if bottom - low > 2 * IN and _runs(place, ((x0, bottom - IN), (x1, bottom - IN)), SHORT_M):
            yield "below", ((x0, bottom), (x1, bottom)), BOTH
        yield from _uprights(place, x0, x1, (bottom, y0), (bottom, y1))
    elif item.kind == "chimney" and item.polygon is not None:
        x0, bottom, x1, top = item.polygon.bounds
        outline = place.face.outline.bounds
        bottom, top = max(bottom, outline[1]), min(top, outline[3])
        yield from _uprights(place, x0, x1, (bottom, top), (bottom, top))
        if top < outline[3] - 6 * IN:
            yield "", ((x0, top), (x1, top)), BOTH
    elif item.kind == "belly_band":
        yield "", (item.start, item.end), BOTH
    else:
        yield from _roofs(place, item, low)


def _roofs(place: Place, item: Attachment, low: float) -> Iterator[tuple[str, Line, tuple[str, ...]]]:
    (x0, y0), (x1, y1) = item.start, item.end
    goes_on = item.kind != "eave" or _runs(place, ((x0, y0 + 6 * IN), (x1, y1 + 6 * IN)))
    yield "", (item.start, item.end), BOTH if goes_on else AIR
    if item.below == "inside":
        yield from _uprights(place, x0, x1, (low, y0), (low, y1))
        return
    depth = item.depth_m or 6 * IN
    under = ((x0, y0 - depth), (x1, y1 - depth))
    if _runs(place, tuple((x, y - IN) for x, y in under), SHORT_M):
        yield "under", under, AIR


def _taken(place: Place, line: Line) -> bool:
    """Return whether openings take the whole line: then their sills are the ties."""
    (x0, _), (x1, _) = line[0], line[-1]
    doors = [(b[0], b[2]) for b in (o.box for o in place.face.openings) if LineString(line).distance(box(*b)) < 1e-3]
    return not left_over((min(x0, x1), max(x0, x1)), doors, SHORT_M)


def _runs(place: Place, line: Line, at_least: float | None = None) -> bool:
    """Return whether wall of the place's zone lies along the line (over half of it, or over so many metres)."""
    whole = LineString(line)
    wall = inside_of(place).difference(merged(o.polygon for o in place.face.openings))
    return bool(wall.intersection(whole).length > (0.5 * whole.length if at_least is None else at_least))


def _uprights(
    place: Place, x0: float, x1: float, left: tuple[float, float], right: tuple[float, float]
) -> Iterator[tuple[str, Line, tuple[str, ...]]]:
    """Yield the upright ends of a thing where skin goes on beside it."""
    for side, x, (low, high), out in (("left", x0, left, -1), ("right", x1, right, 1)):
        if high - low > SHORT_M and _runs(place, ((x + out * IN, low), (x + out * IN, high)), SHORT_M):
            yield side, ((x, low), (x, high)), BOTH


def old_lines(face: Face, zone: Zone) -> Iterator[tuple[str, Line]]:
    """Yield the stretches of a zone without new skin that meet foundation, roof, corner, or another such zone.

    Where it meets new skin the joint belongs to the new side.
    """
    for side, start, end in edges_of(zone):
        for part in shared_parts((start, end), face.outline):
            yield side, part
    for opening in face.openings:
        if zone.polygon.contains(opening.polygon.centroid) and not any(
            is_new(z) and z.polygon.intersection(opening.polygon).area > 1e-4 for z in face.zones
        ):
            yield f"round {opening.id}", tuple((float(x), float(y)) for x, y, *_ in opening.polygon.exterior.coords)


def covered(line: Line, by: list[Line]) -> list[Line]:
    """Return the stretches of a straight upright line that none of the other upright lines at it covers."""
    (x0, y0), (x1, y1) = line[0], line[-1]
    if abs(x1 - x0) > 1e-4:
        return [line]
    spans = [(min(a[1], b[1]), max(a[1], b[1])) for a, b in ((m[0], m[-1]) for m in by) if abs(a[0] - x0) < 1e-3]
    return [((x0, a), (x0, b)) for a, b in left_over((min(y0, y1), max(y0, y1)), spans, SHORT_M)]


def length_of(line: Line) -> float:
    """Return the length of a line of points, metres."""
    return sum(math.dist(a, b) for a, b in itertools.pairwise(line))


def spot(face: Face, line: Line, thing: str, where: Where, file: str) -> Where:
    """Return where a joint lies: the line of the file and its middle on the face."""
    middle = LineString(line).interpolate(0.5, normalized=True) if len(line) > 1 else None
    x, y = (None, None) if middle is None else (float(middle.x), float(middle.y))
    return Where(file, where.line, face.id, thing, x, y)
