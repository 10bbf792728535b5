"""A rain shelf over a vent's hood: bent metal that throws drips clear of hood and grease.

Everything a plan shows of it comes from this one file: pieces, cuts, laps, order, drawings, steps, checks, tie.
"""

from lapwright.details.base import PHASE_FLASHING, ClearClaim, Part, PieceClaim, SlitClaim, TieClaim
from lapwright.details.penetrations import Duct
from lapwright.details.shapes import IN, below, limits_of, rect_flat
from lapwright.details.work import check, face_length, of_step, say, step
from lapwright.geometry import box


class RainShelf(Duct):
    name = "rain-shelf"  # what house.yaml calls it
    title = "Duct under a rain shelf"
    places = ()  # no place by itself: only where house.yaml names it
    settings = {**Duct.settings, "shelf_above": 12 * IN, "past": 4 * IN, "up": 3 * IN, "out": 5 * IN, "lip": 0.75 * IN}
    sources = {**Duct.sources, **dict.fromkeys(("shelf_above", "past", "up", "out", "lip"), "this crew's practice")}

    def claims(self, place, ctx):
        yield from super().claims(place, ctx)  # the duct itself, as always
        s = {name: ctx.setting(self, name) for name in self.settings}
        face, me = place.face.id, place.id
        left, _, right, top = place.thing.polygon.bounds
        x0, x1, y = left - s["past"], right + s["past"], top + s["shelf_above"]

        # A strip behind the metal: over the course below the bend, under the course above it. There the
        # course is slit, so that it can pass from over to under.
        strip = box(x0 - 2 * IN, y - 4 * IN, x1 + 2 * IN, y + 5 * IN)
        yield PieceClaim(
            key=f"{me}/shelf-strip", place=me, role="shelf-strip", layer="strip", product="self-adhered-sheet",
            parts=(Part(face, "face", strip),), phase=PHASE_FLASHING, rank=1, step=f"{me}/shelf",
            flat=rect_flat(x1 - x0 + 4 * IN, 9 * IN), over_field=below(strip, y),
        )
        yield SlitClaim(me, face, "barrier", (x0 - 2 * IN, y), (x1 + 2 * IN, y))
        yield ClearClaim(me, face, "barrier", box(x0 - 6 * IN, y - 8 * IN, x1 + 6 * IN, y + 8 * IN), "course", 2.0,
                         "no course lap at the shelf")

        # The shelf: one sheet of coil stock, two bends. Its upper leg lies on the strip, under the course.
        wide, deep = x1 - x0, s["lip"] + s["out"]
        bends = (((0, s["lip"]), (wide, s["lip"])), 80.0), (((0, deep), (wide, deep)), 85.0)
        yield PieceClaim(
            key=f"{me}/shelf", place=me, role="rain-shelf", layer="flashing", product="coil-stock",
            parts=(Part(face, "face", box(x0, y, x1, y + s["up"])), Part(face, "under", box(x0, 0, x1, deep))),
            phase=PHASE_FLASHING, rank=2, step=f"{me}/shelf", held="fastened", flat=rect_flat(wide, deep + s["up"]), folds=bends,
            over_field=box(0, 0, 0, 0), over=(f"{me}/shelf-strip",), facts={"slope_deg": 5.0, "drip": True},
        )
        wall = f"{face}/{place.zone.id}"
        yield TieClaim(f"{me}/shelf", (wall, me), face, ((x0, y), (x1, y)), ("field", f"{me}/shelf-strip", f"{me}/shelf"),
                       ("field", f"{me}/shelf-strip"))

    def steps(self, place, ctx, pieces):
        yield from super().steps(place, ctx, pieces)
        metal = [p for p in of_step(pieces, place, "shelf") if p.role == "rain-shelf"]
        yield step(
            ctx, place, self.name, "shelf",
            f"Rain shelf over {place.thing.id}, {say(ctx, face_length(metal))} long: slit the course level, strip over the course "
            "below, metal on the strip, flap of the course down over its leg; ends hemmed up.",
            [("strip", face_length(metal)), ("flashing", face_length(metal))], pieces, needs=("prepare",),
            limits=limits_of(ctx.catalog["self-adhered-sheet"]),
        )

    def checks(self, place, ctx, pieces):
        yield from super().checks(place, ctx, pieces)
        yield check(place, "shelf", "slope", f"slope of the rain shelf over {place.thing.id}, outward", "deg", 5.0, None,
                    "Bend it down.", "this crew's practice")
