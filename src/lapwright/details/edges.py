"""Where the skin ends or turns: base of wall and corners."""

from __future__ import annotations

import math
from collections.abc import Iterator

from lapwright.details.base import (
    PHASE_BARRIER,
    PHASE_BEFORE,
    Check,
    Claim,
    ClearClaim,
    Context,
    Detail,
    LineClaim,
    Piece,
    Place,
    RunClaim,
    Step,
    TieClaim,
)
from lapwright.details.depths import depths_of
from lapwright.details.heat import heat_across
from lapwright.details.runs import left_over
from lapwright.details.shapes import IN, limits_of
from lapwright.details.work import check, face_length, many, of_step, say, step
from lapwright.geometry import box
from lapwright.survey.model import Opening

LIP_PAST_M = 0.375 * IN  # past the face of the siding: common practice, more than the 1/4 in of a drip
LIP_DOWN_M = 1 * IN  # its drip leg, as the catalog's base flashing
BRAKE_M = 120 * IN  # a 10 ft brake: common practice


def _shifted(off: tuple[tuple[float, float], ...], by: float) -> tuple[tuple[float, float], ...]:
    return tuple((a + by, b + by) for a, b in off)


def _flange_m(opening: Opening, ctx: Context) -> float:
    """Return how far a new unit's flange reaches past its opening, 0 where there is none."""
    if opening.state not in ("before", "after"):
        return 0.0
    return ctx.catalog[opening.unit or ("door-unit" if opening.kind == "door" else "window-unit")].number("flange_m") or 0.0


class Base(Detail):
    """Foot of the wall: a strip that ties sheathing to the sill plate, a base flashing with a drip, then the courses."""

    name = "base"
    title = "Base of wall"
    places = (("base", ""),)
    settings = {
        "strip_up": 6 * IN,
        "strip_under": 2 * IN,
        "flashing_up": 3 * IN,
        "flashing_out": 1.5 * IN,
        "lap": 4 * IN,
    }
    sources = dict.fromkeys(settings, "common practice")

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        assert place.line is not None
        s = {k: ctx.setting(self, k) for k in self.settings}
        sheet = ctx.product(place, "barrier", "self-adhered-sheet")
        product = sheet.id if sheet.word("adhesive") else "flashing-tape-9"
        wide = s["strip_up"] if sheet.word("adhesive") else min(s["strip_up"], 9 * IN - s["strip_under"])
        start, end = place.line
        off = tuple(
            (o.box[0] - start[0] - 6 * IN, o.box[2] - start[0] + 6 * IN)
            for o in place.face.openings
            if o.box[1] < start[1] + 12 * IN
        )
        low_sills = tuple(  # a sill strip that hangs down to the foot lies over the flashing, whenever it was set
            f"{place.face.id}/{o.id}/{part}"
            for o in place.face.openings
            if o.box[1] < start[1] + 12 * IN
            for part in ("sill-strip", "corner-film")
        ) + tuple(f"{place.face.id}/{a.id}/lower-strip" for a in place.face.attachments if a.kind == "deck_ledger")
        lip = self._lip(place, ctx, s)
        deep = lip > s["flashing_out"] + 1e-9
        legs = (s["flashing_up"], lip, LIP_DOWN_M)
        runs = list(self._stretches(place, ctx, max(s["strip_up"], s["flashing_up"])))
        for name, a, b in runs:
            yield RunClaim(
                key=f"{place.id}/strip{name}",
                place=place.id,
                role="base-strip",
                layer="strip",
                product=product,
                surface=place.face.id,
                start=a,
                end=b,
                low=0.0,
                high=wide,
                phase=PHASE_BEFORE,
                step=f"{place.id}/strip",
                rank=1,
                legs=(("under", s["strip_under"], 90.0),),
                max_m=(sheet.number("hold_length_m") or 7.6),
                lap_m=s["lap"],
                off=_shifted(off, start[0] - a[0]),
            )
            yield RunClaim(
                key=f"{place.id}/flashing{name}",
                place=place.id,
                role="base-flashing",
                layer="flashing",
                product="coil-stock" if deep else "base-flashing",
                surface=place.face.id,
                start=a,
                end=b,
                low=0.0,
                high=s["flashing_up"],
                phase=PHASE_BARRIER - 10,
                step=f"{place.id}/flashing",
                rank=2,
                held="fastened",
                legs=(("under", lip, 80.0), ("under", LIP_DOWN_M, 80.0)) if deep else (("under", lip, 80.0),),
                max_m=BRAKE_M if deep else None,
                lap_m=4 * IN,
                off=_shifted(off, start[0] - a[0]),
                under=low_sills,
                facts={"slope_deg": 10.0, "drip": True, **({"legs_m": legs} if deep else {})},
            )
        yield ClearClaim(
            place.id,
            place.face.id,
            "barrier",
            box(start[0], start[1], end[0], start[1] + 8 * IN),
            "course",
            3.0,
            "no course lap in the splash at the base",
        )
        if not runs:
            return  # a door takes all of it: its sill is the tie
        yield LineClaim(
            place.id,
            place.face.id,
            "flashing",
            start[1] + s["flashing_up"],
            start[0],
            end[0],
            "top edge of the base flashing",
        )
        zone = f"{place.face.id}/{place.zone.id if place.zone else 'main'}"
        yield TieClaim(
            place.id,
            (zone, "foundation"),
            place.face.id,
            (start, end),
            ("field", *(f"{place.id}/flashing{name}" for name, _, _ in runs)),
            tuple(f"{place.id}/strip{name}" for name, _, _ in runs),
            None,
            None,
        )

    @staticmethod
    def _lip(place: Place, ctx: Context, s: dict[str, float]) -> float:
        """Return how far the metal goes out: its usual leg, or past the new face where foam and furring move that further."""
        face = depths_of(place.assembly, ctx.catalog).face_m
        return max(s["flashing_out"], round((face + LIP_PAST_M) / math.cos(math.radians(10.0)), 6) if face + LIP_PAST_M > s["flashing_out"] + 1e-9 else 0.0)

    @staticmethod
    def _stretches(place: Place, ctx: Context, up: float) -> Iterator[tuple[str, tuple[float, float], tuple[float, float]]]:
        """Yield (name, start, end) of the foot between doors whose sills lie lower than `up` above it; the first has no name.

        It ends beside the flange of a new unit, which reaches down to the foot there.
        """
        assert place.line is not None
        start, end = place.line
        if abs(end[1] - start[1]) > 1e-6:
            yield "", start, end
            return
        doors = [
            (o.box[0] - flange, o.box[2] + flange)
            for o in place.face.openings
            if o.box[1] < start[1] + up - 1e-6
            for flange in [_flange_m(o, ctx)]
        ]
        for n, (a, b) in enumerate(left_over((start[0], end[0]), doors, 1 * IN)):
            yield ("" if n == 0 else f"-{round(a / IN)}"), (a, start[1]), (b, start[1])

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        strip, metal = of_step(pieces, place, "strip"), of_step(pieces, place, "flashing")
        if not strip:
            return
        sheet = ctx.product(place, "barrier", "self-adhered-sheet")
        assert place.line is not None
        torn = (
            (f"{place.face.id}/{place.zone.id}/tear-off/tear-off",)
            if place.zone and place.zone.decision == "remove"
            else ()
        )
        yield step(
            ctx,
            place,
            self.name,
            "strip",
            f"Base strip along the foot of {place.face.id}, {say(ctx, place.line[1][0] - place.line[0][0])} at "
            f"{say(ctx, place.line[0][1])}: on the boards, turned under onto the sill plate; roll.",
            [("strip", face_length(strip))],
            pieces,
            limits=limits_of(sheet),
            needs=torn,
        )
        yield step(
            ctx,
            place,
            self.name,
            "flashing",
            f"Base flashing on {place.face.id}: top edge on its line, lip {say(ctx, self._lip(place, ctx, {'flashing_out': ctx.setting(self, 'flashing_out')}))} out past foundation and siding, lower edge open; "
            f"{many(len([p for p in metal if p.plane == 'face']), 'length')}, 4 in laps in sealant.",
            [("flashing", face_length(metal))],
            pieces,
            needs=("strip",),
        )

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        if not of_step(pieces, place, "flashing"):
            return
        yield check(
            place,
            "flashing",
            "drip",
            f"lip of the base flashing on {place.face.id} off the foundation's face",
            "in",
            0.25,
            None,
            "Bend it out; water must drop free.",
            "common practice: drips 1/4 in off the face below",
            count=3,
        )


class Corner(Detail):
    """Courses run round the corner; no end lap within reach of it."""

    name = "corner-outside"
    title = "Outside corner"
    places = (("corner", "outside"),)
    settings = {"wrap": 12 * IN}
    sources = {"wrap": "common practice: corners wrapped 6-12 in"}
    how = "fold it over the edge without a bubble; roll both sides"

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        assert place.line is not None and place.other is not None
        wrap = ctx.setting(self, "wrap")
        (x, y0), (_, y1) = place.line
        yield ClearClaim(
            place.id, place.face.id, "barrier", box(x - wrap, y0, x, y1), "end", 25.0, "corners are wrapped"
        )
        yield ClearClaim(place.id, place.other.id, "barrier", box(0, y0, wrap, y1), "end", 25.0, "corners are wrapped")
        zone = f"{place.face.id}/{place.zone.id if place.zone else 'main'}"
        other = f"{place.other.id}/{place.other_zone.id if place.other_zone else 'main'}"
        yield TieClaim(place.id, (zone, other), place.face.id, place.line, ("field",), ("field",), None, heat_across(place, ctx))

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        assert place.line is not None and place.other is not None
        height = place.line[1][1] - place.line[0][1]
        yield step(
            ctx,
            place,
            self.name,
            "wrap",
            f"Corner {place.face.id} to {place.other.id}, {say(ctx, height)} high: nail heads in, edge eased; carry each course "
            f"round it, {self.how}.",
            [("strip", height)],
            [],
            needs=tuple(
                f"{face.id}/{zone.id if zone else 'main'}/barrier/prepare"
                for face, zone in ((place.face, place.zone), (place.other, place.other_zone))
            ),
            reason="the courses of both faces run through; their pieces are listed there",
        )

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        assert place.other is not None
        yield check(
            place,
            "wrap",
            "tight",
            f"courses tight round the corner {place.face.id} to {place.other.id}",
            "yes/no",
            1.0,
            1.0,
            "Slit, patch with a strip and roll.",
            "common practice",
            count=2,
        )


class InsideCorner(Corner):
    """As the outside corner; the sheet is pressed into the corner before either side is stuck."""

    name = "corner-inside"
    title = "Inside corner"
    places = (("corner", "inside"),)
    how = "press it into the corner before either side sticks; no bridge of sheet across it"
