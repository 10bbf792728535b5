"""Boards that close the side of a thick skin: where it ends, at what is kept, at a thinner skin, round a corner.

Where foam and furring move the wall out, their edge stands open at the end of the wall. A return goes from the plane
beside it out to the face of the trim.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from lapwright.details.base import PHASE_CLADDING, Claim, Context, Part, PieceClaim, Place
from lapwright.details.depths import Depths, depths_of
from lapwright.details.opening_depth import CASING, DEEP_M, trim_for
from lapwright.details.places import edges_of, is_new
from lapwright.details.runs import left_over, shared_parts, wall_of
from lapwright.details.shapes import IN, rect_flat
from lapwright.findings import Finding, Where
from lapwright.geometry import box
from lapwright.lengths import show_length
from lapwright.survey.model import Face, Zone

SHORTEST_M = 3 * IN
Span = tuple[float, float]


@dataclass(frozen=True)
class Bare:
    """A stretch of a zone's upright edge where its side stands open. beside_m: plane of the skin beside it, metres out."""

    side: str
    x: float
    low: float
    high: float
    beside_m: float


def face_m(depths: Depths, ctx: Context) -> float:
    """Return the outermost face of a skin with its trim, metres out from the barrier."""
    return max(depths.trim_m + ctx.catalog[CASING].needed("thickness_m"), depths.face_m)


def bare_sides(place: Place, ctx: Context) -> Iterator[Bare]:
    """Yield where the side of the place's skin stands open, stretch by stretch, from the left."""
    face, zone = place.face, place.zone
    assert zone is not None
    for side, low, high in sorted(edges_of(zone)):
        if side not in ("left", "right"):
            continue
        x = low[0]
        for line in shared_parts((low, high), face.outline):
            yield from _at_end(face, side, x, (line[0][1], line[1][1]), ctx)
        for other in face.zones:
            if other.id != zone.id:
                for line in shared_parts((low, high), other.polygon):
                    yield Bare(side, x, line[0][1], line[1][1], _outer(other, ctx))


def _outer(zone: Zone, ctx: Context) -> float:
    """Return the plane of a zone's skin; 0 for what is kept: nobody knows how thick it is."""
    return face_m(depths_of(ctx.scope.assemblies[zone.assembly or ""], ctx.catalog), ctx) if is_new(zone) else 0.0


def _at_end(face: Face, side: str, x: float, span: Span, ctx: Context) -> Iterator[Bare]:
    """Yield the stretches at the face's own edge: all of it at a free end, what no skin as thick meets at an outside corner."""
    left = side == "left"
    name = face.left if left else face.right
    at_corner = x < 1e-4 if left else x > face.width_m - 1e-4
    if name is None or not at_corner:
        yield Bare(side, x, *span, 0.0)
        return
    other = ctx.survey.face(name)
    if (other.turn_deg if left else face.turn_deg) <= 0:
        return  # an inside corner: the other wall stands before it
    end = other.width_m if left else 0.0
    met: list[Span] = []
    mine = max((_outer(z, ctx) for z in face.zones if is_new(z)), default=0.0)
    for zone in other.zones if other.adjoins == "outside" else ():
        if is_new(zone) and _outer(zone, ctx) > mine - DEEP_M:
            met += [(s[1], e[1]) for w, s, e in edges_of(zone) if w in ("left", "right") and abs(s[0] - end) < 1e-4]
    # a thinner skin round the corner ends at the old corner: it covers nothing of this one's side
    yield from (Bare(side, x, a, b, 0.0) for a, b in left_over(span, met, SHORTEST_M))


def end_returns(place: Place, ctx: Context) -> Iterator[Claim]:
    """Yield the return boards of a zone's sides, in lengths of the stock; nothing where the skin is thin."""
    depths = depths_of(place.assembly, ctx.catalog)
    if depths.backing_m <= DEEP_M:
        return
    out = face_m(depths, ctx)
    for bare in bare_sides(place, ctx):
        deep = out - bare.beside_m
        if deep <= DEEP_M or bare.high - bare.low < SHORTEST_M:
            continue
        board = trim_for(ctx, deep)
        if board is None:
            yield Finding(
                "returns.narrow", "stop", f"No trim board is as wide as the side of {wall_of(place)} is deep: {show_length(deep, ctx.survey.units)}.",
                "A pieced return opens at its joint.", "Build it of plywood and metal, or make the skin thinner.",
                Where(ctx.survey.file, place.where.line, place.face.id, place.id, bare.x, bare.low), "common practice",
            )  # fmt: skip
            continue
        count = max(1, math.ceil((bare.high - bare.low) / board.needed("length_m") - 1e-9))
        long = (bare.high - bare.low) / count
        for n in range(count):
            y = bare.low + n * long
            yield PieceClaim(
                key=f"{place.id}/end-return-{bare.side}-{round(bare.x / IN)}-{round(y / IN)}", place=place.id, role="end-return", layer="cladding",
                product=board.id, parts=(Part(place.face.id, "jamb", box(-out, y, -bare.beside_m, y + long)),), phase=PHASE_CLADDING,
                step=f"{place.id}/trim", rank=1000 + n, held="fastened", flat=rect_flat(long, deep),
                facts={"on": "end", "thick_m": board.needed("thickness_m"), "x_m": bare.x},
            )  # fmt: skip
