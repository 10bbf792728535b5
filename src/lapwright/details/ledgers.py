"""Things fixed flat to the wall: deck ledger, belly band, chimney."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from shapely import Polygon

from lapwright.details.attach import (
    PROBE,
    attached,
    bounds_box,
    cut_out,
    interrupted,
    keep_clear,
    keys,
    past_ends,
    ranked,
    runs,
    strip_product,
    upright,
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
    RunClaim,
    SlitClaim,
    Step,
    TieClaim,
)
from lapwright.details.heat import heat_at, heat_cut
from lapwright.details.runs import free_runs, inside_of, opening_shapes, torn_off, wall_of
from lapwright.details.shapes import IN, limits_of, one
from lapwright.details.work import check, face_length, many, of_step, say, step
from lapwright.findings import Finding, Where
from lapwright.geometry import box, merged

PROBE_EVERY_M = 0.6  # a ledger's band is probed every 2 ft: common practice
TWO_IN = 2 * IN


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
        face = place.face.id
        x0, x1, top = item.start[0], item.end[0], item.start[1]
        bottom = top - item.depth_m
        outline = place.face.outline.bounds
        left, right = max(x0 - s["reach"], outline[0]), min(x1 + s["reach"], outline[2])
        yield HoleClaim(place.id, face, "cladding", box(x0, bottom, x1, top))
        if place.assembly is None or place.assembly.product("barrier") is None:
            return
        yield from cut_out(place, box(x0, bottom, x1, top))
        hang = min(s["reach"], bottom - outline[1])
        sides = (wall_of(place), place.id)
        if hang > TWO_IN:
            key, lower = f"{place.id}/lower-strip", self._lower(place, ctx, s, left, right, bottom, hang)
            if lower is not None:
                yield lower
                for a, b in ((left, x0), (x1, right)):
                    if b - a > 1e-3:
                        yield SlitClaim(place.id, face, "barrier", (a, bottom), (b, bottom))
                yield TieClaim(f"{place.id}/below", sides, face, ((x0, bottom), (x1, bottom)), ("field", key), (key,), None, heat_cut(place))
        for side, x, rank in (("left", x0, 12), ("right", x1, 13)):
            mine = upright(place, ctx, side, x, bottom, top, s["reach"], s["leg"], "strips", rank)
            yield from mine
            if mine:
                yield TieClaim(f"{place.id}/{side}", sides, face, ((x, bottom), (x, top)), ("field", *keys(mine)), keys(mine), None, heat_cut(place))
        a, b = max(x0 - s["past"], outline[0]), min(x1 + s["past"], outline[2])
        sheet = strip_product(place, ctx, s["reach"]).id
        strip = runs(place, ctx, "top-strip", "ledger-strip", "strip", sheet, ((left, top), (right, top)), s["reach"], 18, "strips")
        cuts, over = past_ends(place, ((a, x0), (x1, b)), top)
        metal = runs(place, ctx, "flashing", "ledger-flashing", "flashing", "head-flashing-metal", ((a, top), (b, top)),
                     s["flashing_up"], 20, "flashing", (("under", s["leg"] + 0.5 * IN, 85.0), ("under", 0.75 * IN, 85.0)), "fastened",
                     over_field=over, drip=True, slope_deg=5.0, lap_over_m=0.0)  # fmt: skip
        yield from strip
        yield from metal
        yield from interrupted(place, ctx, ((x0, top), (x1, top)), metal, "flashing")
        yield from cuts  # past the ledger the metal comes out through a slit
        band = bounds_box(place, x0 - s["reach"], bottom - hang - TWO_IN, x1 + s["reach"], top + s["reach"])
        yield keep_clear(place, band, "no course lap round a ledger")
        yield TieClaim(place.id, sides, face, ((x0, top), (x1, top)), ("field", *keys(metal)), keys(strip), None, heat_cut(place))
        yield Finding(
            "ledger.cut_round", "note", f"The barrier is cut to the ledger {item.id}: its sides rely on glue.",
            "It should run behind a ledger (IRC R703.2, 2024); behind a kept one nobody can put it.",
            "Accept it with flashing over it and the band probed, or take the ledger off: decision: remove.",
            Where(ctx.survey.file, item.where.line, face, item.id, x0, top), "IRC R703.2 (2024), R703.4; check your local code",
        )  # fmt: skip

    def _lower(
        self, place: Place, ctx: Context, s: dict[str, float], left: float, right: float, bottom: float, hang: float
    ) -> PieceClaim | None:
        """Return the lower strip: it hangs from the ledger's underside like a sill strip; courses come in under it."""
        item, face = attached(place), place.face.id
        x0, x1, up = item.start[0], item.end[0], min(s["ear_up"], item.depth_m)
        ears = [box(left, bottom, x0, bottom + up), box(x1, bottom, right, bottom + up)]
        shape = merged([box(left, bottom - hang, right, bottom), *[e for e in ears if e.area > 0]]).intersection(inside_of(place))
        for blocked in opening_shapes(place):
            shape = shape.difference(blocked)
        area = one(shape)
        if area.area < (x1 - x0) * TWO_IN / 2:
            return None
        low_x, low_y = area.bounds[0], area.bounds[1]
        moved = [(x - low_x, y - low_y) for x, y, *_ in area.exterior.coords]
        turned = box(x0 - low_x, bottom - low_y, x1 - low_x, bottom - low_y + s["leg"])
        flat = one(merged([Polygon(moved), turned]))
        fold = (((x0 - low_x, bottom - low_y), (x1 - low_x, bottom - low_y)), 90.0)
        return PieceClaim(
            key=f"{place.id}/lower-strip", place=place.id, role="ledger-strip", layer="strip",
            product=strip_product(place, ctx, hang + up).id,
            parts=(Part(face, "face", area), Part(face, "under", box(x0, 0, x1, s["leg"]))), phase=PHASE_BEFORE,
            step=f"{place.id}/strips", rank=ranked(10), flat=flat, folds=(fold,),
            over_field=box(left - 1, bottom - hang - 1, right + 1, bottom), facts={"drain": "bottom", "loose_edge": "bottom"},
        )  # fmt: skip

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        item = attached(place)
        wide = item.end[0] - item.start[0]
        sheet = ctx.product(place, "barrier", "self-adhered-sheet")
        if not pieces:
            return
        yield step(ctx, place, self.name, "strips",
                   f"Round the ledger {item.id}, {say(ctx, wide)} long, top at {say(ctx, item.start[1])}: probe the band behind it; lower strip "
                   "hangs from its underside (leave the lower edge loose), side strips over its ears and turned onto the ledger's ends, "
                   "top strip over them; roll.",
                   [("strip", max(face_length(of_step(pieces, place, "strips")), 0.1))], pieces, torn_off(place), limits_of(sheet))  # fmt: skip
        if of_step(pieces, place, "flashing"):
            yield step(ctx, place, self.name, "flashing", f"Flashing over the ledger {item.id}: upper leg on the wall under the course to "
                       f"come, lip past the ledger's face, ends {say(ctx, ctx.setting(self, 'past'))} past it; old bolts sealed.",
                       [("flashing", wide)], pieces, ("strips",))  # fmt: skip

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        item = attached(place)
        if not pieces:
            return
        yield check(place, "strips", "rot", f"band behind the ledger {item.id}: probed every 2 ft", "yes/no", 1.0, 1.0,
                    "Soft wood: stop, prop the deck, take the ledger off, repair.", "IRC R703.4; common practice",
                    count=max(2, round((item.end[0] - item.start[0]) / PROBE_EVERY_M)))  # fmt: skip
        yield check(place, "strips", "glue", f"strips at the ends of {item.id} stuck over their whole height, 1 in past every edge",
                    "yes/no", 1.0, 1.0, "They rely on glue: dry, prime, roll again.", "common practice: 1 in past the edge", count=2)  # fmt: skip
        if of_step(pieces, place, "flashing"):
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
        board = ctx.catalog["belly-band-board"]
        wide = board.needed("width_m")
        boards: list[RunClaim] = []
        metal: list[RunClaim] = []
        wrapped = place.assembly is not None and place.assembly.product("barrier") is not None
        for (x0, y), (x1, _) in free_runs(line, -item.depth_m, s["leg_up"], inside_of(place), opening_shapes(place)):
            part = ((x0, y), (x1, y))
            yield HoleClaim(place.id, face, "cladding", box(x0, y - item.depth_m, x1, y + 0.375 * IN))
            under = ((x1, y), (x0, y))  # a run lies to the left of its line: from right to left it hangs below it
            for made in runs(place, ctx, "band", "belly-band", "cladding", board.id, under, item.depth_m, 10, "band", (), "fastened",
                             PHASE_CLADDING, 0.0, None, fit=False):  # fmt: skip
                boards.append(_named(made, "band", len(boards)))
            if not wrapped:
                continue
            slit = y + s["slit_up"]
            yield SlitClaim(place.id, face, "barrier", (x0, slit), (x1, slit))
            for made in runs(place, ctx, "flashing", "band-flashing", "flashing", "z-flashing", part, s["leg_up"], 30, "flashing",
                             (("under", s["leg_out"], 85.0), ("under", s["leg_down"], 85.0)), "fastened", PHASE_AFTER,
                             over_field=box(x0 - 1, y - 1, x1 + 1, slit), fit=False, drip=True, slope_deg=5.0, lap_over_m=0.0):  # fmt: skip
                metal.append(_named(made, "flashing", len(metal)))
            yield keep_clear(place, bounds_box(place, x0, y - TWO_IN, x1, y + s["leg_up"] + TWO_IN), "no course lap at a band's flashing")
        yield from metal
        yield from boards
        if metal:
            yield TieClaim(place.id, (wall_of(place), place.id), face, line, ("field", *keys(metal)), ("field",), None, heat_at(place))
        if item.depth_m > wide + 1e-4:
            yield Finding(
                "band.wide", "warn", f"The band {item.id} is {item.depth_m / IN:.2f} in high; the board in the catalog is {wide / IN:.2f} in.",
                "It cannot be cut from one board.", "Write the board's width in catalog.yaml under belly-band-board, or two boards.",
                Where(ctx.survey.file, item.where.line, face, item.id, item.start[0], item.start[1]), "common practice",
            )  # fmt: skip

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        item = attached(place)
        wide = item.end[0] - item.start[0]
        last: tuple[str, ...] = (f"{wall_of(place)}/barrier/done",)
        if of_step(pieces, place, "flashing"):
            yield step(ctx, place, self.name, "flashing",
                       f"The band {item.id} is off and the barrier runs behind it. Slit the course {say(ctx, ctx.setting(self, 'slit_up'))} above "
                       f"its top ({say(ctx, item.start[1])}); tuck the upper leg of the Z flashing 2 in under the flap, roll the flap down; "
                       "lower edge open.", [("flashing", wide)], pieces, last)  # fmt: skip
            last = ("flashing",)
        count = len(of_step(pieces, place, "band"))
        if count:
            yield step(ctx, place, self.name, "band", f"{item.id.capitalize() if item.id.lower().endswith('band') else 'Band ' + item.id} back on over barrier and gap, {say(ctx, wide)} in "
                       f"{count} length{'s' if count > 1 else ''}; joints beveled, backs primed.", [("trim", wide)], pieces, last)  # fmt: skip

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        item = attached(place)
        if of_step(pieces, place, "flashing"):
            yield check(place, "flashing", "tuck", f"leg of the flashing over {item.id} under the flap", "in", 2.0, None,
                        "Slit higher or use a longer leg.", "IRC R703.2", count=3)  # fmt: skip


def _named(made: RunClaim, name: str, n: int) -> RunClaim:
    """Return the run under the next free name of its place."""
    return replace(made, key=f"{made.place}/{name}" + (f"-{n + 1}" if n else ""))


class Chimney(Detail):
    """Masonry on the wall's face: strips turned onto it, counterflashing over them, flashing where its top lies on the wall."""

    name = "chimney-on-wall"
    title = "Chimney on the wall"
    places = (("attachment", "chimney"),)
    settings = {"reach": 6 * IN, "leg": 2 * IN, "flashing_up": 4 * IN, "counter": 4 * IN, "joint": 0.5 * IN}
    sources = {
        "reach": "IRC R703.2: joints at least 6 in",
        "leg": "common practice",
        "flashing_up": "common practice",
        "counter": "common practice, as the 4 x 4 in of IRC R905.2.8.3",
        "joint": "common practice: sealant over a backer rod",
    }

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        item = attached(place)
        assert item.polygon is not None
        s = {k: ctx.setting(self, k) for k in self.settings}
        x0, y0, x1, y1 = item.polygon.bounds
        face = place.face.id
        outline = place.face.outline.bounds
        yield HoleClaim(place.id, face, "cladding", item.polygon)
        if place.assembly is None or place.assembly.product("barrier") is None:
            return
        yield from cut_out(place, item.polygon)
        between, low, top = (wall_of(place), place.id), max(y0, outline[1]), min(y1, outline[3])
        for n, (side, x) in enumerate((("left", x0), ("right", x1))):
            strip = upright(place, ctx, side, x, low, top, s["reach"], s["leg"], "strips", 12 + n)
            if not strip:
                continue
            line = ((x, low), (x, top)) if side == "left" else ((x, top), (x, low))
            metal = runs(place, ctx, f"counter-{side}", "counter-flashing", "flashing", "sidewall-flashing", line, s["counter"], 14 + n,
                         "counter", (("jamb", s["counter"], 90.0),), "fastened", movement=True)  # fmt: skip
            edge = box(x, low, x + s["joint"], top) if side == "left" else box(x - s["joint"], low, x, top)
            beads = [self._bead(place, name, product, edge, top - low) for name, product in
                     ((f"backer-{side}", "backer-rod"), (f"sealant-{side}", "sealant"))]  # fmt: skip
            yield from strip
            yield from metal
            yield from beads
            yield TieClaim(f"{place.id}/{side}", between, face, ((x, low), (x, top)), ("field", *keys(strip), *keys(metal)),
                           (*keys(strip), beads[1].key), None, heat_cut(place))  # fmt: skip
        if y1 < outline[3] - 6 * IN:
            yield from self._top(place, ctx, s, x0, x1, y1)

    def _top(self, place: Place, ctx: Context, s: dict[str, float], x0: float, x1: float, y: float) -> Iterator[Claim]:
        """Yield strip and flashing over a shoulder or top that ends on the wall."""
        left, _, right, _ = place.face.outline.bounds
        ends = ((max(x0 - s["reach"], left), y), (min(x1 + s["reach"], right), y))
        sheet = strip_product(place, ctx, s["reach"]).id
        strip = runs(place, ctx, "top-strip", "joint-strip", "strip", sheet, ends, s["reach"], 18, "strips")
        line = ((max(x0 - 1 * IN, left), y), (min(x1 + 1 * IN, right), y))
        cuts, over = past_ends(place, ((line[0][0], x0), (x1, line[1][0])), y)
        metal = runs(place, ctx, "flashing", "chimney-flashing", "flashing", "head-flashing-metal", line, s["flashing_up"], 20, "flashing",
                     (("under", 2 * IN, 80.0), ("under", 0.75 * IN, 80.0)), "fastened", over_field=over, drip=True, slope_deg=10.0,
                     lap_over_m=0.0)  # fmt: skip
        yield from strip
        yield from metal
        yield from interrupted(place, ctx, ((x0, y), (x1, y)), metal, "flashing")
        yield from cuts
        yield TieClaim(place.id, (wall_of(place), place.id), place.face.id, ((x0, y), (x1, y)), ("field", *keys(metal)), keys(strip),
                       None, heat_cut(place))  # fmt: skip

    def _bead(self, place: Place, name: str, product: str, area: Polygon, length: float) -> PieceClaim:
        return PieceClaim(
            key=f"{place.id}/{name}", place=place.id, role=name.split("-")[0], layer="sealant", product=product,
            parts=(Part(place.face.id, "face", area),), phase=PHASE_CLADDING + 90, step=f"{place.id}/sealant",
            held="sealed" if product == "sealant" else "loose", quantity=(length, "m"), facts={"movement": True},
        )  # fmt: skip

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        item = attached(place)
        assert item.polygon is not None
        _, y0, _, y1 = item.polygon.bounds
        sheet = ctx.product(place, "barrier", "self-adhered-sheet")
        last: tuple[str, ...] = torn_off(place)
        parts = {name: of_step(pieces, place, name) for name in ("strips", "counter", "flashing", "sealant")}
        if parts["strips"]:
            yield step(ctx, place, self.name, "strips", f"Brush and prime the sides of {item.id}, {say(ctx, y1 - y0)} high; strips on the boards, "
                       f"turned {say(ctx, ctx.setting(self, 'leg'))} onto the masonry with a slack fold, upper over lower; roll.",
                       [("strip", face_length(parts["strips"]))], pieces, last, limits_of(sheet))  # fmt: skip
            last = ("strips",)
        if parts["counter"]:
            count = len([p for p in parts["counter"] if p.plane == "face"])
            yield step(ctx, place, self.name, "counter", f"Counterflashing up the sides of {item.id}, {many(count, 'length')}, upper 4 in over lower: one leg "
                       "on the wall over the strip, behind the courses to come; the other let 1 in into a mortar joint and pointed.",
                       [("flashing", face_length(parts["counter"]))], pieces, last)  # fmt: skip
            last = ("counter",)
        if parts["flashing"]:
            yield step(ctx, place, self.name, "flashing", f"Flashing over the top of {item.id} on the wall, sloped out, ends 1 in past it, upper leg "
                       "under the course to come.", [("flashing", face_length(parts["flashing"]))], pieces, last)  # fmt: skip
        if parts["sealant"]:
            length = sum(p.polygon.bounds[3] - p.polygon.bounds[1] for p in parts["sealant"] if p.product == "sealant")
            yield step(ctx, place, self.name, "sealant", f"Backer rod and sealant between siding and {item.id}, {say(ctx, length)}, "
                       f"{say(ctx, ctx.setting(self, 'joint'))} wide, stuck on two sides only; foot left open to drain.",
                       [("sealant", length)], pieces, (*last, f"{wall_of(place)}/cladding/siding"), limits_of(ctx.catalog["sealant"]))  # fmt: skip

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        item = attached(place)
        if of_step(pieces, place, "strips"):
            yield check(place, "strips", "probe", f"boards beside {item.id}: probed, dry", "%", None, 19.0, PROBE, "common practice", count=4)
        if of_step(pieces, place, "counter"):
            yield check(place, "counter", "let-in", f"leg of the counterflashing let into the joints of {item.id}", "in", 1.0, None,
                        "Rake the joint deeper; no surface glue on old brick.", "common practice", count=4)  # fmt: skip
