"""What covers the wall: tearing off, courses of self-adhered and of fastened sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from lapwright.catalog.rates import courses_task
from lapwright.details.base import (
    Check,
    Claim,
    Context,
    Detail,
    FieldClaim,
    Piece,
    Place,
    Step,
)
from lapwright.details.places import corners_of
from lapwright.details.shapes import IN, limits_of
from lapwright.details.work import check, say, say_area, step


class TearOff(Detail):
    """Old layers off down to the sheathing, never more than can be dried in before rain."""

    name = "tear-off"
    title = "Tear off"
    places = (("tear-off", ""),)

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        assert place.polygon is not None
        area = place.polygon.area - sum(o.polygon.area for o in place.face.openings)
        faces = f"{place.face.id}, zone {place.zone.id if place.zone else 'main'}"
        yield step(
            ctx,
            place,
            self.name,
            "tear-off",
            f"Tear off the old cladding on {faces}, {say_area(ctx, area)}; open no more than can be "
            "dried in before rain. Write down what comes to light.",
            [("tear-off", max(area, 0.1))],
            pieces,
            exposes=(place.id,),
            reason="takes material off; puts none on",
        )

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        yield check(
            place,
            "tear-off",
            "sheathing",
            f"sheathing on {place.face.id}: there, sound, probed at sills and base",
            "yes/no",
            1.0,
            1.0,
            "Repair or brace first; write it in house.yaml under found.",
            "IRC R602.10",
            count=6,
        )


class Courses(Detail):
    """Courses of sheet from the roll, bottom to top, each top edge set to a chalk line."""

    settings = {
        "course_lap": 4 * IN,
        "end_lap": 6 * IN,
        "stagger": 24 * IN,
        "off_openings": 6 * IN,
        "corner": 12 * IN,
    }
    sources = {
        "course_lap": "common practice for self-adhered sheet; IRC R703.2 asks 2 in",
        "end_lap": "IRC R703.2: 6 in",
        "stagger": "common practice",
        "off_openings": "common practice: 6-12 in",
        "corner": "common practice: corners wrapped 6-12 in",
    }
    held = "adhered"
    how = ""

    def figure(self, place: Place, ctx: Context, name: str) -> float:
        """Return a lap: the job's own setting, else the sheet's own figure, else the detail's default."""
        own = ctx.scope.settings.get(self.name, {})
        if name in own:
            return float(own[name])
        sheet = ctx.product(place, "barrier", "self-adhered-sheet").number(f"{name}_m")
        return sheet if sheet is not None else float(self.settings[name])

    def claims(self, place: Place, ctx: Context) -> Iterable[Claim]:
        assert place.polygon is not None
        yield FieldClaim(
            key=place.id,
            place=place.id,
            role="course",
            layer="barrier",
            product=ctx.product(place, "barrier", "self-adhered-sheet").id,
            surface=place.face.id,
            region=place.polygon,
            course_lap_m=self.figure(place, ctx, "course_lap"),
            end_lap_m=self.figure(place, ctx, "end_lap"),
            stagger_m=self.figure(place, ctx, "stagger"),
            off_m=ctx.setting(self, "off_openings"),
            corner_m=ctx.setting(self, "corner"),
            step=f"{place.id}/course",
            held=self.held,  # type: ignore[arg-type]
        )

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        assert place.polygon is not None
        sheet = ctx.product(place, "barrier", "self-adhered-sheet")
        wall = place.polygon.area
        things = len(place.face.openings) + len(place.face.penetrations)
        task = courses_task(things, max(wall, 0.1))
        numbers = sorted({int(p.facts["course"]) for p in pieces})
        before = tuple(
            f"{place.face.id}/{o.id}/head"
            for o in place.face.openings
            if o.state != "after" and place.polygon.intersects(o.polygon)
        )
        first = (
            *before,
            *(f"{place.face.id}/{p.id}/prepare" for p in place.face.penetrations if place.polygon.intersects(p.polygon)),
            *(
                (f"{place.face.id}/{place.zone.id}/tear-off/tear-off",)
                if place.zone and place.zone.decision == "remove"
                else ()
            ),
        )
        base = (f"{place.face.id}/base/strip",)
        yield step(
            ctx,
            place,
            self.name,
            "prepare",
            f"Pull nails, brush and check {place.face.id}: dry, sound, flush; snap {len(numbers)} lines.",
            [("prepare", max(wall, 0.1)), ("lines", 0.1 + place.face.width_m * len(numbers))],
            pieces,
            needs=first,
            reason="prepares the wall and snaps lines; no material",
        )
        last: tuple[str, ...] = ("prepare", *base)
        for n in numbers:
            mine = [p for p in pieces if p.facts["course"] == n]
            area = sum(p.polygon.area for p in mine)
            top = float(mine[0].facts["top_m"])
            tucked = [
                o.id
                for o in place.face.openings
                if o.state != "after" and any(p.polygon.intersects(o.polygon.buffer(0.02)) for p in mine)
            ]
            tuck = f" Tuck it under the loose sill strip of {', '.join(tucked)}; over jambs and head." if tucked else ""
            yield step(
                ctx,
                place,
                self.name,
                f"course-{n}",
                f"Course {n} on {place.face.id}: top edge on the line at {say(ctx, top)}, "
                f"{len(mine)} piece{'s' if len(mine) > 1 else ''}. {self.how}{tuck}",
                [(task, max(area, 0.05))],
                mine,
                needs=last,
                limits=limits_of(sheet),
                covers=(place.id,),
            )
            last = (f"course-{n}",)
        yield step(
            ctx,
            place,
            self.name,
            "done",
            f"Walk {place.face.id} with a camera: laps, edges, every hole; photograph each.",
            [("check", 1.0)],
            [],
            needs=(*last, *(f"{c.id}/wrap" for c in corners_of(place.face, place.zone, ctx))),
            reason="looks and photographs; no material",
        )

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        sheet = ctx.product(place, "barrier", "self-adhered-sheet")
        lap = self.figure(place, ctx, "course_lap")
        yield check(
            place,
            "prepare",
            "moisture",
            f"moisture of the sheathing on {place.face.id}",
            "%",
            None,
            sheet.number("moisture_max_pct") or 19.0,
            "Let it dry before anything sticks to it.",
            "PS 20 (19 %), sheet decides",
            count=6,
        )
        for n in sorted({int(p.facts["course"]) for p in pieces}):
            if n == 1:
                continue
            yield check(
                place,
                f"course-{n}",
                "lap",
                f"lap of course {n} over course {n - 1} on {place.face.id}",
                "mm",
                round(lap * 1000, 1),
                None,
                "Move it up or add a strip under the lap.",
                self.sources["course_lap"],
                count=3,
            )
        yield check(
            place,
            "done",
            "walk-round",
            f"{place.face.id} photographed, every lap rolled, no fishmouths",
            "yes/no",
            1.0,
            1.0,
            "Mend before the gap goes on.",
            "common practice",
        )


class SelfAdheredCourses(Courses):
    """Self-adhered sheet with a split backing."""

    name = "courses-self-adhered"
    title = "Courses of self-adhered sheet"
    places = (("field", "self-adhered"),)
    how = "Upper half of the split backing first, set to the line, then the lower; roll with pressure."


class FastenedCourses(Courses):
    """Sheet held by cap fasteners, laps taped."""

    name = "courses-fastened"
    title = "Courses of fastened sheet"
    places = (("field", "fastened"),)
    held = "fastened"
    how = "Cap fasteners 12 to 18 in apart into studs; tape the laps."
    settings = {**Courses.settings, "course_lap": 6 * IN}
    sources = {**Courses.sources, "course_lap": "common practice; IRC R703.2 asks 2 in"}
