"""Strips, corner film and slits round an opening: how barrier and framing tie together."""

from __future__ import annotations

from collections.abc import Iterator

from shapely import Polygon

from lapwright.details.base import Claim, ClearClaim, Part, SlitClaim
from lapwright.details.opening_case import AT_BASE_M, Case, Fold, at_origin
from lapwright.details.shapes import one, rect_flat
from lapwright.geometry import box, merged


def clear(o: Case) -> Iterator[Claim]:
    face, off, up = o.face, o.s["end_lap_clear"], o.s["course_clear"]
    yield ClearClaim(
        o.place.id,
        face,
        "barrier",
        box(o.at.x0 - off, o.at.sill - off, o.at.x1 + off, o.at.head + off),
        "end",
        30.0,
        "end laps stay off openings",
    )
    yield ClearClaim(
        o.place.id,
        face,
        "barrier",
        box(o.at.x0, o.at.sill - o.at.hang - up / 2, o.at.x1, o.at.sill + up),
        "course",
        2.0,
        "no course lap at a sill or behind its strip's edge",
    )
    yield ClearClaim(
        o.place.id,
        face,
        "barrier",
        box(o.at.x0, o.at.head - up, o.at.x1, o.at.head + o.at.rise + up / 2),
        "course",
        2.0,
        "no course lap at a head",
    )


def strips(o: Case) -> Iterator[Claim]:
    face, sheet = o.face, o.sheet
    turn = o.s["frame_leg"] if o.old_frame else o.s["turn_in"]
    # sill: one sheet, cut at both corners; its middle folds in, its ears stay on the face beside the jambs
    up = o.s["turn_in"]
    ears = [
        box(o.at.x0 - o.at.ear_left, o.at.sill, o.at.x0, o.at.sill + up),
        box(o.at.x1, o.at.sill, o.at.x1 + o.at.ear_right, o.at.sill + up),
    ]
    sill = one(
        merged([box(o.at.x0 - o.at.ear_left, o.at.sill - o.at.hang, o.at.x1 + o.at.ear_right, o.at.sill), *ears])
    )
    total = o.at.width + o.at.ear_left + o.at.ear_right
    flat = rect_flat(total, o.at.hang + up).difference(
        box(o.at.ear_left, o.at.hang + turn, o.at.ear_left + o.at.width, o.at.hang + up + 1)
    )
    fold: Fold = (((o.at.ear_left, o.at.hang), (o.at.ear_left + o.at.width, o.at.hang)), 90.0)
    at_base = o.at.hang <= AT_BASE_M  # a door at the foot of the wall: a pan in the opening, no wall below to hang onto
    yield o.piece(
        "sill-strip",
        "sill-strip",
        "strip",
        sheet,
        [Part(face, "sill", box(o.at.x0, 0, o.at.x1, up))]
        if at_base
        else [
            Part(face, "face", sill),
            Part(face, "under" if o.old_frame else "sill", box(o.at.x0, 0, o.at.x1, turn)),
        ],
        10,
        "sill",
        rect_flat(o.at.width, up) if at_base else one(flat),
        () if at_base else (fold,),
        None if at_base else o.tuck(sill),
        loose_edge="bottom" if o.state != "after" and not at_base else "",
        drain="bottom",
        knife=[] if at_base else [[o.at.ear_left, o.at.hang], [o.at.ear_left + o.at.width, o.at.hang]],
    )
    if not o.old_frame:
        yield corner_film(o)
    leg_h = o.at.spring - o.at.sill
    for side, x, width in (
        ("left", o.at.x0, o.at.ear_left),
        ("right", o.at.x1, o.at.ear_right),
    ):
        poly = (
            box(x - width, o.at.sill, x, o.at.spring) if side == "left" else box(x, o.at.sill, x + width, o.at.spring)
        )
        at = turn if side == "right" else width
        yield o.piece(
            f"jamb-strip-{side}",
            "jamb-strip",
            "strip",
            sheet,
            [Part(face, "face", poly), Part(face, "jamb", box(0, o.at.sill, turn, o.at.spring))],
            30,
            "jambs",
            rect_flat(width + turn, leg_h),
            (((((at, 0.0), (at, leg_h))), 90.0),),
            o.tuck(poly),
        )
    if o.at.spring < o.at.head - 1e-4:
        yield from arch_head(o)
        return
    down = [
        box(o.at.x0 - o.at.ear_left, o.at.head - up, o.at.x0, o.at.head),
        box(o.at.x1, o.at.head - up, o.at.x1 + o.at.ear_right, o.at.head),
    ]
    head = one(
        merged([box(o.at.x0 - o.at.ear_left, o.at.head, o.at.x1 + o.at.ear_right, o.at.head + o.at.rise), *down])
    )
    flat = rect_flat(total, o.at.rise + up).difference(box(o.at.ear_left, -1, o.at.ear_left + o.at.width, up - turn))
    yield o.piece(
        "head-strip",
        "head-strip",
        "strip",
        sheet,
        [Part(face, "face", head), Part(face, "head", box(o.at.x0, 0, o.at.x1, turn))],
        40,
        "head",
        one(flat),
        ((((o.at.ear_left, up), (o.at.ear_left + o.at.width, up)), 90.0),),
        o.tuck(head),
        knife=[[o.at.ear_left, up], [o.at.ear_left + o.at.width, up]],
    )
    yield from slits(o)


def arch_head(o: Case) -> Iterator[Claim]:
    lap = o.s["turn_in"]
    patch = one(
        box(o.at.x0 - o.at.ear_left, o.at.spring - lap, o.at.x1 + o.at.ear_right, o.at.head + o.at.rise).difference(
            o.opening.polygon
        )
    )
    yield o.piece(
        "head-strip",
        "head-strip",
        "strip",
        o.sheet,
        [Part(o.face, "face", patch)],
        40,
        "head",
        at_origin(patch),
        (),
        o.tuck(patch),
    )
    arch = one(o.opening.polygon.buffer(o.s["film_reach"], join_style="mitre").difference(o.opening.polygon))
    arch = one(arch.intersection(box(o.at.x0 - 1, o.at.spring, o.at.x1 + 1, o.at.head + 1)))
    yield film(o, "arch-film", arch, 42, "head", o.at.width * 1.6 * lap)
    yield from slits(o)


def patches(o: Case) -> Iterator[Claim]:
    """Round and free shapes: a lower and an upper sheet with the shape cut out, film in the reveal."""
    face, sheet, lap = o.face, o.sheet, o.s["turn_in"]
    middle = (o.at.sill + o.at.head) / 2
    low = one(
        box(o.at.x0 - o.at.ear_left, o.at.sill - o.at.hang, o.at.x1 + o.at.ear_right, middle).difference(
            o.opening.polygon
        )
    )
    high = one(
        box(o.at.x0 - o.at.ear_left, middle - lap, o.at.x1 + o.at.ear_right, o.at.head + o.at.rise).difference(
            o.opening.polygon
        )
    )
    yield o.piece(
        "sill-strip",
        "sill-strip",
        "strip",
        sheet,
        [Part(face, "face", low)],
        10,
        "sill",
        at_origin(low),
        (),
        o.tuck(low),
        drain="bottom",
        loose_edge="bottom" if o.state != "after" else "",
    )
    yield o.piece(
        "head-strip",
        "head-strip",
        "strip",
        sheet,
        [Part(face, "face", high)],
        40,
        "head",
        at_origin(high),
        (),
        o.tuck(high),
    )
    ring = one(o.opening.polygon.buffer(o.s["film_reach"]).difference(o.opening.polygon))
    half = one(ring.intersection(box(o.at.x0 - 1, o.at.sill - 1, o.at.x1 + 1, o.at.sill + (o.at.head - o.at.sill) / 3)))
    yield film(o, "reveal-film", half, 20, "corners", o.opening.polygon.length * o.s["turn_in"])
    yield from slits(o)


def slits(o: Case) -> Iterator[Claim]:
    """Knife cuts that let a course pass from under to over the strips, out to the strips' ends."""
    y, left, right = o.turn_y, o.at.x0 - o.at.ear_left, o.at.x1 + o.at.ear_right
    if o.state != "after" and o.at.hang <= AT_BASE_M:
        return
    if o.opening.shape in ("round", "polygon") or (o.opening.shape == "arch" and o.state == "after"):
        yield SlitClaim(o.place.id, o.face, "barrier", (left, y), (right, y))
        return
    yield SlitClaim(o.place.id, o.face, "barrier", (left, y), (o.at.x0, y))
    yield SlitClaim(o.place.id, o.face, "barrier", (o.at.x1, y), (right, y))


def corner_film(o: Case) -> Claim:
    """Sill corners are liquid: no pieced joint in a corner (ASTM E2112, general practice)."""
    r = o.s["film_reach"]
    spots = merged(
        [
            box(o.at.x0 - r, o.at.sill - r, o.at.x0, o.at.sill + r),
            box(o.at.x0, o.at.sill - r, o.at.x0 + r, o.at.sill),
            box(o.at.x1, o.at.sill - r, o.at.x1 + r, o.at.sill + r),
            box(o.at.x1 - r, o.at.sill - r, o.at.x1, o.at.sill),
        ]
    )
    left = one(spots.intersection(box(o.at.x0 - 1, o.at.sill - 1, o.at.x0 + o.at.width / 2, o.at.sill + 1)))
    right = one(spots.intersection(box(o.at.x0 + o.at.width / 2, o.at.sill - 1, o.at.x1 + 1, o.at.sill + 1)))
    product = o.ctx.catalog["liquid-flashing"]
    reveal = 2 * (r * o.s["turn_in"] * 2)
    amount = (spots.area + reveal) * o.film_m
    return o.piece(
        "corner-film",
        "corner",
        "film",
        product.id,
        [
            Part(o.face, "face", left),
            Part(o.face, "face", right),
            Part(o.face, "sill", box(o.at.x0, 0, o.at.x1, o.s["turn_in"])),
        ],
        20,
        "corners",
        None,
        (),
        merged([o.tuck(left), o.tuck(right)]),
        quantity=(amount * 1000, "L"),
        film_area_m2=spots.area + reveal,
    )


def film(o: Case, name: str, poly: Polygon, rank: int, step: str, reveal_m2: float) -> Claim:
    """Return a patch of liquid film on the face, with the film that goes into the reveal counted to it."""
    area = poly.area + reveal_m2
    return o.piece(
        name,
        "corner",
        "film",
        "liquid-flashing",
        [Part(o.face, "face", poly)],
        rank,
        step,
        None,
        (),
        o.tuck(poly),
        quantity=(area * o.film_m * 1000, "L"),
        film_area_m2=area,
    )
