"""What comes through the wall: ducts, pipes, cables, bundles, boxes, brackets, meters, hot vents.

Over 2 in: a boot or collar lapped shingle-wise. Under it: grommet or liquid film. Siding dies on a block or
board under its own head flashing. A hot vent keeps sheet and foam off; a meter is never wrapped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import ClassVar

from lapwright.details import penetration_parts as parts
from lapwright.details.base import Check, Claim, Context, Detail, Piece, Place, Step
from lapwright.details.penetration_case import FLAP_M, LEAST_M, Box, Room, Spot, carries, grown, is_round, room
from lapwright.details.penetration_work import penetration_checks, penetration_steps
from lapwright.details.shapes import IN, one
from lapwright.geometry import box
from lapwright.survey.model import Penetration

# Which outside diameters a boot or collar takes, low to high, inches. The upper end of a boot is the outside
# diameter of its largest nominal pipe (ASME B36.10: 1 in is 1.315, 2 in 2.375, 4 in 4.5; from memory); a duct's
# collar takes its own size within the seam; a grommet what its title says.
TAKES: dict[str, tuple[float, float]] = {
    "penetration-boot-1": (0.5, 1.33),
    "penetration-boot-2": (1.33, 2.4),
    "penetration-boot-4": (3.0, 4.55),
    "duct-collar-4": (3.8, 4.25),
    "duct-collar-6": (5.8, 6.25),
    "grommet": (0.15, 0.8),
}


class PenetrationDetail(Detail):
    """What all penetrations share: figures, room, holes, bands without laps, steps and checks."""

    settings = {
        "ear": 4 * IN,
        "hang": 4 * IN,
        "rise": 5 * IN,
        "slit_up": 1 * IN,
        "flange_slit_up": 0.0625 * IN,
        "film_reach": 1 * IN,
        "film_alone": 2 * IN,
        "course_clear": 3 * IN,
        "end_lap_clear": 6 * IN,
        "siding_gap": 0.25 * IN,
        "flashing_leg": 3 * IN,
        "flashing_past": 0.5 * IN,
        "block_past": 1 * IN,
        "apart": 1 * IN,
        "hot_clear": 1 * IN,
    }
    sources = {
        "ear": "common practice, more than the 2 in of IRC R703.2",
        "hang": "common practice, more than the 2 in of IRC R703.2",
        "rise": "common practice: 4 in of flap over the collar, more than the 2 in of IRC R703.2",
        "slit_up": "common practice: the film round the thing stays below the slit",
        "flange_slit_up": "common practice: as close over the thing as the knife can go",
        "film_reach": "common practice: film 1 in onto sheet and onto the thing",
        "film_alone": "common practice, as the 2 in of IRC R703.2",
        "course_clear": "common practice",
        "end_lap_clear": "common practice: side laps 6-12 in off openings",
        "siding_gap": "common practice: 1/4 in joint",
        "flashing_leg": "common practice, more than the 2 in of IRC R703.2",
        "flashing_past": "common practice: past the block on each side",
        "block_past": "common practice",
        "apart": "common practice: cables about 1 in apart so that film flows between them",
        "hot_clear": "from memory: listing of double-wall gas vent, 1 in; the appliance's own listing decides",
    }
    film_coats: ClassVar[int] = 1

    def want(self, spot: Spot) -> Room:
        """Return how far the pieces would like to reach round the thing."""
        s = spot.s
        return Room(s["ear"], s["ear"], s["hang"], s["rise"])

    def spot(self, place: Place, ctx: Context) -> Spot:
        """Return the place's penetration with its room and figures."""
        thing = place.thing
        assert isinstance(thing, Penetration)
        s = {k: ctx.setting(self, k) for k in self.settings}
        bare = Spot(place, ctx, thing, Room(0.0, 0.0, 0.0, 0.0), s)
        return Spot(place, ctx, thing, room(place, ctx, self.want(bare)), s)

    def known(self, place: Place, ctx: Context) -> Spot:
        """Return the place's penetration as `spot` finds it, found once: claims, steps and checks ask for it."""
        return ctx.once(("spot", self.name, place.id), place.face, lambda: self.spot(place, ctx))

    def real(self, place: Place) -> PenetrationDetail:
        """Return the detail that really serves: a hot vent has its own, whatever its sort."""
        thing = place.thing
        assert isinstance(thing, Penetration)
        return HOT if carries(thing.through) == "hot" and place.sort in ("duct", "pipe") else self

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        detail = self.real(place)
        spot = detail.known(place, ctx)
        if place.assembly is None or place.assembly.product("barrier") is None:
            yield from parts.holes(spot, parts.siding_hole(spot), None)
            return
        yield from detail.made(spot)

    def made(self, o: Spot) -> Iterator[Claim]:
        """Yield the claims on a wall that gets a barrier."""
        return iter(())

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterable[Step]:
        detail = self.real(place)
        return penetration_steps(detail, detail.known(place, ctx), pieces)

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterable[Check]:
        detail = self.real(place)
        return penetration_checks(detail, detail.known(place, ctx), pieces)

    def flashed(self, o: Spot, at: Box, thick: float) -> Iterator[Claim]:
        """Yield the head flashing over a block or board, in the joint that the flap opens at its top."""
        yield from parts.head_flashing(o, at[0], at[2], at[3], thick)


def _fitting(o: Spot, names: Iterable[str]) -> str | None:
    """Return the bought part that takes what comes through, or None."""
    if not is_round(o.thing.polygon):
        return None
    wide = max(o.size) / IN
    for name in names:
        low, high = TAKES[name]
        if low - 1e-6 <= wide <= high + 1e-6 and name in o.ctx.catalog:
            return name
    return None


class Collared(PenetrationDetail):
    """One thing through the wall: a bought part where one fits, else a cut collar over 2 in, film up to it."""

    bought: ClassVar[tuple[str, ...]] = ()
    film_up_to: ClassVar[float] = LEAST_M
    holds_on: ClassVar[bool] = False  # its far end cannot be slipped through a collar

    def part(self, o: Spot) -> str | None:
        """Return the bought part, or None."""
        return _fitting(o, self.bought)

    def spot(self, place: Place, ctx: Context) -> Spot:
        found = super().spot(place, ctx)
        name = self.part(found)
        wide = ctx.catalog[name].number("flange_m") if name else None
        return found if wide is None or wide > LEAST_M + 1e-6 else replace(found, flap_m=FLAP_M)

    def want(self, spot: Spot) -> Room:
        name = self.part(spot)
        if name is None:
            return super().want(spot)
        wide = (spot.ctx.catalog[name].number("flange_m") or 3 * IN)
        return Room(wide, wide, wide, wide + 2 * IN)

    def made(self, o: Spot) -> Iterator[Claim]:
        name = self.part(o)
        yield from parts.holes(o, parts.siding_hole(o), o.thing.polygon)
        yield parts.siding_joint(o)
        if name is None and max(o.size) <= self.film_up_to + 1e-6:
            yield from _film_alone(o)
            return
        y = o.slit_at(o.box[3] + o.s["slit_up" if name is None else "flange_slit_up"])
        yield from parts.clears(o, y)
        yield from parts.tight(o, y)
        if name is not None:
            wide = o.ctx.catalog[name].number("flange_m") or 3 * IN
            x0, y0, x1, y1 = o.box
            at = (x0 - wide, y0 - wide, x1 + wide, y1 + wide)
            yield from parts.flange(o, name, at, y)
            yield parts.tie(o, ("field", o.key("collar")), (o.key("collar"), o.key("bed")))
        else:
            yield from parts.cut_collar(o, grown(o.box, o.room), y, self.holds_on)
            yield parts.tie(o, ("field", o.key("collar"), o.key("seal")), (o.key("collar"), o.key("seal")))


def _film_alone(o: Spot) -> Iterator[Claim]:
    """Yield film round a small thing, 2 in onto the course and up the thing itself."""
    r = o.s["film_alone"]
    x0, y0, x1, y1 = o.box
    yield from parts.clears(o, y1)
    ring = one(o.thing.polygon.buffer(r).intersection(o.field(x0 - r, y0 - r, x1 + r, y1 + r)))
    yield parts.film(o, "film", "penetration-film", ring, 10, "film", None, 1.5)
    yield parts.tie(o, ("field", o.key("film")), (o.key("film"),))


class Duct(Collared):
    """Duct: a duct collar of its size, else a collar cut from the sheet; the duct goes on to the new face."""

    name = "penetration-duct"
    title = "Duct through the wall"
    places = (("penetration", "duct"),)
    bought = ("duct-collar-4", "duct-collar-6")
    film_up_to = 0.0


class Pipe(Collared):
    """Pipe: a boot of its size, else a cut collar over 2 in and film under it."""

    name = "penetration-pipe"
    title = "Pipe through the wall"
    places = (("penetration", "pipe"),)
    bought = ("penetration-boot-1", "penetration-boot-2", "penetration-boot-4")


class Cable(Collared):
    """Cable: a grommet where it fits, else film; a drip loop outside."""

    name = "penetration-cable"
    title = "Cable through the wall"
    places = (("penetration", "cable"),)
    bought = ("grommet",)
    holds_on = True


class Bundle(PenetrationDetail):
    """Cables or lines that come through together: spread first, backing between them, film in two coats."""

    name = "penetration-bundle"
    title = "Bundle of cables or lines"
    places = (("penetration", "bundle"),)
    film_coats = 2

    def want(self, spot: Spot) -> Room:
        r = spot.s["film_alone"] + spot.s["apart"]
        return Room(r, r, r, r)

    def made(self, o: Spot) -> Iterator[Claim]:
        yield from parts.holes(o, parts.siding_hole(o), o.thing.polygon)
        yield from parts.clears(o, o.box[3])
        x0, y0, x1, y1 = grown(o.box, o.room)
        area = one(o.field(x0, y0, x1, y1).union(o.thing.polygon))
        backing = 2 * (o.size[0] + o.size[1])
        yield o.piece("backing", "backing", "sealant", "backer-rod", [o.thing.polygon], 5, "backing", held="loose",
                      quantity=(backing, "m"))  # fmt: skip
        for n in (1, 2):
            yield parts.film(o, f"coat-{n}", "penetration-film", area, 10 * n, f"coat-{n}", None, 1.25)
        yield parts.siding_joint(o)
        keys = (o.key("coat-1"), o.key("coat-2"))
        yield parts.tie(o, ("field", *keys), keys)


class DeviceBox(PenetrationDetail):
    """Box for a light or an outlet: a flange under the flap, a mounting block the siding dies on, head flashing over it."""

    name = "penetration-box"
    title = "Box for a light or an outlet"
    places = (("penetration", "box"),)

    def block_box(self, o: Spot) -> Box:
        """Return the outer edges of the block or frame."""
        x0, y0, x1, y1 = o.box
        mid_x, mid_y, past = (x0 + x1) / 2, (y0 + y1) / 2, o.s["block_past"]
        stock = o.ctx.catalog["mounting-block"]
        wide, high = stock.number("width_m") or 8 * IN, stock.number("height_m") or 8 * IN
        if max(o.size) + 2 * past <= min(wide, high) + 1e-6:
            return mid_x - wide / 2, mid_y - high / 2, mid_x + wide / 2, mid_y + high / 2
        board = o.ctx.catalog["trim-1x4"].needed("width_m")
        return x0 - board, y0 - board, x1 + board, y1 + board

    def bought_flange(self, o: Spot) -> Box | None:
        """Return the outer edges of a bought box flange, or None when the box is larger than it takes."""
        stock = o.ctx.catalog["box-flange"]
        wide, high = stock.number("width_m") or 0.0, stock.number("height_m") or 0.0
        if o.size[0] > wide + 1e-4 or o.size[1] > high + 1e-4:
            return None
        x0, y0, x1, y1 = o.box
        mid_x, mid_y, rim = (x0 + x1) / 2, (y0 + y1) / 2, stock.number("flange_m") or 3 * IN
        return mid_x - wide / 2 - rim, mid_y - high / 2 - rim, mid_x + wide / 2 + rim, mid_y + high / 2 + rim

    def want(self, spot: Spot) -> Room:
        x0, y0, x1, y1 = spot.box
        a0, b0, _, b1 = self.block_box(spot)
        up = b1 - y1 + spot.s["flashing_leg"]
        rim = self.bought_flange(spot)
        if rim is not None:
            return Room(x0 - rim[0], rim[2] - x1, y0 - rim[1], max(up, rim[3] - y1 + 1.5 * IN))
        side = max(spot.s["ear"], x0 - a0 + 1 * IN)
        return Room(side, side, max(spot.s["hang"], y0 - b0 + 1 * IN), up)

    def made(self, o: Spot) -> Iterator[Claim]:
        at = self.block_box(o)
        yield from parts.holes(o, box(*at), o.thing.polygon)
        y = o.slit_at(at[3])
        yield from parts.clears(o, y)
        yield from parts.tight(o, y)
        if not o.tucked(y):  # no room over the block: at least the collar goes under a flap
            y = o.slit_at(o.box[3] + o.s["slit_up"])
        rim = self.bought_flange(o)
        if rim is not None:
            yield from parts.flange(o, "box-flange", rim, y)
            yield parts.tie(o, ("field", o.key("collar")), (o.key("collar"), o.key("bed")))
        else:
            yield from parts.cut_collar(o, grown(o.box, o.room), y, True)
            yield parts.tie(o, ("field", o.key("collar"), o.key("seal")), (o.key("collar"), o.key("seal")))
        stock = o.ctx.catalog["mounting-block"]
        if at[2] - at[0] <= (stock.number("width_m") or 8 * IN) + 1e-6:
            yield from parts.block(o, at)
            thick = stock.number("thickness_m") or 1.5 * IN
        else:
            yield from parts.frame(o, at)
            thick = o.ctx.catalog["trim-1x4"].number("thickness_m") or 0.75 * IN
        yield from self.flashed(o, at, thick)


class Bracket(PenetrationDetail):
    """Bracket taken off and fixed again through sealant on the barrier, after the courses; they run behind it."""

    name = "penetration-bracket"
    title = "Bracket, taken off and refixed"
    places = (("penetration", "bracket"),)

    def want(self, spot: Spot) -> Room:
        return Room(0.0, 0.0, 0.0, 0.0)

    def made(self, o: Spot) -> Iterator[Claim]:
        yield from parts.holes(o, parts.siding_hole(o), None)
        yield from parts.clears(o, o.box[3])
        yield o.piece("bed", "bedding", "sealant", "sealant", [o.thing.polygon], 10, "refix", held="sealed",
                      quantity=(o.thing.polygon.length, "m"), drain="bottom")  # fmt: skip
        yield parts.siding_joint(o)
        yield parts.tie(o, ("field", o.key("bed")), ("field", o.key("bed")))


class BracketKept(Collared):
    """Bracket that stays: the courses are cut round it; film, or a collar where it is larger than 2 in."""

    name = "penetration-bracket-kept"
    title = "Bracket that stays"
    holds_on = True


class Meter(DeviceBox):
    """Meter that stays on the wall: never wrapped; the barrier is cut round it, boards round it under a head flashing."""

    name = "penetration-meter"
    title = "Meter, cut round"
    places = (("penetration", "meter"),)

    def block_box(self, o: Spot) -> Box:
        x0, y0, x1, y1 = o.box
        wide = o.ctx.catalog["trim-1x4"].needed("width_m")
        return x0 - wide, y0 - wide, x1 + wide, y1 + wide

    def bought_flange(self, o: Spot) -> Box | None:
        return None

    def made(self, o: Spot) -> Iterator[Claim]:
        yield from super().made(o)
        yield parts.siding_joint(o)


class MeterReleased(PenetrationDetail):
    """Meter that the utility takes off and sets again: the barrier runs behind, a mounting board on it, head flashing."""

    name = "penetration-meter-released"
    title = "Meter, taken off by the utility"
    places: ClassVar[tuple[tuple[str, str], ...]] = ()

    def board_box(self, o: Spot) -> Box:
        """Return the outer edges of the mounting board."""
        x0, y0, x1, y1 = o.box
        past = o.s["block_past"]
        return x0 - past, y0 - past, x1 + past, y1 + past

    def want(self, spot: Spot) -> Room:
        past = spot.s["block_past"]
        return Room(past + LEAST_M, past + LEAST_M, past + LEAST_M, past + spot.s["flashing_leg"])

    def made(self, o: Spot) -> Iterator[Claim]:
        at = self.board_box(o)
        yield from parts.holes(o, box(*at), None)
        yield from parts.clears(o, at[3])
        yield from parts.tight(o, o.slit_at(at[3]), board=True)
        yield o.piece("bed", "bedding", "sealant", "sealant", [o.thing.polygon], 10, "block", held="sealed",
                      quantity=(o.thing.polygon.length, "m"), drain="bottom")  # fmt: skip
        yield from parts.board(o, at)
        yield from self.flashed(o, at, o.ctx.catalog["trim-1x6"].number("thickness_m") or 0.75 * IN)
        yield parts.tie(o, ("field", o.key("head-flashing")), ("field", o.key("bed")))


class HotVent(PenetrationDetail):
    """Flue or other hot vent: sheet, foam and siding stay off it by its listing; a metal plate closes the ring."""

    name = "penetration-hot-vent"
    title = "Hot vent through the wall"
    places: ClassVar[tuple[tuple[str, str], ...]] = ()

    def want(self, spot: Spot) -> Room:
        s = spot.s
        off = s["hot_clear"]
        return Room(s["ear"] + off, s["ear"] + off, s["hang"] + off, s["rise"] + off)

    def known(self, place: Place, ctx: Context) -> Spot:
        """Return the place's penetration as `spot` finds it, found once: claims, steps and checks ask for it."""
        return ctx.once(("spot", self.name, place.id), place.face, lambda: self.spot(place, ctx))

    def real(self, place: Place) -> PenetrationDetail:
        return self

    def made(self, o: Spot) -> Iterator[Claim]:
        off = o.s["hot_clear"]
        free = o.thing.polygon.buffer(off)
        yield from parts.holes(o, free, free)
        y = o.slit_at(o.box[3] + off + o.s["flange_slit_up"])
        yield from parts.clears(o, y)
        yield from parts.tight(o, y)
        yield from parts.metal_plate(o, grown(o.box, o.room), y)
        yield parts.tie(o, ("field", o.key("collar")), (o.key("collar"), o.key("bed"), o.key("seal")))


HOT = HotVent()
PENETRATIONS: tuple[Detail, ...] = (
    Duct(), Pipe(), Cable(), Bundle(), DeviceBox(), Bracket(), BracketKept(), Meter(), MeterReleased(), HOT,
)  # fmt: skip
