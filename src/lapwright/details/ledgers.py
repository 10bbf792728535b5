"""Things fixed flat to the wall: deck ledger, belly band, chimney."""

from __future__ import annotations

from collections.abc import Iterator

from lapwright.details.attach import (
    PROBE,
    attached,
    bounds_box,
    keep_clear,
    run,
    side_strips,
    strip_product,
    zone_id,
)
from lapwright.details.base import (
    PHASE_AFTER,
    PHASE_BEFORE,
    PHASE_CLADDING,
    Check,
    Claim,
    Context,
    Detail,
    HoleClaim,
    Part,
    Piece,
    PieceClaim,
    Place,
    SlitClaim,
    Step,
    TieClaim,
)
from lapwright.details.shapes import IN, limits_of, one
from lapwright.details.work import check, face_length, of_step, say, step
from lapwright.geometry import box, merged


class DeckLedger(Detail):
    """A ledger that stays: strips round it, flashing over it, courses over the flashing and under the lower strip."""

    name = "deck-ledger"
    title = "Deck ledger kept"
    places = (("attachment", "deck_ledger"),)
    settings = {"reach": 6 * IN, "ear_up": 4 * IN, "leg": 1.5 * IN, "flashing_up": 3 * IN, "past": 1 * IN}
    sources = {
        "reach": "IRC R703.2: joints at least 6 in",
        "ear_up": "common practice",
        "leg": "common practice: the ledger's thickness",
        "flashing_up": "common practice, more than the 2 in of IRC R703.2",
        "past": "common practice",
    }

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        item = attached(place)
        s = {k: ctx.setting(self, k) for k in self.settings}
        face, sheet = place.face.id, strip_product(place, ctx)
        x0, x1, top = item.start[0], item.end[0], item.start[1]
        bottom = top - item.depth_m
        outline = place.face.outline.bounds
        left, right = max(x0 - s["reach"], outline[0]), min(x1 + s["reach"], outline[2])
        hang = min(s["reach"], bottom - outline[1])
        for layer in ("barrier", "cladding"):
            yield HoleClaim(place.id, face, layer, box(x0, bottom, x1, top))
        keys = [f"{place.id}/flashing"]
        if hang > 2 * IN:
            # the lower strip hangs from the ledger's underside like a sill strip: courses come in under it
            ears = [box(left, bottom, x0, bottom + s["ear_up"]), box(x1, bottom, right, bottom + s["ear_up"])]
            shape = one(merged([box(left, bottom - hang, right, bottom), *[e for e in ears if e.area > 0]]))
            flat = one(
                box(0, 0, right - left, hang + s["ear_up"]).difference(
                    box(x0 - left, hang + s["leg"], x1 - left, hang + s["ear_up"] + 1)
                )
            )
            fold = (((x0 - left, hang), (x1 - left, hang)), 90.0)
            yield PieceClaim(
                key=f"{place.id}/lower-strip",
                place=place.id,
                role="ledger-strip",
                layer="strip",
                product=sheet,
                parts=(Part(face, "face", shape), Part(face, "under", box(x0, 0, x1, s["leg"]))),
                phase=PHASE_BEFORE,
                step=f"{place.id}/strips",
                rank=10,
                flat=flat,
                folds=(fold,),
                over_field=box(left - 1, bottom - hang - 1, right + 1, bottom),
                facts={"drain": "bottom", "loose_edge": "bottom"},
            )
            for a, b in ((left, x0), (x1, right)):
                if b - a > 1e-3:
                    yield SlitClaim(place.id, face, "barrier", (a, bottom), (b, bottom))
            keys.append(f"{place.id}/lower-strip")
        yield from side_strips(place, ctx, x0, x1, bottom, (top, top), s["reach"], s["leg"], "strips")
        line = ((max(x0 - s["past"], outline[0]), top), (min(x1 + s["past"], outline[2]), top))
        yield run(place, "top-strip", "ledger-strip", "strip", sheet, ((left, top), (right, top)), 0.0, s["reach"], 18, "strips")
        yield run(place, "flashing", "ledger-flashing", "flashing", "head-flashing-metal", line, 0.0, s["flashing_up"], 20, "flashing",
                  (("under", s["leg"] + 0.5 * IN, 85.0), ("under", 0.75 * IN, 85.0)), "fastened", drip=True, slope_deg=5.0)  # fmt: skip
        band = bounds_box(place, x0 - s["reach"], bottom - hang - 2 * IN, x1 + s["reach"], top + s["reach"])
        yield keep_clear(place, band, "no course lap round a ledger")
        sides = (zone_id(place), place.id)
        yield TieClaim(place.id, sides, face, ((x0, top), (x1, top)), ("field", *keys), (f"{place.id}/top-strip",), None, None)

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        item = attached(place)
        wide = item.end[0] - item.start[0]
        sheet = ctx.product(place, "barrier", "self-adhered-sheet")
        yield step(ctx, place, self.name, "strips",
                   f"Round the ledger {item.id}, {say(ctx, wide)} long, top at {say(ctx, item.start[1])}: probe the band behind it; lower strip "
                   "hangs from its underside (leave the lower edge loose), side strips over its ears, top strip over them; roll.",
                   [("strip", face_length(of_step(pieces, place, "strips")))], pieces, limits=limits_of(sheet))  # fmt: skip
        yield step(ctx, place, self.name, "flashing", f"Flashing over the ledger {item.id}: upper leg on the wall under the course to come, "
                   "lip past the ledger's face, ends 1 in past it.",
                   [("flashing", wide)], pieces, needs=("strips",))  # fmt: skip

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        item = attached(place)
        yield check(place, "strips", "rot", f"band behind the ledger {item.id}: probed every 2 ft", "yes/no", 1.0, 1.0,
                    "Soft wood: prop the deck, take the ledger off, repair.", "IRC R703.4; common practice", count=max(2, round((item.end[0] - item.start[0]) / 0.6)))  # fmt: skip
        yield check(place, "flashing", "lip", f"lip of the flashing over {item.id}, past the ledger's face", "in", 0.25, None,
                    "Bend it out.", "common practice", count=3)  # fmt: skip


class BellyBand(Detail):
    """The band comes off, the barrier runs behind it, flashing tucked into a slit over it, band back on over the barrier."""

    name = "belly-band"
    title = "Belly band"
    places = (("attachment", "belly_band"),)
    settings = {"leg_up": 2.5 * IN, "slit_up": 0.375 * IN, "leg_out": 1 * IN, "leg_down": 0.75 * IN}
    sources = dict.fromkeys(settings, "common practice; the leg is 2 in under the barrier (IRC R703.2)")

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        item = attached(place)
        s = {k: ctx.setting(self, k) for k in self.settings}
        face, line = place.face.id, (item.start, item.end)
        (x0, y), (x1, _) = line
        slit = y + s["slit_up"]
        yield SlitClaim(place.id, face, "barrier", (x0, slit), (x1, slit))
        yield run(place, "flashing", "band-flashing", "flashing", "z-flashing", line, 0.0, s["leg_up"], 30, "flashing",
                  (("under", s["leg_out"], 85.0), ("under", s["leg_down"], 85.0)), "fastened", PHASE_AFTER,
                  over_field=box(x0 - 1, y - 1, x1 + 1, slit), drip=True, slope_deg=5.0, lap_over_m=0.0)  # fmt: skip
        yield keep_clear(place, bounds_box(place, x0, y - 2 * IN, x1, y + s["leg_up"] + 2 * IN), "no course lap at a band's flashing")
        yield run(place, "band", "belly-band", "cladding", "belly-band-board", line, -item.depth_m, 0.0, 10, "band", (),
                  "fastened", PHASE_CLADDING, 0.0, None)  # fmt: skip
        yield HoleClaim(place.id, face, "cladding", box(x0, y - item.depth_m, x1, y + 0.375 * IN))
        yield TieClaim(place.id, (zone_id(place), place.id), face, line, ("field", f"{place.id}/flashing"), None, None, None)

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        item = attached(place)
        wide = item.end[0] - item.start[0]
        yield step(ctx, place, self.name, "flashing",
                   f"Slit the course {say(ctx, ctx.setting(self, 'slit_up'))} above the band {item.id} (top at {say(ctx, item.start[1])}); tuck the "
                   "upper leg of the Z flashing 2 in under the flap, roll the flap down; lower edge open.",
                   [("flashing", wide)], pieces, needs=(f"{zone_id(place)}/barrier/done",))  # fmt: skip
        yield step(ctx, place, self.name, "band", f"Band {item.id} back on over barrier and gap, {say(ctx, wide)} in "
                   f"{len(of_step(pieces, place, 'band'))} lengths; joints beveled, backs primed.",
                   [("trim", wide)], pieces, needs=("flashing",))  # fmt: skip

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        item = attached(place)
        yield check(place, "flashing", "tuck", f"leg of the flashing over {item.id} under the flap", "in", 2.0, None,
                    "Slit higher or use a longer leg.", "IRC R703.2", count=3)  # fmt: skip


class Chimney(Detail):
    """Masonry on the wall's face: strips turned onto it, flashing where its top lies on the wall, sealant and backer."""

    name = "chimney-on-wall"
    title = "Chimney on the wall"
    places = (("attachment", "chimney"),)
    settings = {"reach": 6 * IN, "leg": 2 * IN, "flashing_up": 4 * IN}
    sources = {"reach": "IRC R703.2: joints at least 6 in", "leg": "common practice", "flashing_up": "common practice"}

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        item = attached(place)
        assert item.polygon is not None
        s = {k: ctx.setting(self, k) for k in self.settings}
        x0, y0, x1, y1 = item.polygon.bounds
        face = place.face.id
        for layer in ("barrier", "cladding"):
            yield HoleClaim(place.id, face, layer, item.polygon)
        yield from side_strips(place, ctx, x0, x1, y0, (y1, y1), s["reach"], s["leg"], "strips")
        keys = [f"{place.id}/side-strip-left", f"{place.id}/side-strip-right"]
        if y1 < place.face.outline.bounds[3] - 6 * IN:
            sheet = strip_product(place, ctx)
            left, _, right, _ = place.face.outline.bounds
            ends = (max(x0 - s["reach"], left), min(x1 + s["reach"], right))
            yield run(place, "top-strip", "joint-strip", "strip", sheet, ((ends[0], y1), (ends[1], y1)), 0.0, s["reach"], 18, "strips")
            line = ((max(x0 - 1 * IN, left), y1), (min(x1 + 1 * IN, right), y1))
            yield run(place, "flashing", "chimney-flashing", "flashing", "head-flashing-metal", line, 0.0, s["flashing_up"], 20,
                      "flashing", (("under", 2 * IN, 80.0), ("under", 0.75 * IN, 80.0)), "fastened", drip=True, slope_deg=10.0)  # fmt: skip
            keys.append(f"{place.id}/flashing")
        bead = 2 * (y1 - y0)
        edge = one(item.polygon.difference(item.polygon.buffer(-0.01)))
        yield PieceClaim(
            key=f"{place.id}/sealant", place=place.id, role="sealant", layer="sealant", product="sealant",
            parts=(Part(face, "face", edge),), phase=PHASE_AFTER, step=f"{place.id}/sealant", held="sealed",
            quantity=(bead, "m"), facts={"movement": True},
        )  # fmt: skip
        sides = (zone_id(place), place.id)
        yield TieClaim(place.id, sides, face, ((x0, y0), (x0, y1)), ("field", *keys), (*keys[:2], f"{place.id}/sealant"), None, None)

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        item = attached(place)
        assert item.polygon is not None
        _, y0, _, y1 = item.polygon.bounds
        yield step(ctx, place, self.name, "strips", f"Brush and prime the sides of {item.id}, {say(ctx, y1 - y0)} high; strips on the boards, turned "
                   "2 in onto the masonry with a slack fold; roll.",
                   [("strip", face_length(of_step(pieces, place, "strips")))], pieces)  # fmt: skip
        if of_step(pieces, place, "flashing"):
            yield step(ctx, place, self.name, "flashing", f"Flashing over the top of {item.id} on the wall, sloped out, ends 1 in past it, upper leg "
                       "under the course to come.", [("flashing", face_length(of_step(pieces, place, "flashing")))], pieces,
                       needs=("strips",))  # fmt: skip
        yield step(ctx, place, self.name, "sealant", f"Backer rod and sealant between siding and {item.id}, both sides, {say(ctx, 2 * (y1 - y0))}.",
                   [("sealant", 2 * (y1 - y0))], pieces, limits=limits_of(ctx.catalog["sealant"]))  # fmt: skip

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        item = attached(place)
        yield check(place, "strips", "probe", f"boards beside {item.id}: probed, dry", "%", None, 19.0, PROBE, "common practice", count=4)
