"""What people do at a penetration, what can hurt them there, and what is measured before it disappears."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from lapwright.details.base import Check, Limits, Piece, Step
from lapwright.details.penetration_case import Spot, carries, is_round, new_face_m
from lapwright.details.runs import torn_off, wall_of
from lapwright.details.shapes import limits_of
from lapwright.details.work import check, face_length, of_step, say, step

if TYPE_CHECKING:
    from lapwright.details.penetrations import PenetrationDetail


def called(o: Spot) -> str:
    """Return the thing by id, use, size and place, as a carpenter would say it."""
    wide, high = o.size
    size = f"{say(o.ctx, wide)} round" if is_round(o.thing.polygon) else f"{say(o.ctx, wide)} x {say(o.ctx, high)}"
    use = f", {o.thing.through}" if o.thing.through else ""
    middle = say(o.ctx, (o.box[1] + o.box[3]) / 2)
    left = say(o.ctx, (o.box[0] + o.box[2]) / 2)
    return f"{o.thing.id} on {o.face} ({size}{use}; center {left} from the left edge, {middle} above the line)"


def brief(o: Spot) -> str:
    """Return the thing by id, face and height."""
    return f"{o.thing.id} on {o.face}, {say(o.ctx, (o.box[1] + o.box[3]) / 2)} above the line"


def _out(o: Spot) -> str:
    out = new_face_m(o.place, o.ctx)
    return "the new face" if out is None else f"the new face, {say(o.ctx, out)} out from the barrier"


def _before(o: Spot, name: str) -> str:
    """Return what is done before the courses come."""
    kind, at = carries(o.thing.through), called(o)
    if name == "penetration-duct":
        fall = "falling to the outside" if kind in ("dryer", "bath", "kitchen") else "as it ran"
        return f"Take the hood off {at}; carry the duct on to {_out(o)}, joints sealed, {fall}. Clean the boards 6 in round it."
    if name == "penetration-hot-vent":
        return (
            f"Appliance off and cold. Read the listing of the vent {at}: its clearance to sheet, foam and wood is what counts, the plan "
            f"holds {say(o.ctx, o.s['hot_clear'])}. Its end goes on to {_out(o)} by a licensed person."
        )
    if name == "penetration-bundle":
        return (
            f"{at}: spread what comes through to {say(o.ctx, o.s['apart'])} apart, drip loops outside; backer rod "
            "between and round them, so that film has a back. Clean them of dust and tar."
        )
    if name == "penetration-bracket":
        return f"Take off {at}; write down where its screws sat, plug the old holes. The courses run behind it."
    if name == "penetration-bracket-kept":
        return f"Brush {at} and the boards round it bare; the course is cut to it and comes round it in one piece, cut open below."
    if name == "penetration-meter":
        return (
            f"Leave {at} on the wall and reachable. Course cut to its edge, not behind it; ask the utility first whether it will take "
            f"the meter off (then details: {{{o.place.id}: penetration-meter-released}})."
        )
    if name == "penetration-meter-released":
        return f"Date with the utility: {at} comes off in the morning and goes back the same day. Courses run behind it."
    if name == "penetration-box":
        return f"Breaker off; take the device off {at} and set its box out to {_out(o)}. Course cut tight round it."
    if name == "penetration-cable":
        return f"Slack at {at}, drip loop outside, so that water runs off before the wall; gap round it filled with backer rod."
    how = "Shut off, drain and unscrew" if kind == "water" else "Steady and clean"
    return f"{how} {at}; bare pipe and boards 6 in round it. What goes on it again stands on {_out(o)}. Course cut tight round it."


def penetration_steps(detail: PenetrationDetail, o: Spot, pieces: Sequence[Piece]) -> Iterator[Step]:
    """Yield the steps of one penetration, first those before the courses."""
    place, ctx, name = o.place, o.ctx, detail.name

    def make(
        step_name: str, action: str, tasks: list[tuple[str, float]], needs: tuple[str, ...], limits: Limits | None = None,
        wait_h: float = 0.0, reason: str = "",
    ) -> Step:  # fmt: skip
        return step(ctx, place, name, step_name, action, tasks, pieces, needs, limits, wait_h, reason=reason)

    yield make("prepare", _before(o, name), [("penetration", 0.5)], torn_off(place), reason="prepares the place; no material")
    last: tuple[str, ...] = ("prepare", f"{wall_of(place)}/barrier/done")
    wet = ctx.catalog["liquid-flashing"]
    for part, text in _texts(o, pieces):
        mine = of_step(pieces, place, part)
        if not mine:
            continue
        if any(p.layer == "film" for p in mine):
            area = sum(float(p.facts["film_area_m2"]) for p in mine if p.layer == "film")
            wait = wet.number("skin_h") or 0.0
            yield make(part, text, [("film", max(area, 0.02))], last, limits_of(wet), wait)
        elif part == "flashing":
            yield make(part, text, [("flashing", face_length(mine))], last)
        elif part == "block":
            yield make(part, text, [("trim", max(face_length(mine), 0.2))], last)
        elif part in ("joint", "seal"):
            more = (f"{wall_of(place)}/cladding/siding",) if part == "joint" else ()
            yield make(part, text, [("sealant", o.thing.polygon.length)], (*last, *more), limits_of(ctx.catalog["sealant"]))
        else:
            made = next((p for p in mine if p.product in ctx.catalog and p.layer in ("strip", "tape")), mine[0])
            yield make(part, text, [("penetration", 1.0)], last, limits_of(ctx.catalog[made.product or "sealant"]))
        last = (part,)


def _texts(o: Spot, pieces: Sequence[Piece]) -> list[tuple[str, str]]:
    """Return (step, words) of what may be done at a penetration, in order."""
    at, ctx = brief(o), o.ctx
    collar = next((p for p in pieces if p.role == "collar" and p.plane == "face"), None)
    words: list[tuple[str, str]] = []
    if collar is not None:
        x0, y0, x1, y1 = collar.polygon.bounds
        size = f"{say(ctx, x1 - x0)} x {say(ctx, y1 - y0)}"
        product = ctx.catalog[collar.product or ""]
        made = "plate of coil stock" if product.id == "coil-stock" else product.title.lower()
        tape = "; tape over its top edge" if any(p.role == "head-tape" for p in pieces) else ""
        knife = " Cut it open from the hole to its lower edge to get it round; film closes that cut." if collar.facts.get("knife") else ""
        bed = " in a bed of sealant, lower edge left open" if any(p.role == "flange-bed" for p in pieces) else ""
        flap = ", then the flap down over it, rolled"
        words.append(
            ("collar", f"Collar round {at}: {made}, {size}{bed}. Over the course below, its top up under the slit flap{tape}{flap}.{knife}")
        )
        if not collar.facts.get("flap_m"):
            words[-1] = ("collar", f"Collar round {at}: {made}, {size}{bed}, on the course{tape}; no room for a flap here, so its "
                         f"top edge relies on glue: roll it twice.{knife}")  # fmt: skip
    film_mil = (ctx.catalog["liquid-flashing"].number("film_m") or 0.0) / 0.0254 * 1000
    gauge = f"{film_mil:.0f} mil wet, read with the gauge"
    heat = any(p.role == "heat-seal" for p in pieces)
    words += [
        ("backing", f"Backer rod between and round the lines at {at}: {say(ctx, 2 * sum(o.size))}; nothing wider than 1/4 in left open."),
        ("film", f"Liquid film round {at}: {say(ctx, o.s['film_alone'])} onto the course and as far up the thing, no gap, {gauge}."),
        ("coat-1", f"First coat of film over {at}, worked in between the lines, {gauge}."),
        ("coat-2", f"Second coat on {at}, across the first, once that has skinned, {gauge}."),
        ("seal", f"High-temperature sealant where the plate meets the vent: {at}; as its listing says, nothing else touches it." if heat
         else f"Film where collar and thing meet at {at}, {say(ctx, o.s['film_reach'])} onto both, {gauge}."),
        ("top-film", f"Film over the top edge at {at}, 1 in past it on both sides and at its ends, {gauge}: no flap comes down over it."),
        ("refix", f"Fix {at} again through a full bed of sealant on the barrier, every screw dipped in it; bead left open below."),
        ("block", _block_text(o, pieces)),
        ("flashing", f"Head flashing over the block at {at}: upper leg up under the flap, ends dammed, slope out, lip past the block; "
         "siding 3/8 in above it, not caulked."),
        ("joint", f"Seal the siding or boards to {at}: sides and top, {say(ctx, o.s['siding_gap'])} joint; bottom left open to drain."),
    ]  # fmt: skip
    return words


def _block_text(o: Spot, pieces: Sequence[Piece]) -> str:
    mine = [p for p in pieces if p.layer == "cladding"]
    if not mine:
        return ""
    x0, y0 = min(p.polygon.bounds[0] for p in mine), min(p.polygon.bounds[1] for p in mine)
    x1, y1 = max(p.polygon.bounds[2] for p in mine), max(p.polygon.bounds[3] for p in mine)
    what = {"mounting-block": "Mounting block", "mounting-frame": "Four boards", "mounting-board": "Mounting board"}[mine[0].role]
    return (
        f"{what} at {brief(o)}: {say(o.ctx, x1 - x0)} x {say(o.ctx, y1 - y0)}, back primed, fixed into framing or blocking; "
        "siding dies on it."
    )


def penetration_checks(detail: PenetrationDetail, o: Spot, pieces: Sequence[Piece]) -> Iterator[Check]:
    """Yield what is measured at one penetration before the next layer hides it."""
    place, who = o.place, f"{o.thing.id} on {o.face}"
    film = o.ctx.catalog["liquid-flashing"]
    mil = round((film.number("film_m") or 0.0) / 0.0254 * 1000, 1)
    steps_there = {p.step.rsplit("/", 1)[1] for p in pieces}
    if "collar" in steps_there:
        collar = next(p for p in pieces if p.role == "collar")
        yield check(place, "collar", "rolled", f"collar round {who}: flat, rolled, no fishmouth, lower edge over the course", "yes/no", 1.0,
                    1.0, "Slit, patch and roll; a new collar where it is torn.", "common practice")  # fmt: skip
        if collar.facts.get("flap_m"):
            lap = float(collar.facts.get("lap_m", 0.0508))
            yield check(place, "collar", "flap", f"flap of the course over the top of the collar round {who}", "mm", round(lap * 1000, 1),
                        None, "Larger collar, or a strip over collar and flap.", "IRC R703.2; a bought flange: its sheet")  # fmt: skip
        else:
            yield check(place, "collar", "top-edge", f"top edge of the collar round {who} stuck over its whole length, taped 1 in past",
                        "yes/no", 1.0, 1.0, "It relies on glue: dry, prime, tape again.", "common practice: 1 in past the edge")  # fmt: skip
    for name in ("film", "coat-1", "coat-2", "seal", "top-film"):
        if name in steps_there and any(p.layer == "film" for p in of_step(pieces, place, name)):
            yield check(place, name, "film", f"wet film at {who}", "mil", mil, None, "More film before it skins.",
                        "wet gauge, ASTM D4414; sheet decides", count=2)  # fmt: skip
    if detail.name == "penetration-bundle":
        yield check(place, "prepare", "apart", f"{who}: lines apart where they come through", "mm", round(o.s["apart"] * 1000, 1), None,
                    "Spread them; film does not flow between lines that touch.", detail.sources["apart"])  # fmt: skip
    if detail.name == "penetration-duct":
        yield check(place, "prepare", "duct", f"duct of {who} reaches the new face, joints sealed, damper swings free", "yes/no", 1.0, 1.0,
                    "Lengthen it; a duct that ends in the gap wets the wall.", "common practice")  # fmt: skip
    if detail.name == "penetration-hot-vent":
        yield check(place, "prepare", "clear", f"clearance round {who} to sheet, foam and wood, as its listing asks", "mm",
                    round(o.s["hot_clear"] * 1000, 1), None, "Cut back to the listing; set hot_clear in house.yaml and plan again.",
                    detail.sources["hot_clear"], count=4)  # fmt: skip
    if "refix" in steps_there:
        yield check(place, "refix", "squeezed", f"sealant squeezed out all round {who}, screws in framing", "yes/no", 1.0, 1.0,
                    "Off again, more sealant, longer screw or blocking.", "common practice")  # fmt: skip
    if place.sort == "meter":
        yield check(place, "prepare", "reach", f"{who}: seal, dial, shut-off and relief vent free and reachable from the new face",
                    "yes/no", 1.0, 1.0, "Stop; ask the utility.", "utility and gas code; check your local code")  # fmt: skip
    if "flashing" in steps_there:
        yield check(place, "flashing", "drip", f"lip of the head flashing over {who} off the block's face", "in", 0.25, None,
                    "Bend it out; water must drop free.", "common practice: drips 1/4 in off the face below")  # fmt: skip
