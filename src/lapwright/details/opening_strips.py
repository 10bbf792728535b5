"""Strips, corner film and slits round an opening: how barrier and framing tie together."""

from __future__ import annotations

from collections.abc import Iterator

from shapely import Polygon
from shapely.affinity import translate

from lapwright.details.base import Claim, ClearClaim, Part, SlitClaim
from lapwright.details.opening_case import AT_BASE_M, Case, Fold, at_origin
from lapwright.details.shapes import SLIT_M, one, rect_flat
from lapwright.geometry import box, merged, polygons


def clear(o: Case) -> Iterator[Claim]:
    """Keep end laps off the opening, and course laps off its sill and head."""
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
    """Claim sill, jamb and head strips of a square or arched opening."""
    face, sheet = o.face, o.sheet
    turn = o.turn_m
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
    middle = box(o.at.ear_left, o.at.hang, o.at.ear_left + o.at.width, o.at.hang + turn)
    flat = rect_flat(total, o.at.hang + up).difference(
        box(o.at.ear_left, o.at.hang, o.at.ear_left + o.at.width, o.at.hang + up + 1)
    )
    flat = merged([flat, middle])
    fold: Fold = (((o.at.ear_left, o.at.hang), (o.at.ear_left + o.at.width, o.at.hang)), 90.0)
    sill, flat = o.trimmed(sill, flat, o.at.x0 - o.at.ear_left, o.at.sill - o.at.hang)
    under = turn if o.seat.buck is not None else 0.0  # at the foot of the wall it lies beneath the buck, out to its front
    at_base = o.at.hang <= AT_BASE_M  # a door at the foot of the wall: a pan in the opening, no wall below to hang onto
    yield o.piece(
        "sill-strip",
        "sill-strip",
        "strip",
        sheet,
        [Part(face, "sill", box(o.at.x0, -under, o.at.x1, up))]
        if at_base
        else [
            Part(face, "face", sill),
            Part(face, "under" if o.old_frame else "sill", o.turned(o.at.x0, o.at.x1)),
        ],
        10,
        "sill",
        rect_flat(o.at.width, up + under) if at_base else flat,
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
        poly, flat = o.trimmed(poly, rect_flat(width + turn, leg_h), x - at, o.at.sill)
        yield o.piece(
            f"jamb-strip-{side}",
            "jamb-strip",
            "strip",
            sheet,
            [Part(face, "face", poly), Part(face, "jamb", o.turned(o.at.sill, o.at.spring, True))],
            30,
            "jambs",
            flat,
            (((((at, 0.0), (at, leg_h))), 90.0),) if width else (),
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
    flat = rect_flat(total, o.at.rise + up).difference(box(o.at.ear_left, -1, o.at.ear_left + o.at.width, up))
    flat = merged([flat, box(o.at.ear_left, up - turn, o.at.ear_left + o.at.width, up)])
    head, flat = o.trimmed(head, flat, o.at.x0 - o.at.ear_left, o.at.head - up)
    down_m = max(0.0, turn - up)  # a leg out on a deep buck is longer than the ears
    flat = translate(flat, 0.0, down_m)
    at_top = o.at.rise <= AT_BASE_M  # right under the top of the skin: a strip in the opening, no wall above to hang it on
    yield o.piece(
        "head-strip",
        "head-strip",
        "strip",
        sheet,
        [
            *([] if at_top else [Part(face, "face", head)]),
            Part(face, "head", o.turned(o.at.x0, o.at.x1)),
        ],
        40,
        "head",
        rect_flat(o.at.width, turn) if at_top else flat,
        () if at_top else ((((o.at.ear_left, up + down_m), (o.at.ear_left + o.at.width, up + down_m)), 90.0),),
        None if at_top else o.tuck(head),
        knife=[] if at_top else [[o.at.ear_left, up + down_m], [o.at.ear_left + o.at.width, up + down_m]],
    )
    yield from slits(o)


def arch_head(o: Case) -> Iterator[Claim]:
    """Claim the head of an arched opening: a strip above, film round the arch that no strip can follow."""
    lap = o.s["turn_in"]
    room = box(o.at.x0 - o.at.ear_left, o.at.spring - lap, o.at.x1 + o.at.ear_right, o.at.head + o.at.rise)
    yield from patch(o, "head-strip", room, 40, "head")
    arch = one(o.opening.polygon.buffer(o.s["film_reach"], join_style="mitre").difference(o.opening.polygon))
    arch = one(arch.intersection(box(o.at.x0 - 1, o.at.spring, o.at.x1 + 1, o.at.head + 1)))
    yield film(o, "arch-film", arch, 42, "head", o.at.width * 1.6 * lap)
    yield from slits(o)


def patches(o: Case) -> Iterator[Claim]:
    """Round and free shapes: a lower and an upper sheet with the shape cut out, film in the reveal."""
    lap = o.s["turn_in"]
    middle = (o.at.sill + o.at.head) / 2
    left, right = o.at.x0 - o.at.ear_left, o.at.x1 + o.at.ear_right
    loose = "bottom" if o.state != "after" else ""
    low = box(left, o.at.sill - o.at.hang, right, middle)
    yield from patch(o, "sill-strip", low, 10, "sill", drain="bottom", loose_edge=loose)
    yield from patch(o, "head-strip", box(left, middle - lap, right, o.at.head + o.at.rise), 40, "head")
    ring = one(o.opening.polygon.buffer(o.s["film_reach"]).difference(o.opening.polygon))
    yield film(o, "reveal-film", ring, 20, "corners", o.opening.polygon.length * o.s["turn_in"])
    yield from slits(o)


def patch(o: Case, name: str, room: Polygon, rank: int, step: str, **facts: str) -> Iterator[Claim]:
    """Yield the sheet that fills a box round the opening, the opening cut out; two sheets where it falls in two."""
    for n, part in enumerate(polygons(room.difference(o.opening.polygon).intersection(o.skin)), 1):
        key = name if n == 1 else f"{name}-{n}"
        sheet, flat = o.patch_sheet(part), at_origin(part)
        parts = [Part(o.face, "face", part)]
        yield o.piece(key, name, "strip", sheet, parts, rank, step, flat, (), o.tuck(part), "adhered", None, **facts)


def slits(o: Case) -> Iterator[Claim]:
    """Knife cuts that let a course pass from under to over the strips, out to the strips' ends."""
    y, left, right = o.turn_y, o.at.x0 - o.at.ear_left, o.at.x1 + o.at.ear_right
    if o.state != "after" and o.at.hang <= AT_BASE_M:
        return
    if o.opening.shape in ("round", "polygon") or (o.opening.shape == "arch" and o.state == "after"):
        yield SlitClaim(o.place.id, o.face, "barrier", (left, y), (right, y))
        return
    for a, b in ((left, o.at.x0), (o.at.x1, right)):
        if b - a > SLIT_M:
            yield SlitClaim(o.place.id, o.face, "barrier", (a, y), (b, y))


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
    ).intersection(o.skin)
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
            Part(o.face, "sill", o.turned(o.at.x0, o.at.x1) if o.seat.buck else box(o.at.x0, 0, o.at.x1, o.s["turn_in"])),
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
    poly = one(poly.intersection(o.skin))
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
