"""The pieces round a penetration: holes and slits in the courses, collars, tape, film, blocks, head flashing.

A collar is lapped shingle-wise: the course is cut round the thing as it goes on and slit level above it; the
collar goes over the course below the slit and under the flap above it. Nothing is asked of glue.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from shapely import Polygon
from shapely.affinity import rotate

from lapwright.details.base import (
    PHASE_CLADDING,
    Claim,
    ClearClaim,
    HoleClaim,
    RunClaim,
    SlitClaim,
    TieClaim,
)
from lapwright.details.heat import heat_at
from lapwright.details.opening_case import at_origin
from lapwright.details.penetration_case import LEAST_M, PHASE_PIPE, TRIM_M, Box, Spot, grown
from lapwright.details.runs import inside_of, wall_of
from lapwright.details.shapes import IN, SLIT_M, one
from lapwright.findings import Finding, Where
from lapwright.geometry import box

BEAD_M = 0.01  # a bead is drawn 10 mm wide
BEHIND = ("mat", "furring")


def holes(o: Spot, siding: Polygon, barrier: Polygon | None) -> Iterator[Claim]:
    """Yield what the layers leave out: `siding` in gap and cladding, `barrier` in the courses (None: they run behind)."""
    if barrier is not None:
        yield HoleClaim(o.place.id, o.face, "barrier", barrier)
    for layer in (*BEHIND, "cladding"):
        yield HoleClaim(o.place.id, o.face, layer, siding)


def clears(o: Spot, y: float) -> Iterator[Claim]:
    """Yield the bands where no lap of the courses may run: a hole (up to its slit at `y`) and a lap in one place are two
    chances to leak."""
    x0, y0, x1, y1 = o.box
    up, side = o.s["course_clear"], o.s["end_lap_clear"]
    yield ClearClaim(
        o.place.id, o.face, "barrier", box(x0 - up, y0 - up, x1 + up, max(y1, y) + up), "course", 0.7,
        "course laps stay off penetrations",
    )  # fmt: skip
    yield ClearClaim(
        o.place.id, o.face, "barrier", box(x0 - side, y0 - side, x1 + side, y1 + side), "end", 5.0,
        "end laps stay off penetrations",
    )  # fmt: skip


def tight(o: Spot, y: float, board: bool = False) -> Iterator[Claim]:
    """Yield a warning where a collar or a board's flashing lacks room: 2 in of wall on each side, a flap above the slit
    at `y`, wall free of an opening's strips."""
    around_it = box(*grown(o.box, o.room))
    whole = one(o.field(*around_it.bounds).union(o.thing.polygon)).area > 0.98 * around_it.area
    strips = o.on_strips()
    if o.room.least >= LEAST_M - 1e-9 and whole and o.tucked(y):
        return
    what = f"There is less than 2 in of wall for the {'board over' if board else 'collar round'} {o.thing.id}."
    if not strips and not o.tucked(y):
        what = f"There is no room for a flap over {o.thing.id}: the top edge of what goes round it relies on glue."
    if strips:
        what = f"{o.thing.id} sits on the strips of {', '.join(strips)}: no flap comes down over its {'flashing' if board else 'collar'}, the top edge relies on glue."
    yield Finding(
        "penetration.tight",
        "warn",
        what,
        "A collar needs room to lap the course below and to go under the flap above.",
        "Move it; or cut collar and the strip beside it from one sheet, film 1 in past every edge.",
        Where(o.ctx.survey.file, o.thing.where.line, o.face, o.thing.id, o.box[0], o.box[1]),
        "IRC R703.2",
    )


def slit(o: Spot, y: float, x0: float, x1: float) -> Iterator[Claim]:
    """Yield the level cut over the thing, from x0 to x1, where a flap can be."""
    if o.tucked(y):
        yield SlitClaim(o.place.id, o.face, "barrier", (x0, y), (x1, y))


def flange(o: Spot, product: str, at: Box, y: float, step: str = "collar") -> Iterator[Claim]:
    """Yield a bought boot, collar or box flange in a bed of sealant, its bottom edge left open, tape over its top edge.

    at: the outer edges of its flange; y: height of the slit.
    """
    area = o.field(*at)
    x0, y0, x1, y1 = area.bounds
    lap = {"lap_m": max(min(LEAST_M, y1 - y - 2 * SLIT_M), 0.0)}  # what is left of the flange above the slit
    ring = one(area.difference(box(x0 + BEAD_M, y0 - 1, x1 - BEAD_M, y1 - BEAD_M)))
    yield o.piece(
        "bed", "flange-bed", "sealant", "sealant", [ring], 5, step, held="sealed",
        quantity=(2 * (y1 - y0) + (x1 - x0), "m"), drain="bottom",
    )  # fmt: skip
    yield o.piece(
        "collar", "collar", "flashing", product, [area], 10, step, over_field=o.over(area, y), held="sealed",
        quantity=(1.0, "each"), drain="bottom", flap_m=o.flap(area, y), **lap,
    )  # fmt: skip
    yield from slit(o, y, x0, x1)
    yield from head_tape(o, x0, x1, y1, y, step)


def head_tape(o: Spot, x0: float, x1: float, top: float, y: float, step: str) -> Iterator[Claim]:
    """Yield tape over an upper edge, half on it and half on the wall above, under the flap."""
    if not o.tucked(y):
        yield from glued_top(o, x0, x1, top)
        return
    tape = o.ctx.catalog["flashing-tape-4"]
    wide = tape.needed("width_m")
    low = max(top - wide / 2, y + SLIT_M)
    area = o.field(x0, low, x1, low + wide)
    if area.is_empty or area.bounds[3] - top < 0.5 * IN:
        return
    past = o.ctx.catalog["liquid-flashing"].number("past_edge_m") or 1 * IN
    yield o.piece(
        "head-tape", "head-tape", "tape", tape.id, [area], 30, step, at_origin(area), o.over(area, y), "taped",
        lap_m=min(past, top - low),
    )  # fmt: skip


def glued_top(o: Spot, x0: float, x1: float, top: float, name: str = "top-film") -> Iterator[Claim]:
    """Yield film over an upper edge where no flap can come down over it, 1 in past it on both sides and at its ends."""
    past = o.ctx.catalog["liquid-flashing"].number("past_edge_m") or 1 * IN
    area = box(x0 - past, top - past, x1 + past, top + past).intersection(inside_of(o.place))
    area = o.own(one(area.difference(o.thing.polygon)))
    if not area.is_empty:
        yield film(o, name, "top-film", area, 50, "top-film", None, lap_m=0.0)


def cut_collar(o: Spot, at: Box, y: float, knife: bool = False) -> Iterator[Claim]:
    """Yield a collar cut from the barrier's own sheet with the thing's shape left out, and film where it meets the thing.

    knife: the thing cannot be slipped through; the collar is cut open from the hole to its lower edge. A sheet
    that does not stick is taped along its sides.
    """
    if not o.sticks:
        half = o.ctx.catalog["flashing-tape-4"].needed("width_m") / 2
        left, right = (min(half, max(r - TRIM_M, 0.0)) for r in (o.room.left, o.room.right))
        at = (at[0] + left, at[1], at[2] - right, at[3])  # room beside the collar for the tapes that hold it
    area = o.field(*at)
    x0, y0, x1, _ = area.bounds
    line = [[(o.box[0] + o.box[2]) / 2 - x0, 0.0], [(o.box[0] + o.box[2]) / 2 - x0, max(o.box[1] - y0, 0.0)]]
    yield o.piece(
        "collar", "collar", "strip", o.sheet, [area], 10, "collar", at_origin(area), o.over(area, y),
        "adhered" if o.sticks else "taped", drain="bottom", flap_m=o.flap(area, y), knife=line if knife else [],
    )  # fmt: skip
    if not o.tucked(y):
        side = 0.0 if o.sticks else o.ctx.catalog["flashing-tape-4"].needed("width_m") / 2
        yield from glued_top(o, x0 - side, x1 + side, area.bounds[3])
    if o.sticks:
        yield from slit(o, y, x0, x1)
    else:
        yield from _side_tapes(o, area, y)
    r = o.s["film_reach"]
    ring = one(o.thing.polygon.buffer(r, join_style="mitre").intersection(area).difference(o.thing.polygon))
    yield film(o, "seal", "collar-seal", ring, 20, "seal", y, 2.0)


def _side_tapes(o: Spot, area: Polygon, y: float) -> Iterator[Claim]:
    """Yield the tapes that hold a collar of fastened sheet at its sides, and the slit over collar and tapes.

    Their lower ends stay open; their upper ends go up under the flap with the collar.
    """
    tape = o.ctx.catalog["flashing-tape-4"]
    half = tape.needed("width_m") / 2
    x0, y0, x1, y1 = area.bounds
    ends = [x0, x1]
    for n, (side, x) in enumerate((("left", x0), ("right", x1))):
        strip = o.field(x - half, y0, x + half, y1)
        if strip.is_empty:
            continue
        ends[n] = strip.bounds[2 * n]
        yield o.piece(f"tape-{side}", "collar-tape", "strip", tape.id, [strip], 15, "collar", at_origin(strip), o.over(strip, y),
                      "taped", lap_m=1 * IN)  # fmt: skip
    yield from slit(o, y, ends[0], ends[1])


def film(
    o: Spot, name: str, role: str, area: Polygon, rank: int, step: str, y: float | None, times: float = 1.0,
    lap_m: float = 1 * IN,
) -> Claim:  # fmt: skip
    """Return liquid film over everything there; `times`: how much more goes onto the thing itself."""
    product = o.ctx.catalog["liquid-flashing"]
    area = o.off_sills(area)
    wet = area.area * times
    return o.piece(
        name, role, "film", product.id, [area], rank, step, None, area if y is None else o.over(area, y),
        quantity=(wet * product.needed("film_m") * 1000, "L"), film_area_m2=wet, lap_m=lap_m,
    )  # fmt: skip


def block(o: Spot, at: Box, product: str = "mounting-block") -> Iterator[Claim]:
    """Yield a mounting block on the barrier, into which the siding dies."""
    area = one(box(*at).intersection(inside_of(o.place)).difference(o.thing.polygon))
    yield o.piece("block", "mounting-block", "cladding", product, [area], 40, "block", held="fastened",
                  quantity=(1.0, "each"), phase=PHASE_PIPE)  # fmt: skip


def frame(o: Spot, at: Box) -> Iterator[Claim]:
    """Yield four boards round the thing, into which the siding dies; at: outer edges. Bottom and top run through."""
    x0, y0, x1, y1 = at
    a0, b0, a1, b1 = o.box
    boards = {"bottom": (x0, y0, x1, b0), "left": (x0, b0, a0, b1), "right": (a1, b0, x1, b1), "top": (x0, b1, x1, y1)}
    for name, edges in boards.items():
        area = one(box(*edges).intersection(inside_of(o.place)))
        if area.area < 1e-4:
            continue
        flat = at_origin(area)  # cut to the slope where the frame meets a roof or a rake
        if flat.bounds[2] < flat.bounds[3]:
            flat = at_origin(rotate(flat, -90, origin=(0, 0)))
        yield o.piece(f"board-{name}", "mounting-frame", "cladding", "trim-1x4", [area], 40, "block", flat, held="fastened",
                      phase=PHASE_PIPE)  # fmt: skip


def board(o: Spot, at: Box) -> Iterator[Claim]:
    """Yield a mounting board of upright boards on the barrier; at: its outer edges."""
    x0, y0, x1, y1 = at
    wide = o.ctx.catalog["trim-1x6"].needed("width_m")
    for n in range(math.ceil((x1 - x0) / wide - 1e-9)):
        area = box(x0 + n * wide, y0, min(x0 + (n + 1) * wide, x1), y1)
        flat = box(0, 0, y1 - y0, area.bounds[2] - area.bounds[0])
        yield o.piece(f"board-{n + 1}", "mounting-board", "cladding", "trim-1x6", [area], 40, "block", flat,
                      held="fastened", phase=PHASE_PIPE)  # fmt: skip


def head_flashing(o: Spot, x0: float, x1: float, y: float, out: float) -> Iterator[Claim]:
    """Yield bent metal over a block or board, its upper leg up under the flap of the slit just above its fold.

    x0, x1: sides of the block; y: its top; out: its thickness, in metres. It keeps to the room; where that leaves no
    leg there is none (and the place is told to be tight).
    """
    past, (a0, _, a1, b1) = o.s["flashing_past"], grown(o.box, o.room)
    left, right = max(x0 - past, a0), min(x1 + past, a1)
    leg = min(o.s["flashing_leg"], b1 - y)
    if leg < 0.5 * IN:
        return
    metal = o.ctx.catalog["head-flashing-metal"]
    down = metal.number("leg_down_m") or 0.75 * IN
    cut = o.slit_at(y)
    yield RunClaim(
        key=o.key("head-flashing"), place=o.place.id, role="head-flashing", layer="flashing", product=metal.id,
        surface=o.face, start=(left, y), end=(right, y), low=0.0, high=leg, phase=PHASE_PIPE, step=o.key("flashing"),
        rank=45, held="fastened", legs=(("under", out + 0.25 * IN, 80.0), ("under", down, 80.0)), lap_m=4 * IN,
        over_field=o.over(box(left, y, right, y + leg), cut),
        facts={"slope_deg": 10.0, "end_dams": True, "drip": True, "lap_over_m": 0.0},
    )  # fmt: skip
    yield from slit(o, cut, left, right)
    if not o.tucked(cut):
        yield from glued_top(o, left, right, y + leg, "flashing-film")


def tie(o: Spot, water: tuple[str, ...], air: tuple[str, ...]) -> Claim:
    """Return the tie of the wall to the thing, all round it."""
    ring = tuple((float(x), float(y)) for x, y, *_ in o.thing.polygon.exterior.coords)
    return TieClaim(o.place.id, (wall_of(o.place), o.place.id), o.face, ring, water, air, None, heat_at(o.place))


def siding_hole(o: Spot) -> Polygon:
    """Return what gap and cladding leave out round a bare thing: its own shape and the joint for sealant."""
    return one(o.thing.polygon.buffer(o.s["siding_gap"], join_style="mitre").intersection(inside_of(o.place)))


def siding_joint(o: Spot, phase: int = PHASE_CLADDING + 90) -> Claim:
    """Return the bead between a bare thing and the siding, open at the bottom."""
    hole = siding_hole(o)
    ring = one(hole.difference(o.thing.polygon))
    return o.piece("joint", "siding-joint", "sealant", "sealant", [ring], 60, "joint", held="sealed",
                   quantity=(0.75 * o.thing.polygon.length, "m"), phase=phase, drain="bottom")  # fmt: skip


def metal_plate(o: Spot, at: Box, y: float) -> Iterator[Claim]:
    """Yield a plate of coil stock round a hot vent, shingled like a collar, bedded on the courses, heat sealant at the vent."""
    area = o.field(*at)
    x0, y0, x1, y1 = area.bounds
    ring = one(area.difference(box(x0 + BEAD_M, y0 - 1, x1 - BEAD_M, y1 - BEAD_M)))
    yield o.piece("bed", "flange-bed", "sealant", "sealant", [ring], 5, "collar", held="sealed",
                  quantity=(2 * (y1 - y0) + (x1 - x0), "m"), drain="bottom")  # fmt: skip
    yield o.piece("collar", "collar", "flashing", "coil-stock", [area], 10, "collar", at_origin(area), o.over(area, y),
                  "sealed", drain="bottom", flap_m=o.flap(area, y))  # fmt: skip
    yield from slit(o, y, x0, x1)
    if not o.tucked(y):
        yield from glued_top(o, x0, x1, y1)
    bead = one(o.thing.polygon.buffer(BEAD_M).intersection(area))
    yield o.piece("seal", "heat-seal", "sealant", "sealant", [bead], 20, "seal", held="sealed",
                  quantity=(o.thing.polygon.length, "m"), heat="high-temperature sealant, as the vent's listing says")  # fmt: skip
