"""What people do at a window or door, and what is measured before it disappears."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from lapwright.details.base import Check, Context, Piece, Place, Step
from lapwright.details.opening_depth import Seat, seat_of
from lapwright.details.opening_depth_work import buck_step, depth_checks, late_steps, pan_words, tape_step
from lapwright.details.shapes import limits_of
from lapwright.details.work import check, face_length, of_step, say, step
from lapwright.survey.model import Opening

if TYPE_CHECKING:
    from lapwright.details.openings import OpeningDetail


def opening_steps(detail: OpeningDetail, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
    """Yield the steps of one opening in the order of its state."""
    opening = place.thing
    assert isinstance(opening, Opening)
    x0, sill, x1, head = opening.box
    size = f"{say(ctx, x1 - x0)} x {say(ctx, head - sill)}"
    at = f"{opening.id} ({size}, sill {say(ctx, sill)} above the line)"
    sheet = ctx.product(place, "barrier", "self-adhered-sheet")
    film, sealant = ctx.catalog["liquid-flashing"], ctx.catalog["sealant"]
    wall = f"{place.face.id}/{place.zone.id if place.zone else 'main'}"

    seat = seat_of(place, ctx, {k: ctx.setting(detail, k) for k in ("sill_slope", "mid_share")})

    def make(name: str, action: str, tasks: list[tuple[str, float]], **more: object) -> Step:
        return step(ctx, place, detail.name, name, action, tasks, pieces, **more)  # type: ignore[arg-type]

    if detail.old_frame:
        first = f"Scrape and brush the old frame of {at}; bare sound wood 1 in wide all round. Backer rod in gaps over 1/4 in."
    elif detail.state == "after":
        first = f"Cut the course out of {at}: sill and jambs flush, slit level at {say(ctx, head)} past each corner, fold the flap up."
    elif seat.buck is not None:
        first = f"Brush {at} dry and clean; boards flush, gaps over 1/4 in bridged; framing plumb and square enough for the buck."
    else:
        first = f"Brush {at} dry and clean; boards flush, gaps over 1/4 in bridged; slope the sill to the outside, 5 degrees or more."
    needs: tuple[str, ...] = (f"{wall}/barrier/done",) if detail.state == "after" else ()
    if detail.state != "after" and place.zone is not None and place.zone.decision == "remove":
        needs = (f"{wall}/tear-off/tear-off",)
    reason = "" if of_step(pieces, place, "prepare") else "prepares the rough opening; no material"
    yield make("prepare", first, [("opening", 0.5)], needs=needs, reason=reason, exposes=(place.id,))
    last = "prepare"
    for set_ in buck_step(place, ctx, pieces, seat, make, (last,)):
        yield set_
        last = "buck"
    for name, text in _strip_texts(detail, ctx, opening, pieces, place, seat):
        mine = of_step(pieces, place, name)
        if not mine:
            continue
        if any(p.layer == "film" for p in mine):
            area = sum(float(p.facts.get("film_area_m2", p.polygon.area)) for p in mine if "quantity" in p.facts)
            yield make(
                name,
                text,
                [("film", max(area, 0.02))],
                needs=(last,),
                limits=limits_of(film),
                wait_h=film.number("skin_h") or 0.0,
            )
        else:
            yield make(name, text, [("strip", face_length(mine))], needs=(last,), limits=limits_of(sheet))
        last = name
    if of_step(pieces, place, "unit"):
        yield make(
            "unit",
            _setting(at, seat, ctx),
            [("unit", 1.0)],
            needs=(last,),
            covers=(place.id,),
        )
        last = "unit"
    if seat.buck is not None:
        yield from tape_step(place, ctx, pieces, seat, make)
    elif of_step(pieces, place, "tapes"):
        yield make(
            "tapes",
            f"Tape the flanges of {opening.id}: jambs, then head over them; roll hard. Leave the bottom flange open.",
            [("strip", face_length(of_step(pieces, place, "tapes")))],
            needs=(last,),
            limits=limits_of(ctx.catalog["flashing-tape-4"]),
        )
        last = "tapes"
    if of_step(pieces, place, "flashing"):
        yield make(
            "flashing",
            f"Head flashing over {opening.id}: slope out, end dams up, ends past the trim; do not caulk its lower edge."
            + _bent(ctx, of_step(pieces, place, "flashing"), head),
            [("flashing", face_length(of_step(pieces, place, "flashing")))],
            needs=(last,),
        )
        last = "flashing"
    yield make(
        "air-seal",
        f"Air seal at the back of the frame of {opening.id}, all round, from inside: backer rod and sealant, "
        f"{say(ctx, opening.polygon.length)} of bead.",
        [("sealant", opening.polygon.length)],
        needs=(last,),
        limits=limits_of(sealant),
    )
    yield from late_steps(place, ctx, pieces, seat, make, last)


def _setting(at: str, seat: Seat, ctx: Context) -> str:
    """Return how a unit is set: on its flange, in a buck, or in a buck without its flange."""
    flanged = bool(seat.unit.number("flange_m"))
    if seat.buck is not None and (seat.position == "mid" or not flanged):
        return (
            f"Set the unit in {at}{', flange off' if flanged else ''}, its face {say(ctx, seat.plane_m)} out from the boards: plumb, level, shimmed on the pan, straps "
            "or screws through the frame; backer rod and sealant at jambs and head, the sill open."
        )
    if seat.buck is not None:
        return (
            f"Set the unit in {at} on the buck's front, {say(ctx, seat.plane_m)} out from the boards: plumb, level, shimmed on the pan; bed sides "
            "and head in sealant, bottom flange dry; straps or screws through the frame carry it, not screws in the buck's edge."
        )
    return f"Set the unit in {at}: plumb, level, shimmed; bed sides and head in sealant, bottom flange dry."


def _bent(ctx: Context, pieces: list[Piece], head_m: float) -> str:
    """Return the legs of metal that is bent for this depth of wall, and where its bend goes; "" where a stock flashing does."""
    made = next((p for p in pieces if "legs_m" in p.facts and p.plane == "face"), None)
    if made is None:
        return ""
    up, out, down, hem = (say(ctx, v) for v in made.facts["legs_m"])
    bend = say(ctx, made.polygon.bounds[1] - head_m)
    return f" Bent from coil: {up} up the boards, {out} out, {down} down, hem {hem}; its bend {bend} above the head, so that it clears the casing."


def _strip_texts(
    detail: OpeningDetail, ctx: Context, opening: Opening, pieces: list[Piece], place: Place, seat: Seat
) -> list[tuple[str, str]]:
    loose = "Leave the backing on its lower edge: the course comes in under it."
    if detail.state == "after":
        loose = "It laps over the course below."
    turn = "onto the old frame" if detail.old_frame else "in onto the framing"
    boxed = seat.buck is not None
    if boxed:
        turn = f"out {say(ctx, seat.plane_m)} along the buck to its front"

    def size(name: str) -> str:
        found = [p for p in of_step(pieces, place, name) if p.plane == "face"]
        if not found:
            return ""
        x0, y0, x1, y1 = found[0].polygon.bounds
        return f"{say(ctx, x1 - x0)} x {say(ctx, y1 - y0)} on the face"

    pan_on_buck = [("pan", pan_words(place, ctx, seat))] if boxed else []
    pan_on_sill = [] if boxed else [
        ("pan", f"Liquid pan on the old sill of {opening.id}: back dam, end dams, front open to drain."),
    ]  # fmt: skip
    return [
        *pan_on_sill,
        ("sill", f"Sill strip of {opening.id}, {size('sill')}: cut at both corners, fold the middle {turn}. {loose}"),
        (
            "corners",
            f"Liquid film in the sill corners of {opening.id}, 2 in each way, to the gauge; no pieced joint in a corner.",
        ),
        ("jambs", f"Jamb strips of {opening.id}, {size('jambs')}, over the sill strip's ears, turned {turn}; roll."),
        (
            "head",
            f"Head strip of {opening.id}, {size('head')}, over the jamb strips; roll."
            + (" Fold the flap of the course down over it." if detail.state == "after" else ""),
        ),
        *pan_on_buck,
    ]


def opening_checks(detail: OpeningDetail, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
    """Yield the checks of one opening: substrate, sill, corners, laps, before the next layer hides them."""
    opening = place.thing
    assert isinstance(opening, Opening)
    sheet = ctx.product(place, "barrier", "self-adhered-sheet")
    film = ctx.catalog["liquid-flashing"]
    if detail.state != "after":
        yield check(
            place,
            "prepare",
            "moisture",
            f"moisture of the boards round {opening.id}",
            "%",
            None,
            sheet.number("moisture_max_pct") or 19.0,
            "Let it dry; sticky sheet fails on wet wood.",
            "PS 20 (19 %), sheet decides",
            count=3,
        )
    seat = seat_of(place, ctx, {k: ctx.setting(detail, k) for k in ("sill_slope", "mid_share")})
    yield from depth_checks(place, ctx, pieces, seat)
    if not detail.old_frame:
        yield check(
            place,
            "prepare" if seat.buck is None else "buck",
            "sill-slope",
            f"slope of the sill of {opening.id}, outward",
            "deg",
            5.0,
            None,
            "Shim or plane until it falls outward.",
            "common practice",
        )
    if of_step(pieces, place, "corners") or of_step(pieces, place, "pan"):
        name = "corners" if of_step(pieces, place, "corners") else "pan"
        film_mil = (film.number("film_m") or 0.0) / 0.0254 * 1000
        yield check(
            place,
            name,
            "film",
            f"wet film in the sill corners of {opening.id}",
            "mil",
            round(film_mil, 1),
            None,
            "Second coat before the unit goes in.",
            "wet gauge, ASTM D4414; sheet decides",
            count=2,
        )
    lower = "jambs" if of_step(pieces, place, "jambs") else "head"
    if of_step(pieces, place, "tapes"):
        yield check(
            place,
            "tapes",
            "past",
            f"tape and film over sides and head of {opening.id}: this far past flange and sheet, rolled; the bottom flange bare",
            "in",
            1.0,
            None,
            "Patch it wider; take off what seals the bottom flange.",
            "common practice; ASTM E2112 (bottom flange open)",
            count=3,
        )
    yield check(
        place,
        lower,
        "rolled",
        f"strips of {opening.id}: rolled, no fishmouths, laps 2 in or more",
        "in",
        2.0,
        None,
        "Slit, patch and roll; wider strip if the lap is short.",
        "IRC R703.2",
        count=4,
    )
    if detail.state != "after":
        yield check(
            place,
            "head",
            "loose-edge",
            f"lower edge of the sill strip of {opening.id} still loose",
            "yes/no",
            1.0,
            1.0,
            "Lift it before the course below comes up, or the course laps the wrong way.",
            "common practice",
            hold=False,
        )
