"""New above old cladding, and new below it: what is above goes over what is below, and ends outside it."""

from __future__ import annotations

from collections.abc import Iterator

from shapely import Polygon

from lapwright.details.base import Check, Claim, ClearClaim, Context, Piece, Place, RunClaim, SlitClaim, Step
from lapwright.details.boundary import PHASE_METAL, PHASE_TUCK, Boundary, depth, felt_key, neighbors
from lapwright.details.runs import free_runs, inside_of, opening_shapes, strip_product, wall_of
from lapwright.details.shapes import IN, limits_of
from lapwright.details.work import check, face_length, many, of_step, say, step
from lapwright.findings import Finding, Where
from lapwright.geometry import Point, box, quad

SHOW_M = 0.25 * IN  # of the flashing's upper leg that a mending strip leaves bare; common practice
CUT_ABOVE_M = 1 * IN  # a slit lies this far above the strip's upper edge, so that the strip stays whole; common practice


def along_up(point: Point, by: float) -> Point:
    """Return the point that much higher."""
    return point[0], point[1] + by


def _thickness(place: Place, ctx: Context, default: float) -> tuple[float, bool]:
    """Return (thickness of the kept cladding, whether the job says it), in metres."""
    zone = place.other_zone
    assembly = ctx.scope.assemblies.get(zone.assembly) if zone is not None and zone.assembly else None
    for layer in assembly.layers if assembly else ():
        if layer.layer == "cladding" and layer.thickness_m:
            return layer.thickness_m, True
    return default, False


class OldBelow(Boundary):
    """New above old: a z-flashing whose lip ends outside the face of the old cladding, courses over its upper leg."""

    name = "boundary-below"
    title = "New above old cladding"
    places = (("boundary", "below"),)
    old_at = "above the old cladding"

    def _joint(self, place: Place, ctx: Context, s: dict[str, float]) -> Iterator[Claim]:
        assert place.line is not None
        tuck = min(s["tuck"], depth(place, s["tuck"]))
        yield from self._felt(place, ctx)
        over, under = neighbors(place, ctx)
        yield from self._strip(place, ctx, s, -tuck, s["reach"], Polygon(), under, over)
        thick, given = _thickness(place, ctx, s["old_cladding"])
        out = thick + s["drip"]
        metal = ctx.catalog["z-flashing"]
        up, down = metal.number("leg_up_m") or 2.5 * IN, metal.number("leg_down_m") or 0.75 * IN
        bent = out <= (metal.number("leg_out_m") or 0.0) + 1e-9
        wrong = place.other_zone is not None and "top" in place.other_zone.wrong_laps
        product = metal if bent else ctx.catalog["coil-stock"]
        for n, line in enumerate(free_runs(place.line, 0.0, up, inside_of(place), opening_shapes(place))):
            yield RunClaim(
                key=f"{place.id}/flashing{'' if n == 0 else f'-{n + 1}'}",
                place=place.id,
                role="z-flashing",
                layer="flashing",
                product=product.id,
                surface=place.face.id,
                start=line[0],
                end=line[1],
                low=0.0,
                high=up,
                phase=PHASE_METAL,
                step=f"{place.id}/flashing",
                rank=2,
                held="fastened",
                legs=(("under", metal.number("leg_out_m") or out if bent else out, 80.0), ("under", down, 80.0)),
                max_m=product.number("brake_length_m"),
                lap_m=product.number("lap_m") or 4 * IN,
                over_field=quad(*line, 0.0, up) if wrong else Polygon(),  # wrong: the course went in behind the leg
                facts={
                    "slope_deg": 10.0,
                    "drip": True,
                    "end_dams": True,
                    "ends_outside": "old cladding",
                    "old_cladding_m": thick,
                },
            )
        if not given:
            yield Finding(
                "boundary.thickness",
                "note",
                f"The thickness of the old cladding below {place.id} is not given; {say(ctx, thick)} is taken.",
                "The lip of the flashing must end outside its face, or water runs behind it.",
                "Give the kept zone an assembly with its cladding's thickness, or measure before bending.",
                Where(ctx.survey.file, place.where.line, place.face.id, place.id, *place.line[0]),
                "IRC R703.1.1",
            )
        (x0, y0), (x1, y1) = place.line
        if wrong and place.other_zone is not None and "top" in place.other_zone.cut_in:
            yield from self._cut_in(place, ctx, s, up)
        yield ClearClaim(
            place.id, place.face.id, "barrier", box(x0, min(y0, y1), x1, max(y0, y1) + s["course_clear"]), "course", 2.0,
            "no course lap behind the flashing's leg",
        )  # fmt: skip
        yield self._tie(place, ("field", f"{place.id}/flashing"), ("field", f"{place.id}/strip"))

    def _cut_in(self, place: Place, ctx: Context, s: dict[str, float], up: float) -> Iterator[Claim]:
        """Yield the mend of a course that went in behind the leg: a slit above the strip, a strip from it over the leg."""
        assert place.line is not None
        low, slit, high = SHOW_M, s["reach"] + CUT_ABOVE_M, s["reach"] + CUT_ABOVE_M + s["tuck"]
        product = strip_product(place, ctx, high - low)
        for n, line in enumerate(free_runs(place.line, low, high, inside_of(place), opening_shapes(place))):
            yield SlitClaim(place.id, place.face.id, "barrier", along_up(line[0], slit), along_up(line[1], slit))
            yield RunClaim(
                key=f"{place.id}/cut-in{'' if n == 0 else f'-{n + 1}'}",
                place=place.id,
                role="cut-in-strip",
                layer="strip",
                product=product.id,
                surface=place.face.id,
                start=line[0],
                end=line[1],
                low=low,
                high=high,
                phase=PHASE_TUCK,
                step=f"{place.id}/cut-in",
                rank=60 + n,
                max_m=product.number("hold_length_m"),
                lap_m=s["lap"],
                over_field=quad(*line, low, slit),
                facts={"movement": True, "slack_m": s["slack"]},
            )

    def _work(self, place: Place, ctx: Context, pieces: list[Piece], at: str, needs: tuple[str, ...]) -> Iterator[Step]:
        yield self._strip_step(
            place,
            ctx,
            pieces,
            f"Strip along {at}: half on the boards, half down behind the old cladding, over its felt",
            needs,
        )
        metal = of_step(pieces, place, "flashing")
        if metal:
            yield step(
                ctx,
                place,
                self.name,
                "flashing",
                f"Z flashing along {at}: upper leg on the strip, lip out past the face of the old cladding and down, lower edge "
                f"open; {many(len([p for p in metal if p.plane == 'face']), 'length')}, laps in sealant. The course goes over its upper leg.",
                [("flashing", face_length(metal))],
                pieces,
                needs=("strip",),
            )
        mend = of_step(pieces, place, "cut-in")
        if mend:
            yield step(
                ctx,
                place,
                self.name,
                "cut-in",
                f"Mend the lap along {at}: slit the course level above the strip, tuck the new strip up into the slit and bring it "
                "down over the flashing's upper leg; roll; leave the lip bare.",
                [("strip", face_length(mend))],
                pieces,
                needs=("flashing", f"{wall_of(place)}/barrier/done"),
                limits=limits_of(ctx.catalog[mend[0].product or ""]),
            )

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        yield from super().checks(place, ctx, pieces)
        if of_step(pieces, place, "flashing"):
            yield check(
                place,
                "flashing",
                "drip",
                f"lip of the flashing off the face of the old cladding on {place.face.id}",
                "in",
                0.25,
                None,
                "Bend a longer lip: water must end outside the old cladding.",
                "IRC R703.1.1; drip 1/4 in, common practice",
                count=3,
            )

    def _lap(self, place: Place, pieces: list[Piece], tuck: float) -> float:
        return min(tuck, depth(place, tuck))


class OldAbove(Boundary):
    """Old above new: a strip over the last course, tucked up behind the lowest old course, under the old felt."""

    name = "boundary-above"
    title = "New below old cladding"
    places = (("boundary", "above"),)
    old_at = "below the old cladding"
    strip_phase = PHASE_TUCK

    def _joint(self, place: Place, ctx: Context, s: dict[str, float]) -> Iterator[Claim]:
        assert place.line is not None
        yield from self._felt(place, ctx)
        tuck = depth(place, s["tuck"])
        over, under = neighbors(place, ctx)
        if place.other_zone is not None:
            under = (*under, felt_key(place.face, place.other_zone))
            if "bottom" in place.other_zone.wrong_laps:  # it went on over the old felt
                under, over = under[:-1], (*over, under[-1])
        yield from self._strip(place, ctx, s, -s["reach"], tuck, None, under, over)
        (x0, y0), (x1, y1) = place.line
        yield ClearClaim(
            place.id, place.face.id, "barrier", box(x0, max(y0, y1) - s["reach"], x1, max(y0, y1)), "course", 2.0,
            "no course lap below the old cladding",
        )  # fmt: skip
        yield self._tie(place, ("field", f"{place.id}/strip"), ("field", f"{place.id}/strip"))

    def _work(self, place: Place, ctx: Context, pieces: list[Piece], at: str, needs: tuple[str, ...]) -> Iterator[Step]:
        text = (
            f"Strip along {at}: up behind the lowest old course and under its felt, lower half over the last new course; "
            "the old felt hangs over it"
        )
        yield self._strip_step(place, ctx, pieces, text, (*needs, f"{wall_of(place)}/barrier/done"))

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        yield from super().checks(place, ctx, pieces)
        if of_step(pieces, place, "strip"):
            yield check(
                place,
                "strip",
                "felt-over",
                f"old felt hangs over the new strip on {place.face.id}",
                "in",
                2.0,
                None,
                "Take off one more old course, or lap a piece of felt from under the next sound lap.",
                "IRC R703.2",
                count=3,
            )

    def _lap(self, place: Place, pieces: list[Piece], tuck: float) -> float:
        return depth(place, tuck)
