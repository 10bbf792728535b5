"""Steps and checks of what the depth of the wall asks for: buck, pan, tapes in front of it, returns, foam over the head."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from lapwright.details.base import Check, Context, Piece, Place, Step
from lapwright.details.opening_depth import DEEP_M, Seat
from lapwright.details.runs import wall_of
from lapwright.details.shapes import IN, limits_of
from lapwright.details.work import check, face_length, of_step, say
from lapwright.survey.model import Opening

Make = Callable[..., Step]
FRONT = {"mid": "inside the foam", "out": "flush with the outermost foam or furring"}


def outer_layers(place: Place) -> tuple[str, ...]:
    """Return the steps after which the wall round an opening has its foam and furring."""
    wall = wall_of(place)
    return (
        f"{wall}/barrier/done", *(f"{wall}/insulation/{word}-{n}" for n in (1, 2, 3) for word in ("layer", "seams")),
        f"{wall}/furring/strips",
    )  # fmt: skip


def size(ctx: Context, piece: Piece, width_m: float | None = None) -> str:
    """Return length by width of a board that lies in the reveal, its width along the slope where it has one."""
    x0, y0, x1, y1 = piece.polygon.bounds
    long, wide = (y1 - y0, x1 - x0) if piece.plane == "jamb" else (x1 - x0, y1 - y0)
    return f"{say(ctx, long)} x {say(ctx, wide if width_m is None else width_m)}"


def buck_step(place: Place, ctx: Context, pieces: list[Piece], seat: Seat, make: Make, needs: tuple[str, ...]) -> Iterator[Step]:
    """Yield the step that sets the buck, with the sizes of its boards."""
    mine = {p.id.rpartition("/")[2]: p for p in of_step(pieces, place, "buck")}
    if not mine or seat.buck is None:
        return
    run = seat.plane_m + seat.in_m
    yield make(
        "buck",
        f"Buck of {_name(place)} of {seat.buck.title}: head {size(ctx, mine['buck-head'])}, two jambs {size(ctx, mine['buck-left'])} "
        f"with their feet cut to {seat.slope_deg:g} degrees, sill {size(ctx, mine['buck-sill'], seat.sloped(run))} on a bevel that "
        f"falls {say(ctx, run * seat.tan)} to the outside. Its front stands {say(ctx, seat.plane_m)} out from the boards, "
        f"{FRONT[seat.position]}; {say(ctx, seat.in_m)} of it in the wall. Plumb, square, screwed into the framing.",
        [("buck", 1.0)], needs=needs, limits=limits_of(seat.buck),
    )  # fmt: skip


def pan_words(place: Place, ctx: Context, seat: Seat) -> str:
    """Return what is said of the pan on a buck's sill."""
    return (
        f"Liquid pan on the buck's sill of {_name(place)}: over its front edge, {say(ctx, 4 * IN)} up both jambs, a dam of film behind "
        "the frame; front open to drain."
    )


def tape_step(place: Place, ctx: Context, pieces: list[Piece], seat: Seat, make: Make) -> Iterator[Step]:
    """Yield the step that tapes a flange on a buck: when the foam and furring beside it are up."""
    mine = of_step(pieces, place, "tapes")
    if not mine:
        return
    beside = "furring" if place.assembly is not None and place.assembly.product("furring") else "foam"
    yield make(
        "tapes",
        f"Tape the flange of {_name(place)}: jambs onto the {beside} beside it, head over them and back over the buck; roll hard. "
        "Leave the bottom flange open.",
        [("strip", face_length(mine))], needs=("unit", *outer_layers(place)), limits=limits_of(ctx.catalog["flashing-tape-4"]),
    )  # fmt: skip


def late_steps(place: Place, ctx: Context, pieces: list[Piece], seat: Seat, make: Make, last: str) -> Iterator[Step]:
    """Yield what waits for the foam: the strip of it under the head's metal, and the returns with the outer sill."""
    foam = of_step(pieces, place, "head-foam")
    if foam:
        x0, y0, x1, y1 = foam[0].polygon.bounds
        yield make(
            "head-foam",
            f"Foam under the head flashing of {_name(place)}: {len(foam)} strip{'s' if len(foam) > 1 else ''} {say(ctx, x1 - x0)} x {say(ctx, y1 - y0)}, "
            f"the top cut to {seat.flashing_deg:g} degrees so that the metal lies on it; boards above stand on the metal.",
            [("insulation", sum(p.polygon.area for p in foam))], needs=("flashing", f"{wall_of(place)}/barrier/done"),
        )  # fmt: skip
    mine = [p for p in of_step(pieces, place, "returns") if p.role == "return"]
    if not mine:
        return
    by = {p.id.rpartition("/")[2]: p for p in mine}
    head, side, sill = by["return-head"], by["return-left"], by.get("return-sill")
    words = (
        f"Returns of {_name(place)}, {say(ctx, seat.return_m)} deep from the unit to the casing's face: head {size(ctx, head)}, jambs {size(ctx, side)}"
    )
    tasks = [("trim", sum(_long(p) for p in mine))]
    if sill is not None:
        run = seat.depths.trim_m - seat.plane_m
        words += (
            f". Sill board {size(ctx, sill, seat.sloped(run))} falls {say(ctx, run * seat.tan)} to the outside; over it metal with end dams, "
            f"a leg up the frame below its weeps, lip {say(ctx, seat.reach_m)} out from the barrier, open below"
        )
        tasks.append(("flashing", _long(sill)))
    yield make("returns", words + ". Back-primed, cut ends primed.", tasks, needs=(last, *outer_layers(place)))


def depth_checks(place: Place, ctx: Context, pieces: list[Piece], seat: Seat) -> Iterator[Check]:
    """Yield what is measured of buck, returns and metal."""
    name = _name(place)
    if of_step(pieces, place, "buck"):
        front = round(seat.plane_m / IN, 2)
        yield check(
            place, "buck", "front", f"front of the buck of {name} out from the boards, at each corner", "in", front - 0.125, front + 0.125,
            "Plane or shim it: flange, furring and trim meet in that plane.", "sum of the layers of the assembly", count=4,
        )  # fmt: skip
        yield check(
            place, "buck", "square", f"buck of {name}: difference of its diagonals", "in", None, 0.125,
            "Rack it square before the last screws.", "common practice: 1/8 in",
        )  # fmt: skip
    if seat.reach_m > DEEP_M and of_step(pieces, place, "flashing"):
        yield check(
            place, "flashing", "reach", f"lip of the head flashing of {name} out from the barrier", "in",
            round((seat.reach_m - 0.125 * IN) / IN, 2), None,
            "Bend a deeper one: its lip must hang past casing and siding, or what it gathers runs behind them.",
            "build-out of the layers and 1/4 in of drip, common practice", hold=False,
        )  # fmt: skip
    if any(p.role == "sill-flashing" for p in of_step(pieces, place, "returns")):
        yield check(
            place, "returns", "fall", f"fall of the outer sill of {name}", "deg", 5.0, None,
            "Take it up and bevel the board: water must not stand before the frame.", "common practice", hold=False,
        )  # fmt: skip


def _name(place: Place) -> str:
    thing = place.thing
    assert isinstance(thing, Opening)
    return thing.id


def _long(piece: Piece) -> float:
    x0, y0, x1, y1 = piece.polygon.bounds
    return float(y1 - y0 if piece.plane == "jamb" else x1 - x0)
