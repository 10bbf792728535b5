"""What lines an opening in a thick wall: buck and pan of a unit set mid or out, returns, sill and metal of one set in.

Sheets, boards and metal here lie outside of the barrier's plane or fold off it; what does not lie in that plane carries
the fact `on`, so that laps and drop test do not take it for a part of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from shapely import Polygon

from lapwright.details.base import (
    PHASE_CLADDING,
    PHASE_GAP,
    Claim,
    HoleClaim,
    Part,
    PieceClaim,
    RunClaim,
)
from lapwright.details.depths import PHASE_BOARDS, Slab
from lapwright.details.opening_case import Case, at_origin
from lapwright.details.opening_depth import DEEP_M, PLAIN_REACH_M, Seat, Section, trim_for
from lapwright.details.shapes import HEAD_TRIM_M, IN, one, rect_flat
from lapwright.findings import Finding, Where
from lapwright.geometry import box, polygons
from lapwright.lengths import show_length

PAN_UP_M = 4 * IN  # the pan's ends turned up the jambs: common practice
BACK_LEG_M = 1 * IN  # the sill metal's leg on the frame: common practice
DOWN_M, HEM_M = 0.75 * IN, 0.25 * IN  # drip leg and hem: as the catalog's head flashing
BRAKE_M = 120 * IN  # a 10 ft brake: common practice
COIL = "coil-stock"
BUCK = "buck"  # the fact `on` of what lies in front of the barrier, round the unit


def reveal(o: Case) -> Iterator[Claim]:
    """Yield everything that the depth of the wall asks for at one opening; nothing at a thin wall."""
    seat = o.seat
    yield from _said(o)
    if seat.buck is not None:
        yield from buck(o)
    if seat.return_m and o.opening.shape == "rectangle":
        yield from returns(o)
    if seat.reach_m > PLAIN_REACH_M:
        yield from _foam_at_head(o)


def _where(o: Case) -> Where:
    return Where(o.ctx.survey.file, o.opening.where.line, o.face, o.opening.id, o.at.x0, o.at.sill)


def _said(o: Case) -> Iterator[Claim]:
    seat, name = o.seat, f"{o.opening.id} on {o.face}"
    deep = show_length(seat.depths.face_m, o.ctx.survey.units)
    if seat.depths.missing:
        yield Finding(
            "opening.depth_not_given", "warn",
            f"How far the wall moves out at {name} is not known: nobody wrote how thick {', '.join(seat.depths.missing)} is.",
            "Bucks, returns and metal are cut to that depth.", "Write `thickness:` on the layer.", _where(o), "common practice",
        )  # fmt: skip
    if seat.why == "usual":
        yield Finding(
            "opening.position", "note", f"The wall moves out {deep} at {name}; nobody said how deep the unit sits: taken in, on the old boards.",
            "On the boards it ties to the barrier in one plane and no buck takes opening away; out with the furring there are no deep "
            "returns, and the frame is warmer in its middle position.",
            f"Write `positions: {{{o.place.assembly.id if o.place.assembly else 'foam-skin'}: out}}`, or `position:` on the opening.",
            _where(o), "common practice",
        )  # fmt: skip
    if seat.why == "no foam" and o.opening.position is not None:
        yield Finding(
            "opening.position_thin", "note", f"{name} is to sit {o.opening.position}, but foam and furring move the wall out 3/4 in at most: it is set in.",
            "There is nothing to carry a flange, and the casing closes the joint.", "Take `position` out, or check the layers of the assembly.",
            _where(o), "common practice",
        )  # fmt: skip
    if seat.deep and o.opening.shape != "rectangle":
        yield Finding(
            "opening.depth_by_hand", "warn", f"{name} is no rectangle and the wall moves out {deep}: no buck and no returns are drawn.",
            "Boards there are bent or built up of plies.", "Have them made by a joiner from a template of the opening.", _where(o), "common practice",
        )  # fmt: skip


# ---------------------------------------------------------------- buck and pan


def buck(o: Case) -> Iterator[Claim]:
    """Claim the box: sill on a bevel, jambs on it, head over them; and the pan of liquid film on its sill."""
    seat, a = o.seat, o.at
    made = seat.buck
    assert made is not None
    out, deep, thick = seat.plane_m, seat.in_m, seat.board_m
    sill_width = seat.sloped(out + deep)
    widest = max(made.number("width_m") or 0.0, made.number("length_m") or 0.0) if made.form == "sheet" else made.number("width_m") or 0.0
    if sill_width > widest + 1e-6:
        yield Finding(
            "buck.narrow", "stop",
            f"The buck of {o.opening.id} is {show_length(sill_width, o.ctx.survey.units)} deep; {made.title} is {show_length(widest, o.ctx.survey.units)} wide.",
            "A pieced sill leaks at its joint.", "Take plywood (buck: plywood-buck), or set the unit further in.", _where(o), "common practice",
        )  # fmt: skip
    left, high = seat.left_over(a.width, a.head - a.sill)
    if min(left, high) < 6 * IN:
        yield Finding(
            "buck.no_room", "stop", f"A buck of {made.title} leaves {show_length(max(left, 0.0), o.ctx.survey.units)} x {show_length(max(high, 0.0), o.ctx.survey.units)} of {o.opening.id}.",
            "There is no room for a unit.", "Take a thinner buck, or frame the opening larger.", _where(o), "common practice",
        )  # fmt: skip
        return
    front = thick / seat.cos
    y_front, y_back = a.sill + front, a.sill + front + (out + deep) * seat.tan
    top = a.head - thick
    yield _board(o, "buck-sill", Part(o.face, "sill", box(a.x0, -out, a.x1, deep)), rect_flat(a.width, sill_width), 2, seat.buck_sill(), seat.slope_deg)
    side = Polygon([(-out, y_front), (deep, y_back), (deep, top), (-out, top)])
    for n, name in enumerate(("left", "right")):
        yield _board(o, f"buck-{name}", Part(o.face, "jamb", side), at_origin(side), 3 + n, seat.buck_board(), 0.0)
    yield _board(o, "buck-head", Part(o.face, "head", box(a.x0, -out, a.x1, deep)), rect_flat(a.width, out + deep), 5, seat.buck_board(), 0.0)
    inner = min(out + deep, seat.frame_depth_m + 1 * IN)  # a back dam of film an inch behind the frame
    run = seat.sloped(inner)
    area = left * (run + thick) + 2 * PAN_UP_M * run
    yield o.piece(
        "pan", "sill-pan", "film", "liquid-flashing",
        [Part(o.face, "sill", box(a.x0 + thick, -out, a.x1 - thick, -out + inner))], 45, "pan", None, (), quantity=(area * o.film_m * 1000, "L"),
        film_area_m2=area, end_dams=True, back_dam=True, section=_above(seat, inner), slope_deg=seat.slope_deg,
    )  # fmt: skip


def _above(seat: Seat, inner: float) -> Section:
    """Return the line of the pan: over the buck's front edge, up its sill, a dam at its back."""
    up = seat.board_m / seat.cos
    back = -seat.plane_m + inner
    return ((-seat.plane_m, 0.0), (-seat.plane_m, up), (back, up + inner * seat.tan), (back, up + inner * seat.tan + 0.5 * IN))


def _board(o: Case, name: str, part: Part, flat: Polygon, rank: int, section: Section, slope: float) -> PieceClaim:
    assert o.seat.buck is not None
    return o.piece(
        name, BUCK, "furring", o.seat.buck.id, [part], rank, "buck", flat, held="fastened", on=BUCK, thick_m=o.seat.board_m,
        section=section, slope_deg=slope,
    )  # fmt: skip


def tapes(o: Case, flange: float) -> Iterator[PieceClaim]:
    """Claim the tapes of a flange on a buck: jambs onto furring or foam beside it, head folded back over the buck."""
    seat, a = o.seat, o.at
    tape = o.ctx.catalog["flashing-tape-4"]
    width, thick = tape.needed("width_m"), seat.board_m
    over = min(flange, 1 * IN)  # of the tape on the flange: half of it stays on what is beside
    low, high = a.sill + seat.sill_loss_m - flange, a.head - thick + flange
    for side, x in (("left", a.x0 + thick - flange), ("right", a.x1 - thick + flange)):
        room = max(0.0, min(width - over, a.ear_left if side == "left" else a.ear_right))
        poly = box(x - room, low, x + over, high) if side == "left" else box(x - over, low, x + room, high)
        for part in polygons(poly.intersection(o.skin))[:1]:
            yield _later(o.piece(
                f"flange-tape-{side}", "flange-tape", "tape", tape.id, [Part(o.face, "face", part)], 55, "tapes", at_origin(part),
                held="taped", on=BUCK,
            ))  # fmt: skip
    x0, x1 = a.x0 + thick - flange, a.x1 - thick + flange
    back = width - over
    yield _later(o.piece(
        "flange-tape-head", "flange-tape", "tape", tape.id,
        [Part(o.face, "face", box(x0, high - over, x1, high)), Part(o.face, "head", box(x0, -seat.plane_m, x1, -seat.plane_m + back))],
        60, "tapes", rect_flat(x1 - x0, width), ((((0.0, over), (x1 - x0, over)), 90.0),), held="taped", on=BUCK,
    ))  # fmt: skip


def bead(o: Case) -> PieceClaim:
    """Claim the joint round a frame set mid: backer rod and sealant at jambs and head, the sill open to drain."""
    seat, a = o.seat, o.at
    wide, high = seat.left_over(a.width, a.head - a.sill)
    x0, y0 = a.x0 + seat.board_m, a.sill + seat.sill_loss_m
    ring = box(x0, y0, x0 + wide, y0 + high).difference(box(x0 + 0.01, y0 - 1, x0 + wide - 0.01, y0 + high - 0.01))
    return o.piece(
        "frame-joint", "frame-joint", "sealant", "sealant", [Part(o.face, "face", one(ring))], 56, "unit", held="sealed",
        quantity=(wide + 2 * high, "m"), on=BUCK,
    )  # fmt: skip


def _later(claim: PieceClaim) -> PieceClaim:
    """Return a claim that waits for what lies beside it: furring, or the last foam."""
    return replace(claim, phase=PHASE_GAP + 3)


# ---------------------------------------------------------------- returns and the outer sill


def returns(o: Case) -> Iterator[Claim]:
    """Claim what lines the opening outside of the unit: jambs and head to the casing's face, a sloped sill under metal."""
    seat, a = o.seat, o.at
    board = trim_for(ctx=o.ctx, width_m=seat.return_m)
    run = seat.depths.trim_m - seat.plane_m
    sill = trim_for(ctx=o.ctx, width_m=seat.sloped(run))
    if board is None or sill is None:
        yield Finding(
            "returns.narrow", "stop", f"No trim board is as wide as the returns of {o.opening.id} are deep: {show_length(seat.return_m, o.ctx.survey.units)}.",
            "A pieced return opens at its joint.", "Set the unit mid or out (position: out), or build the returns of plywood and metal.", _where(o), "common practice",
        )  # fmt: skip
        return
    thick, inner, outer = board.needed("thickness_m"), -seat.plane_m, -(seat.plane_m + seat.return_m)
    yield _trim(o, "return-head", Part(o.face, "head", box(a.x0, outer, a.x1, inner)), rect_flat(a.width, seat.return_m), board.id, 1, seat.return_board(thick))
    at_inner, at_outer = a.sill + seat.sill_at(-inner), a.sill + seat.sill_at(-outer)
    side = Polygon([(outer, at_outer), (inner, at_inner), (inner, a.head - thick), (outer, a.head - thick)])
    for n, name in enumerate(("left", "right")):
        yield _trim(o, f"return-{name}", Part(o.face, "jamb", side), at_origin(side), board.id, 2 + n, seat.return_board(thick))
    if o.opening.kind == "door":
        return  # its own sill and threshold lie there
    low = sill.needed("thickness_m")
    section = seat.return_sill(low)
    yield _trim(
        o, "return-sill", Part(o.face, "sill", box(a.x0, -seat.depths.trim_m, a.x1, inner)), rect_flat(a.width, seat.sloped(run)), sill.id, 0,
        section, seat.slope_deg,
    )  # fmt: skip
    drop = max(0.0, -min(h for _, h in section))
    if drop > 1e-4:
        yield HoleClaim(o.place.id, o.face, "insulation", box(a.x0, a.sill - drop, a.x1, a.sill))
    yield sill_metal(o)


def _trim(o: Case, name: str, part: Part, flat: Polygon, product: str, rank: int, section: Section, slope: float = 0.0) -> PieceClaim:
    made = o.piece(
        name, "return", "cladding", product, [part], rank, "returns", flat, held="fastened", on=BUCK,
        thick_m=o.ctx.catalog[product].needed("thickness_m"), section=section, slope_deg=slope,
    )  # fmt: skip
    return replace(made, phase=PHASE_CLADDING)


def sill_metal(o: Case) -> PieceClaim:
    """Claim the metal over the outer sill: a leg up the frame, out on the sill's slope past the casing, a drip."""
    seat, a = o.seat, o.at
    out = seat.sloped(seat.reach_m - seat.plane_m)
    low, back = seat.sill_at(seat.reach_m), seat.sill_back_m
    foot = a.sill + back
    made = o.piece(
        "sill-flashing", "sill-flashing", "flashing", COIL,
        [
            Part(o.face, "face", box(a.x0, foot, a.x1, foot + BACK_LEG_M)),
            Part(o.face, "sill", box(a.x0, -seat.reach_m, a.x1, -seat.plane_m)),
            Part(o.face, "under", box(a.x0, 0.0, a.x1, DOWN_M + HEM_M)),
        ],
        6, "returns", rect_flat(a.width, BACK_LEG_M + out + DOWN_M + HEM_M),
        (
            (((0.0, HEM_M), (a.width, HEM_M)), 180.0),
            (((0.0, HEM_M + DOWN_M), (a.width, HEM_M + DOWN_M)), 90.0 - seat.slope_deg),
            (((0.0, HEM_M + DOWN_M + out), (a.width, HEM_M + DOWN_M + out)), 90.0 - seat.slope_deg),
        ),
        held="fastened", on=BUCK, slope_deg=seat.slope_deg, end_dams=True, drip=True,
        legs_m=(BACK_LEG_M, out, DOWN_M, HEM_M),
        section=((-seat.plane_m, back + BACK_LEG_M), (-seat.plane_m, back), (-seat.reach_m, low), (-seat.reach_m - 0.13 * DOWN_M, low - DOWN_M)),
    )  # fmt: skip
    return replace(made, phase=PHASE_CLADDING)


# ---------------------------------------------------------------- head


def head_metal(o: Case, past_left: float, past_right: float) -> RunClaim | None:
    """Return the deep head flashing: up the boards under the course, out on its slope past the casing, a drip; None
    where there is no wall to fasten it on."""
    seat, a = o.seat, o.at
    base = a.head + HEAD_TRIM_M + seat.head_rise_m
    leg = min(3 * IN, a.rise - HEAD_TRIM_M - seat.head_rise_m)
    if leg < 1.5 * IN:
        return None
    slope = math.radians(seat.flashing_deg)
    out, edge = seat.reach_m / math.cos(slope), base - a.head - seat.reach_m * math.tan(slope)
    height = base - a.head
    return RunClaim(
        key=o.key("head-flashing"), place=o.place.id, role="head-flashing", layer="flashing", product=COIL, surface=o.face,
        start=(a.x0 - past_left, base), end=(a.x1 + past_right, base), low=0.0, high=leg, phase=o.phase, step=o.key("flashing"), rank=65,
        held="fastened",
        legs=(("under", out, 90.0 - seat.flashing_deg), ("under", DOWN_M, 90.0 - seat.flashing_deg), ("under", HEM_M, 180.0)),
        max_m=BRAKE_M, lap_m=4 * IN, over_field=Polygon(),
        facts={
            "slope_deg": seat.flashing_deg, "end_dams": True, "drip": True, "legs_m": (leg, out, DOWN_M, HEM_M),
            "section": ((0.0, -(height + leg)), (0.0, -height), (-seat.reach_m, -edge), (-seat.reach_m - 0.13 * DOWN_M, DOWN_M - edge)),
        },
    )  # fmt: skip


def foams(o: Case) -> list[Slab]:
    """Return the insulation outside of the barrier at an opening, from the wall outwards."""
    return [s for s in o.seat.depths.slabs if s.layer.layer == "insulation" and s.layer.product in o.ctx.catalog]


def _foam_at_head(o: Case) -> Iterator[Claim]:
    """Claim what foam and furring leave to the metal over the head, and the strip of foam beneath it."""
    seat, a = o.seat, o.at
    past = (min(o.s["flashing_past"], a.ear_left), min(o.s["flashing_past"], a.ear_right))
    if head_metal(o, *past) is None:
        return
    high = a.head + HEAD_TRIM_M + seat.head_rise_m
    band = one(box(a.x0 - past[0], a.head, a.x1 + past[1], high).intersection(o.skin))
    for n, foam in enumerate(foams(o), 1):
        yield HoleClaim(o.place.id, o.face, "insulation", band)
        product = o.ctx.catalog[foam.layer.product or ""]
        x0, y0, x1, y1 = band.bounds
        count = max(1, math.ceil((x1 - x0) / (product.number("length_m") or x1 - x0) - 1e-9))
        for k in range(count):
            part = one(band.intersection(box(x0 + (x1 - x0) * k / count, y0, x0 + (x1 - x0) * (k + 1) / count, y1)))
            yield replace(
                o.piece(
                    f"head-foam-{n}" + (f"-{k + 1}" if k else ""), "foam-strip", "insulation", product.id, [Part(o.face, "face", part)], n,
                    "head-foam", at_origin(part), held="fastened", row=0, label=f"h{n}", layer_no=n,
                ),
                phase=PHASE_BOARDS + n,
            )  # fmt: skip
    if seat.depths.backing_m > DEEP_M:
        yield HoleClaim(o.place.id, o.face, "furring", box(a.x0 - past[0], a.head, a.x1 + past[1], high + 0.5 * IN))
