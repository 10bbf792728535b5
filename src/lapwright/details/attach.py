"""Short cuts that the details of attached things share: strips and flashings along their lines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from shapely import LineString, MultiPolygon, Polygon
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import (
    PHASE_BEFORE,
    ClearClaim,
    Context,
    Held,
    HoleClaim,
    Part,
    PieceClaim,
    Place,
    Plane,
    RunClaim,
    SlitClaim,
)
from lapwright.details.runs import (
    Line,
    along,
    climbing,
    free_runs,
    inside_of,
    left_over,
    opening_shapes,
    span_on,
    strip_product,
    wall_of,
)
from lapwright.details.shapes import IN, one
from lapwright.findings import Finding, Where
from lapwright.geometry import Point, as_multi, box, merged
from lapwright.survey.model import Attachment

PROBE = "Probe behind it for rot before anything covers it; measured moisture 19 % or less."
GAP_M = 1 * IN  # less than this without a strip along a line is left to film: common practice
JOIN_M = 4 * IN  # a narrow length goes this far on beneath or over the wide one beside it: IRC R703.2 asks 2 in


def attached(place: Place) -> Attachment:
    """Return the attachment behind a place."""
    assert isinstance(place.thing, Attachment)
    return place.thing


def ranked(rank: int, n: int = 0) -> int:
    """Return the order of the n-th length of a run, so that the next run (rank + 1) comes after all of its lengths."""
    return 100 * rank + n


def fitted(place: Place, line: Line, wide: float) -> list[tuple[Line, float]]:
    """Return where along a line a strip can run and how wide: inside the zone, off the openings.

    Where the full width does not fit (a sill close above a roof) a half and then a quarter is tried; a narrow
    length runs on along the wide one beside it, so that they lap. In the direction of the line, wide ones first.
    """
    inside, blocked = inside_of(place), opening_shapes(place)
    total = math.dist(*line)
    out: list[tuple[Line, float]] = []
    rest: list[Line] = [line]
    for width in (wide, wide / 2, wide / 4):
        still: list[Line] = []
        for part in rest:
            mine = free_runs(part, 0.0, width, inside, blocked)
            for run_line in mine:
                a, b = span_on(line, run_line)
                if width < wide:
                    longer = (along(line, max(a - JOIN_M, 0.0)), along(line, min(b + JOIN_M, total)))
                    fits = free_runs(longer, 0.0, width, inside, blocked)
                    run_line = max(fits, key=lambda g: math.dist(*g), default=run_line)
                out.append((run_line, width))
            gaps = left_over((0.0, math.dist(*part)), (span_on(part, m) for m in mine), GAP_M)
            still += [(along(part, a), along(part, b)) for a, b in gaps]
        rest = still
    return out


def bare_m(line: Line, laid: Iterable[RunClaim | PieceClaim]) -> float:
    """Return how much of a line no run or piece covers, in metres."""
    spans = []
    for claim in laid:
        if isinstance(claim, RunClaim):
            spans.append(span_on(line, (claim.start, claim.end)))
            continue
        touched = claim.parts[0].polygon.buffer(1e-4).intersection(LineString(line))
        spans += [span_on(line, part.coords) for part in getattr(touched, "geoms", [touched]) if isinstance(part, LineString)]
    return math.fsum(b - a for a, b in left_over((0.0, math.dist(*line)), spans, GAP_M))


def runs(
    place: Place, ctx: Context, name: str, role: str, layer: str, product: str, line: Line, wide: float, rank: int,
    step: str, legs: tuple[tuple[Plane, float, float], ...] = (), held: Held = "adhered", phase: int = PHASE_BEFORE,
    lap_m: float = JOIN_M, over_field: BaseGeometry | None = Polygon(), fit: bool = True, **facts: object,  # noqa: B008  (immutable)
) -> list[RunClaim]:  # fmt: skip
    """Return the runs of a strip or flashing along a line, to its left; by default every course lies over them.

    Cut to what two people hold (strips) or to the stock (metal); on a slope or upright the upper lies over the lower.
    fit: keep inside the zone and off openings.
    """
    stock = ctx.catalog[product]
    longest = stock.number("hold_length_m") if layer == "strip" else stock.number("length_m")
    out: list[RunClaim] = []
    for part, width in fitted(place, line, wide) if fit else [(line, wide)]:
        for length in climbing(part, longest, lap_m):
            out.append(
                RunClaim(
                    key=f"{place.id}/{name}" + (f"-{len(out) + 1}" if out else ""),
                    place=place.id,
                    role=role,
                    layer=layer,
                    product=product,
                    surface=place.face.id,
                    start=length[0],
                    end=length[1],
                    low=0.0,
                    high=width,
                    phase=phase,
                    step=f"{place.id}/{step}",
                    rank=ranked(rank, len(out)),
                    held=held,
                    legs=legs,
                    max_m=longest,
                    lap_m=lap_m,
                    over_field=over_field,
                    facts=facts,
                )
            )
    return out


def upright(
    place: Place, ctx: Context, side: str, x: float, low: float, top: float, reach: float, leg: float, step: str,
    rank: int = 12,
) -> list[RunClaim]:  # fmt: skip
    """Return the upright strip on the wall beside a thing, `side` left or right of it, turned onto the thing's side.

    None where the wall ends there or the side is too low.
    """
    left, _, right, _ = place.face.outline.bounds
    room = x - left if side == "left" else right - x
    if room <= 2 * IN or top - low <= 2 * IN:
        return []
    line = ((x, low), (x, top)) if side == "left" else ((x, top), (x, low))
    return runs(
        place, ctx, f"side-strip-{side}", "joint-strip", "strip", strip_product(place, ctx, reach + leg).id, line,
        min(reach, room), rank, step, (("jamb", leg, 90.0),), movement=True,
    )  # fmt: skip


def plumb_cut(
    place: Place, ctx: Context, name: str, role: str, product: str, line: Line, wide: float, turn: float, rank: int, step: str,
    phase: int = PHASE_BEFORE, over_field: BaseGeometry | None = Polygon(),  # noqa: B008  (immutable)
) -> list[PieceClaim]:  # fmt: skip
    """Return a strip along a sloped line, to its left, with plumb ends, clipped to the wall; by default courses lie over it.

    A square end of a sloped strip would leave the wall at one end and face up at the other. turn: a leg turned out along
    the line (0: none), for a strip below the line (line right to left).
    """
    longest = ctx.catalog[product].number("hold_length_m")
    up = line[1][0] > line[0][0]
    out: list[PieceClaim] = []
    for part in climbing(line, longest, JOIN_M):
        (x0, y0), (x1, y1) = sorted(part)
        plumb = wide * math.hypot(x1 - x0, y1 - y0) / (x1 - x0) * (1 if up else -1)
        shape = Polygon([(x0, y0), (x1, y1), (x1, y1 + plumb), (x0, y0 + plumb)]).intersection(inside_of(place))
        for blocked in opening_shapes(place):
            shape = shape.difference(blocked)
        area = one(shape)
        if area.area < wide * 2 * IN:
            continue
        laid = rotate(translate(area, -x0, -y0), -math.degrees(math.atan2(y1 - y0, x1 - x0)), origin=(0, 0))
        on_line = [p[0] for p in laid.exterior.coords if abs(p[1]) < 1e-4]
        a, b = (min(on_line), max(on_line)) if turn and len(on_line) > 1 else (0.0, 0.0)
        flat = one(merged([laid, box(a, -1e-6, b, turn)])) if b > a else laid
        left, foot = flat.bounds[0], flat.bounds[1]
        legs = (Part(place.face.id, "under", box(x0 + a, 0, x0 + b, turn)),) if b > a else ()
        out.append(
            PieceClaim(
                key=f"{place.id}/{name}" + (f"-{len(out) + 1}" if out else ""),
                place=place.id,
                role=role,
                layer="strip",
                product=product,
                parts=(Part(place.face.id, "face", area), *legs),
                phase=phase,
                step=f"{place.id}/{step}",
                rank=ranked(rank, len(out)),
                flat=translate(flat, -left, -foot),
                folds=((((a - left, -foot), (b - left, -foot)), 90.0),) if b > a else (),
                over_field=over_field,
                facts={"plumb_ends": True},
            )
        )
    return out


def each_piece(
    place: Place, name: str, role: str, product: str, face: Polygon, out: Polygon, rank: int, step: str,
    over_field: Polygon = Polygon(), **facts: object,  # noqa: B008  (an empty polygon is immutable)
) -> PieceClaim | None:  # fmt: skip
    """Return a flashing bought by the piece, under every course, off the openings; None where no wall is left for it.

    face: its leg up the wall; out: its leg out (plane `under`); over_field: where it lies over the courses.
    """
    leg = face.intersection(inside_of(place))
    for shape in opening_shapes(place):
        leg = leg.difference(shape)
    if one(leg).is_empty:
        return None
    return PieceClaim(
        key=f"{place.id}/{name}",
        place=place.id,
        role=role,
        layer="flashing",
        product=product,
        parts=(Part(place.face.id, "face", one(leg)), Part(place.face.id, "under", out)),
        phase=PHASE_BEFORE,
        step=f"{place.id}/{step}",
        rank=ranked(rank),
        held="fastened",
        over_field=over_field,
        quantity=(1.0, "each"),
        facts=facts,
    )


SLIT_UP_M = 0.375 * IN  # a slit just above a flashing's fold: siding too is held 3/8 in above it, common practice


def past_ends(
    place: Place, spans: Iterable[tuple[float, float]], y: float
) -> tuple[list[SlitClaim], Polygon | MultiPolygon]:
    """Return the slits through which a flashing's ends come out beside a thing, and where they lie over the course.

    spans: left and right of each end; y: height of the flashing's fold.
    """
    found = [(a, b) for a, b in spans if b - a > 1e-3]
    slits = [SlitClaim(place.id, place.face.id, "barrier", (a, y + SLIT_UP_M), (b, y + SLIT_UP_M)) for a, b in found]
    return slits, as_multi(merged([box(a, y, b, y + SLIT_UP_M) for a, b in found]))


def cut_out(place: Place, polygon: Polygon) -> list[HoleClaim | ClearClaim]:
    """Return the hole that a thing leaves in the courses, with end laps kept 6 in off it as off an opening."""
    x0, y0, x1, y1 = polygon.bounds
    around = box(x0 - 6 * IN, y0 - 6 * IN, x1 + 6 * IN, y1 + 6 * IN)  # common practice
    return [
        HoleClaim(place.id, place.face.id, "barrier", polygon),
        ClearClaim(place.id, place.face.id, "barrier", around, "end", 5.0, "end laps stay off what stands in the wall"),
    ]


def keep_clear(place: Place, polygon: Polygon, why: str, weight: float = 2.0) -> ClearClaim:
    """Return a band where no course lap may run."""
    return ClearClaim(place.id, place.face.id, "barrier", polygon, "course", weight, why)


def interrupted(
    place: Place, ctx: Context, line: Line, laid: Iterable[RunClaim | PieceClaim], what: str
) -> Iterator[Finding]:
    """Yield a warning when part of the line has no wall for its flashing (an opening stands on it)."""
    bare = bare_m(line, laid)
    if bare <= GAP_M:
        return
    item = attached(place)
    near = [o.id for o in place.face.openings if o.polygon.distance(LineString(line)) < 2.5 * IN]
    why_there = f" ({', '.join(near)} stands on it)" if near else ""
    yield Finding(
        "attachment.interrupted",
        "warn",
        f"Over {bare / IN:.0f} in of {item.id} there is no wall for its {what}{why_there}.",
        "The flashing needs a leg up the wall behind the barrier.",
        "Pan flashing from the sill out over it, one piece with the flashing beside; write the sill's height again if it is wrong.",
        Where(ctx.survey.file, item.where.line, place.face.id, item.id, line[0][0], line[0][1]),
        "IRC R903.2.1; common practice",
    )


def slope_deg(line: Line) -> float:
    """Return the slope of a line in degrees, + rising to the right."""
    (x0, y0), (x1, y1) = line
    return math.degrees(math.atan2(y1 - y0, x1 - x0))


def below_line(line: Line, depth: float) -> Line:
    """Return the line `depth` below (square to) another, in the opposite direction, so that a run on it goes down."""
    (x0, y0), (x1, y1) = line
    length = math.dist(*line)
    dx, dy = (y1 - y0) / length * depth, -(x1 - x0) / length * depth
    return (x1 + dx, y1 + dy), (x0 + dx, y0 + dy)


def bounds_box(place: Place, x0: float, y0: float, x1: float, y1: float) -> Polygon:
    """Return a box cut off at the sides of the face."""
    left, _, right, _ = place.face.outline.bounds
    return box(max(x0, left), y0, min(x1, right), y1)


def at_part(line: Line, t: float) -> Point:
    """Return the point at a share `t` of a line."""
    (x0, y0), (x1, y1) = line
    return x0 + (x1 - x0) * t, y0 + (y1 - y0) * t


def keys(claims: Iterable[RunClaim | PieceClaim]) -> tuple[str, ...]:
    """Return the keys of claims, for a tie."""
    return tuple(c.key for c in claims)


__all__ = [
    "PROBE", "Line", "at_part", "attached", "bare_m", "below_line", "bounds_box", "each_piece", "fitted", "interrupted",
    "keep_clear", "keys", "past_ends", "plumb_cut", "ranked", "runs", "slope_deg", "strip_product", "upright", "wall_of",
]  # fmt: skip
