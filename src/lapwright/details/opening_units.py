"""What is set into an opening and what covers its flanges: unit, tapes, head flashing, air seal, ties."""

from __future__ import annotations

from collections.abc import Iterator

from shapely import Polygon

from lapwright.details.base import Claim, Part, PieceClaim, RunClaim, TieClaim
from lapwright.details.heat import heat_at
from lapwright.details.opening_case import LEAST_M, Case, at_origin
from lapwright.details.opening_depth import PLAIN_REACH_M
from lapwright.details.opening_reveal import BUCK, bead, head_metal, tapes
from lapwright.details.opening_strips import film
from lapwright.details.shapes import HEAD_TRIM_M, IN, one
from lapwright.geometry import box, merged


def unit(o: Case) -> Iterator[Claim]:
    """Claim the window or door (old one that stays, insert or new one), its air seal and its head flashing."""
    face = o.face
    product = o.ctx.catalog[o.opening.unit or ("door-unit" if o.opening.kind == "door" else "window-unit")]
    if o.old_frame:
        yield PieceClaim(
            key=o.key("old-unit"),
            place=o.place.id,
            role="old-unit",
            layer="existing",
            product=None,
            parts=(Part(face, "face", o.opening.polygon),),
            phase=0,
            step=o.key("prepare"),
            held="fastened",
        )
        if o.state == "insert":
            insert = o.ctx.catalog[o.opening.unit or "insert-unit"]
            yield o.piece(
                "pan",
                "sill-pan",
                "film",
                "liquid-flashing",
                [Part(face, "sill", box(o.at.x0, 0, o.at.x1, o.s["turn_in"]))],
                5,
                "pan",
                None,
                (),
                quantity=(o.at.width * o.s["turn_in"] * 1.5 * o.film_m * 1000, "L"),
                film_area_m2=o.at.width * o.s["turn_in"] * 1.5,
            )
            inner = one(o.opening.polygon.buffer(-0.02))
            yield o.piece(
                "unit",
                "unit",
                "unit",
                insert.id,
                [Part(face, "face", inner)],
                50,
                "unit",
                held="fastened",
                quantity=(1.0, "each"),
            )
    elif o.seat.buck is not None:
        yield from on_buck(o, product.id, product.number("flange_m") or 0.0)
    else:
        yield from new_unit(o, product.id, product.number("flange_m") or 0.0)
    bead = o.opening.polygon.length
    ring = one(o.opening.polygon.difference(o.opening.polygon.buffer(-0.01)))
    yield o.piece(
        "air-seal",
        "air-seal",
        "sealant",
        "sealant",
        [Part(face, "face", ring)],
        70,
        "air-seal",
        held="sealed",
        quantity=(bead, "m"),
    )
    if o.opening.shape == "rectangle" or o.opening.shape == "arch":
        yield from head_flashing(o)


TAPE_UP_M = 2 * IN  # jamb tape runs this far past the head, beneath the head tape: common practice


def new_unit(o: Case, product: str, flange: float) -> Iterator[Claim]:
    """Claim a new unit; `flange` metres past the rough opening on all sides, 0 for none."""
    face = o.face
    body = o.opening.polygon.buffer(flange, join_style="mitre") if flange else o.opening.polygon
    body = body.intersection(o.skin.union(o.opening.polygon))  # a flange is trimmed where the wall ends
    yield o.piece(
        "unit",
        "unit",
        "unit",
        product,
        [Part(face, "face", one(body))],
        50,
        "unit",
        held="fastened",
        over_field=o.tuck(one(body)),
        quantity=(1.0, "each"),
    )
    if not flange:
        return
    if o.opening.shape in ("round", "polygon"):
        ring = one(
            o.opening.polygon.buffer(flange + o.s["tape_past"], join_style="mitre").difference(o.opening.polygon)
        )
        top = one(ring.intersection(box(o.at.x0 - 1, (o.at.sill + o.at.head) / 2, o.at.x1 + 1, o.at.head + 1)))
        yield film(o, "flange-film", top, 60, "tapes", 0.0)
        return
    tape = o.ctx.catalog["flashing-tape-4"]
    width = tape.needed("width_m")
    arched = o.at.spring < o.at.head - 1e-4
    top_y = o.at.spring if arched else o.at.head + min(TAPE_UP_M, o.at.rise / 2)  # the head tape covers its top
    for side, x in (("left", o.at.x0), ("right", o.at.x1)):
        reach = min(width, (o.at.ear_left if side == "left" else o.at.ear_right) - 1e-3)
        if reach < LEAST_M - 1e-3:
            continue
        poly = box(x - reach, o.at.sill, x, top_y) if side == "left" else box(x, o.at.sill, x + reach, top_y)
        poly = one(poly.intersection(o.skin))
        yield o.piece(
            f"flange-tape-{side}",
            "flange-tape",
            "tape",
            tape.id,
            [Part(face, "face", poly)],
            55,
            "tapes",
            at_origin(poly),
            (),
            o.tuck(poly),
            held="taped",
        )
    if arched:
        tops = [  # film over the tops of the jamb tapes, which nothing else covers
            box(o.at.x0 - width - 1 * IN, top_y - 1 * IN, o.at.x0, top_y + 1 * IN),
            box(o.at.x1, top_y - 1 * IN, o.at.x1 + width + 1 * IN, top_y + 1 * IN),
        ]
        curve = one(one(body).buffer(o.s["tape_past"]).difference(o.opening.polygon))
        curve = one(curve.intersection(box(o.at.x0 - 1, o.at.spring, o.at.x1 + 1, o.at.head + 1)))
        around = box(o.at.x0 - o.at.ear_left, o.at.sill, o.at.x1 + o.at.ear_right, o.at.head + o.at.rise)
        yield film(o, "flange-film", one(merged([curve, *tops]).intersection(around)), 60, "tapes", 0.0)
        return
    past = max(flange, width) + o.s["tape_past"]
    left, right = min(past, o.at.ear_left), min(past, o.at.ear_right)
    if o.at.rise < LEAST_M:
        return
    top = box(o.at.x0 - left, o.at.head, o.at.x1 + right, o.at.head + min(width, o.at.rise))
    top = one(top.intersection(o.skin))
    yield o.piece(
        "flange-tape-head",
        "flange-tape",
        "tape",
        tape.id,
        [Part(face, "face", top)],
        60,
        "tapes",
        at_origin(top),
        (),
        o.tuck(top),
        held="taped",
    )


def on_buck(o: Case, product: str, flange: float) -> Iterator[Claim]:
    """Claim a unit in a buck: its flange on the buck's front and taped there when set out, no flange and a joint when mid."""
    seat, a = o.seat, o.at
    wide = flange if seat.position == "out" else 0.0
    low, high, t = a.sill + seat.sill_loss_m, a.head - seat.head_loss_m, seat.board_m
    body = one(box(a.x0 + t - wide, low - wide, a.x1 - t + wide, high + wide).intersection(o.skin.union(o.opening.polygon)))
    yield o.piece(
        "unit", "unit", "unit", product, [Part(o.face, "face", body)], 50, "unit", held="fastened", quantity=(1.0, "each"),
        on=BUCK, plane_m=seat.plane_m,
    )  # fmt: skip
    if wide:
        yield from tapes(o, wide)
    else:
        yield bead(o)


def head_flashing(o: Case) -> Iterator[Claim]:
    """Bent metal over the trim: upper leg against the wall under the course, ends past the trim."""
    face = o.face
    past_left, past_right = min(o.s["flashing_past"], o.at.ear_left), min(o.s["flashing_past"], o.at.ear_right)
    if o.seat.reach_m > PLAIN_REACH_M:
        deep = head_metal(o, past_left, past_right)
        if deep is not None:
            yield deep
        return
    base = o.at.head + HEAD_TRIM_M
    leg = min(3 * IN, o.at.rise - HEAD_TRIM_M)
    if leg < 1.5 * IN:  # no wall above the trim to fasten it on: the soffit or the neighbor is right there
        return
    claim = RunClaim(
        key=o.key("head-flashing"),
        place=o.place.id,
        role="head-flashing",
        layer="flashing",
        product="head-flashing-metal",
        surface=face,
        start=(o.at.x0 - past_left, base),
        end=(o.at.x1 + past_right, base),
        low=0.0,
        high=leg,
        phase=o.phase,
        step=o.key("flashing"),
        rank=65,
        held="fastened",
        legs=(("under", 1.25 * IN, 80.0), ("under", 0.5 * IN, 80.0)),
        lap_m=4 * IN,
        over_field=Polygon(),
        facts={"slope_deg": 10.0, "end_dams": True, "drip": True},
    )
    yield claim


def ties(o: Case) -> Iterator[Claim]:
    """Claim the ties of wall and unit: sill, both jambs, head."""
    bucks = ("buck-sill", "buck-left", "buck-right", "buck-head") if o.seat.buck is not None else ()
    sides = (f"{o.face}/{o.place.zone.id if o.place.zone else 'main'}", o.place.id)
    face, key = o.face, o.key
    air = (key("air-seal"),)
    strips = {
        "sill": ((o.at.x0, o.at.sill), (o.at.x1, o.at.sill)),
        "left": ((o.at.x0, o.at.sill), (o.at.x0, o.at.spring)),
        "right": ((o.at.x1, o.at.sill), (o.at.x1, o.at.spring)),
        "head": ((o.at.x0, o.at.head), (o.at.x1, o.at.head)),
    }
    names = {"sill": "sill-strip", "left": "jamb-strip-left", "right": "jamb-strip-right", "head": "head-strip"}
    if o.opening.shape in ("round", "polygon"):
        names = {"sill": "sill-strip", "head": "head-strip"}
    for side, strip in names.items():
        by = key(strip)
        box_ = tuple(key(b) for b in bucks if b.endswith(side))  # the air seal lies between frame and buck, the strip on the buck
        yield TieClaim(f"{o.place.id}/{side}", sides, face, strips[side], ("field", by), (by, *box_, *air), None, heat_at(o.place))
