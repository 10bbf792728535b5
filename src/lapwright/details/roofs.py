"""Roof against wall: step or sidewall flashing behind the barrier, a kick-out where the roof pours."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import ClassVar

from shapely import LineString, Polygon

from lapwright.details.attach import (
    PROBE,
    Line,
    at_part,
    attached,
    below_line,
    bounds_box,
    cut_out,
    each_piece,
    interrupted,
    keep_clear,
    keys,
    plumb_cut,
    runs,
    slope_deg,
    strip_product,
    upright,
)
from lapwright.details.base import (
    Check,
    Claim,
    Context,
    Detail,
    HoleClaim,
    LineClaim,
    Piece,
    PieceClaim,
    Place,
    RunClaim,
    SlitClaim,
    Step,
    TieClaim,
)
from lapwright.details.bays import ROOF_M
from lapwright.details.runs import inside_of, torn_off, wall_of
from lapwright.details.shapes import IN, limits_of
from lapwright.details.tops_patches import PHASE_TOP
from lapwright.details.work import check, face_length, of_step, say, step
from lapwright.findings import Finding, Where
from lapwright.geometry import box, quad

LEVEL_DEG = 5.0  # flatter than this along the wall counts as level: sidewall flashing in lengths
SMALL_M2, LARGE_M2 = 10.0, 25.0  # run-off areas that choose the kick-out's height; common practice, no source
POURS_M = 3.0  # how far a roof stands out when the job does not say; common practice, no source
Settings = dict[str, float]


def kick_height(area_m2: float) -> float:
    """Return the height of a kick-out for a roof area that pours at it: 6, 8 or 10 in (common practice).

    >>> [round(kick_height(a) / 0.0254) for a in (5, 20, 40)]
    [6, 8, 10]
    """
    return (6 if area_m2 < SMALL_M2 else 8 if area_m2 < LARGE_M2 else 10) * IN


def step_count(run_m: float, piece_m: float, lap_m: float) -> int:
    """Return how many step flashings a slope takes: each covers its length less the lap over the one below.

    run_m: length up the slope; piece_m: one piece along the slope; lap_m < piece_m. All in metres.

    >>> step_count(2.0, 0.2, 0.05), step_count(0.2, 0.2, 0.05), step_count(0.21, 0.2, 0.05)
    (13, 1, 2)
    """
    return max(1, math.ceil((run_m - lap_m) / (piece_m - lap_m) - 1e-9))


class RoofAgainstWall(Detail):
    """Strip on the wall, flashing over it, kick-out at the eave, courses over all of it."""

    name = "roof-against-wall"
    title = "Roof against the wall"
    places: ClassVar[tuple[tuple[str, str], ...]] = (("attachment", "roof"), ("attachment", "porch_roof"))
    settings = {
        "strip_up": 9 * IN,
        "leg_up": 4 * IN,
        "leg_out": 4 * IN,
        "step_lap": 2 * IN,
        "thickness": ROOF_M,
        "clear": 1.5 * IN,
        "side_reach": 6 * IN,
        "side_leg": 2 * IN,
        "under_down": 6 * IN,
        "under_turn": 2 * IN,
        "kick_wide": 4 * IN,
        "kick_down": 2 * IN,
    }
    sources = {
        "strip_up": "common practice",
        "leg_up": "IRC R905.2.8.3: sidewall flashing 4 x 4 in",
        "leg_out": "IRC R905.2.8.3: sidewall flashing 4 x 4 in",
        "step_lap": "common practice: 2 in over the piece below",
        "thickness": "common practice: framing and boards of a small roof, when depth is not given",
        "clear": "sheet: siding 1-2 in above roofs",
        "side_reach": "IRC R703.2: joints at least 6 in",
        "side_leg": "common practice",
        "under_down": "common practice, more than the 2 in of IRC R703.2",
        "under_turn": "common practice: enough to roll",
        "kick_wide": "common practice",
        "kick_down": "IRC R703.2: over the course below at least 2 in",
    }
    dams: ClassVar[bool] = False  # ends of the flashing turned up

    # ---------------------------------------------------------- claims

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        item = attached(place)
        s = {k: ctx.setting(self, k) for k in self.settings}
        line = (item.start, item.end)
        depth = item.depth_m or s["thickness"]
        yield HoleClaim(place.id, place.face.id, "cladding", quad(*line, -depth, s["clear"]))
        if place.assembly is None or place.assembly.product("barrier") is None:
            return
        yield from self._beneath(place, ctx, line, depth, s)
        yield from self._above(place, ctx, line, s)

    def _beneath(self, place: Place, ctx: Context, line: Line, depth: float, s: Settings) -> Iterator[Claim]:
        """Yield what the courses leave out, and the strips that close them to the roof's ends and underside."""
        item, face = attached(place), place.face.id
        (x0, y0), (x1, y1) = line
        low = place.face.outline.bounds[1]
        if item.below == "inside":
            yield from cut_out(place, Polygon([(x0, low - 1), (x1, low - 1), (x1, y1), (x0, y0)]))
            ends = upright(place, ctx, "left", x0, low, y0, s["side_reach"], s["side_leg"], "sides")
            ends += upright(place, ctx, "right", x1, low, y1, s["side_reach"], s["side_leg"], "sides", 13)
            yield from ends
            for side, x, top in (("left", x0, y0), ("right", x1, y1)):
                mine = keys(c for c in ends if f"side-strip-{side}" in c.key)
                if mine:
                    yield TieClaim(f"{place.id}/{side}", (wall_of(place), place.id), face, ((x, low), (x, top)), ("field", *mine),
                                   mine, None, None)  # fmt: skip
            return
        yield from cut_out(place, quad(*line, -depth, 0.0))
        # a fastened sheet sticks to nothing: its lap has to be wide enough past the cut that stands off a sloped end
        sticks = bool(ctx.product(place, "barrier", "self-adhered-sheet").word("adhesive"))
        reach = s["side_reach"] + (0.0 if sticks else 1 * IN)
        yield from upright(place, ctx, "left", x0, y0 - depth, y0, reach, s["side_leg"], "sides")
        yield from upright(place, ctx, "right", x1, y1 - depth, y1, reach, s["side_leg"], "sides", 13)
        yield from self._underside(place, ctx, below_line(line, depth), s)

    def _underside(self, place: Place, ctx: Context, line: Line, s: Settings) -> Iterator[Claim]:
        """Yield the strip over the upper edge of the course below the roof, turned out onto its underside: air, not water."""
        product = strip_product(place, ctx, s["under_down"] + s["under_turn"]).id
        made: list[RunClaim] | list[PieceClaim]
        if abs(slope_deg(line)) > LEVEL_DEG:
            made = plumb_cut(place, ctx, "under-strip", "top-strip", product, line, s["under_down"], s["under_turn"], 60, "under",
                             PHASE_TOP, None)  # fmt: skip
        else:
            made = runs(place, ctx, "under-strip", "top-strip", "strip", product, line, s["under_down"], 60, "under",
                        (("under", s["under_turn"], 90.0),), phase=PHASE_TOP, over_field=None)  # fmt: skip
        yield from made
        if made:
            yield TieClaim(f"{place.id}/under", (wall_of(place), place.id), place.face.id, line, None, ("field", *keys(made)),
                           None, None)  # fmt: skip

    def _above(self, place: Place, ctx: Context, line: Line, s: Settings) -> Iterator[Claim]:
        """Yield strip, flashing and kick-outs along the roof, all behind the courses."""
        item, face = attached(place), place.face.id
        sheet, sloped = strip_product(place, ctx, s["strip_up"]).id, abs(slope_deg(line)) > LEVEL_DEG
        strip: list[RunClaim] | list[PieceClaim]
        if sloped:
            strip = plumb_cut(place, ctx, "strip", "roof-strip", sheet, line, s["strip_up"], 0.0, 10, "strip")
        else:
            strip = runs(place, ctx, "strip", "roof-strip", "strip", sheet, line, s["strip_up"], 10, "strip")
        yield from strip
        yield from interrupted(place, ctx, line, strip, "strip")
        yield from self._kicks(place, ctx, line, s)
        (x0, y0), (x1, _) = line
        metal: list[RunClaim] | list[PieceClaim]
        if sloped:
            metal = self._steps(place, ctx, line, s)
        else:
            facts = {"end_dams": True} if self.dams else {}
            metal = runs(place, ctx, "flashing", "sidewall-flashing", "flashing", "sidewall-flashing", line, s["leg_up"], 20,
                         "flashing", (("under", s["leg_out"], 90.0),), "fastened", drip=True, slope_deg=10.0, **facts)  # fmt: skip
            yield LineClaim(place.id, face, "flashing", y0 + s["leg_up"], x0, x1, f"top edge of the flashing over {item.id}")
            yield keep_clear(place, bounds_box(place, x0, y0, x1, y0 + s["strip_up"]), "no course lap at a roof's flashing")
        yield from metal
        yield TieClaim(place.id, (wall_of(place), place.id), face, line, ("field", *keys(metal)), keys(strip), None, None)

    # ---------------------------------------------------------- pieces bought one by one

    def _steps(self, place: Place, ctx: Context, line: Line, s: Settings) -> list[PieceClaim]:
        piece, total = ctx.catalog["step-flashing"].needed("length_m"), math.dist(*line)
        rising = line[1][1] > line[0][1]
        found = []
        for i in range(step_count(total, piece, s["step_lap"])):
            a = min(i * (piece - s["step_lap"]), max(0.0, total - piece))
            b = min(a + piece, total)
            if not rising:  # the low end is the right one: count from there
                a, b = total - b, total - a
            p, q = at_part(line, a / total), at_part(line, b / total)
            out = box(min(p[0], q[0]), 0, min(p[0], q[0]) + (b - a), s["leg_out"])
            found.append(
                each_piece(place, f"step-{i + 1:02d}", "step-flashing", "step-flashing", quad(p, q, 0.0, s["leg_up"]), out, 20 + i,
                           "flashing", lap_m=s["step_lap"])
            )  # fmt: skip
        return [f for f in found if f is not None]

    def _kicks(self, place: Place, ctx: Context, line: Line, s: Settings) -> Iterator[Claim]:
        """Yield the kick-out at each end that pours into a gutter, or the finding that there is no room for it."""
        item, slope = attached(place), slope_deg(line)
        for n, end in enumerate(item.ends):
            if end != "eave":
                continue
            x, y = line[n]
            where = Where(ctx.survey.file, item.where.line, place.face.id, item.id, x, y)
            if abs(slope) > LEVEL_DEG and (slope > 0) != (n == 0):
                yield Finding(
                    "roof.high_eave", "warn", f"{item.id} says its high end is the eave.", "Water pours at the low end.",
                    "Swap the two words under ends, or check the heights of its line.", where, "common practice",
                )  # fmt: skip
                continue
            yield from self._kick(place, ctx, line, n, where, s)

    def _kick(self, place: Place, ctx: Context, line: Line, n: int, where: Where, s: Settings) -> Iterator[Claim]:
        item, (x, y) = attached(place), line[n]
        area = (item.projection_m or POURS_M) * math.dist(*line)
        if "eave" == item.ends[0] == item.ends[1] and abs(slope_deg(line)) <= LEVEL_DEG:
            area /= 2  # a level roof that pours at both ends
        height, out = kick_height(area), (-1 if n == 0 else 1) * s["kick_wide"]
        low = y - s["kick_down"]
        shape = box(min(x, x + out), low, max(x, x + out), y + height)
        blocked = [o.id for o in place.face.openings if o.polygon.intersects(shape.buffer(0.02))]
        left, _, right, _ = place.face.outline.bounds
        ends_here = x + out < left - 1e-6 or x + out > right + 1e-6
        if blocked or ends_here or not inside_of(place).buffer(1e-6).covers(shape):
            near = f"{blocked[0]} is in the way" if blocked else "the wall ends there"
            yield Finding(
                "roof.no_room", "stop", f"There is no room for a kick-out at the low end of {item.id}: {near}.",
                "A missing kick-out rots the wall below it (IRC R903.2.1).",
                "Move the opening, end the gutter short, or bring the roof's edge past the corner.", where, "IRC R903.2.1",
            )  # fmt: skip
            return
        lip = box(min(x, x + out), 0, max(x, x + out), 4 * IN)
        made = each_piece(place, "kick-out" if n == self._first(item.ends) else f"kick-out-{n + 1}", "kick-out", "kick-out", shape, lip,
                          15 + n, "kick-out", box(min(x, x + out) - 1, low - 1, max(x, x + out) + 1, y), height_m=height,
                          run_off_m2=area)  # fmt: skip
        if made is not None:
            yield made
            yield SlitClaim(place.id, place.face.id, "barrier", (min(x, x + out), y), (max(x, x + out), y))

    @staticmethod
    def _first(ends: tuple[str, str]) -> int:
        return ends.index("eave")

    # ---------------------------------------------------------- work

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        item = attached(place)
        line = (item.start, item.end)
        length = math.dist(*line)
        metal = [p for p in of_step(pieces, place, "flashing") if p.plane == "face"]
        kicks = [p for p in of_step(pieces, place, "kick-out") if p.plane == "face"]
        sheet = ctx.product(place, "barrier", "self-adhered-sheet")
        last: tuple[str, ...] = torn_off(place)
        if of_step(pieces, place, "sides"):
            onto = "the old wall" if item.below == "inside" else "the ends of the roof"
            yield step(ctx, place, self.name, "sides", f"Upright strips where {item.id} meets {place.face.id}: 6 in on the wall, "
                       f"turned onto {onto} with a slack fold for movement; roll.",
                       [("strip", face_length(of_step(pieces, place, "sides")))], pieces, last, limits_of(sheet))  # fmt: skip
            last = ("sides",)
        if of_step(pieces, place, "strip"):
            yield step(ctx, place, self.name, "strip", f"Strip on {place.face.id} along the top of {item.id}, {say(ctx, length)}, from "
                       f"{say(ctx, min(line[0][1], line[1][1]))} to {say(ctx, max(line[0][1], line[1][1]))} above the line; roll.",
                       [("strip", length)], pieces, last, limits_of(sheet))  # fmt: skip
            last = ("strip",)
        if kicks:
            tall = ", ".join(dict.fromkeys(say(ctx, float(k.facts["height_m"])) for k in kicks))
            many = "Kick-out" if len(kicks) == 1 else f"{len(kicks)} kick-outs"
            yield step(ctx, place, self.name, "kick-out", f"{many} at the low end of {item.id}: {tall} upstand against the wall, lip "
                       "into the gutter, one piece, before the first flashing above it. The course to come is slit level at the "
                       "trough and goes down over the upstand.",
                       [("bend", float(len(kicks)))], pieces, last)  # fmt: skip
            last = ("kick-out",)
        if metal:
            what = (f"{len(metal)} step flashings up the slope of {item.id}, low end first, each "
                    f"{say(ctx, ctx.setting(self, 'step_lap'))} over the one below, one to each shingle course"
                    if abs(slope_deg(line)) > LEVEL_DEG
                    else f"Flashing along {item.id}, {len(metal)} length{'s' if len(metal) > 1 else ''}, 4 in laps in sealant"
                    + (", both ends turned up" if self.dams else ""))  # fmt: skip
            up, out = (say(ctx, ctx.setting(self, k)) for k in ("leg_up", "leg_out"))
            yield step(ctx, place, self.name, "flashing", f"{what}; legs {up} up and {out} out, behind the courses to come; siding stays "
                       f"{say(ctx, ctx.setting(self, 'clear'))} above the roof.", [("flashing", length)], pieces, last)  # fmt: skip
        under = of_step(pieces, place, "under")
        if under:
            yield step(ctx, place, self.name, "under", f"Strip below {item.id} over the upper edge of the course, turned out onto its underside, "
                       f"{say(ctx, face_length(under))}; roll.", [("strip", face_length(under))], pieces,
                       (f"{wall_of(place)}/barrier/done",), limits_of(sheet))  # fmt: skip

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        item = attached(place)
        there = {p.step.rsplit("/", 1)[1] for p in pieces}
        if "strip" in there:
            yield check(place, "strip", "probe", f"wall behind {item.id}: probed, dry", "%", None, 19.0, PROBE, "common practice", count=3)
        if "flashing" in there:
            yield check(place, "flashing", "leg", f"flashing of {item.id}: leg up the wall", "in",
                        round(ctx.setting(self, "leg_up") / IN, 2), None, "Longer legs; the course must lap over them.",
                        "IRC R905.2.8.3", count=3)  # fmt: skip
        if any(p.role == "step-flashing" for p in pieces):
            yield check(place, "flashing", "lap", f"step flashings of {item.id}: upper over lower", "in",
                        round(ctx.setting(self, "step_lap") / IN, 2), None, "Set them closer, low end first.", self.sources["step_lap"],
                        count=3)  # fmt: skip
        if any(p.role == "kick-out" for p in pieces):
            yield check(place, "kick-out", "throws", f"water poured on {item.id} lands in the gutter, off the wall", "yes/no", 1.0, 1.0,
                        "Bend the lip out further or set a larger kick-out.", "IRC R903.2.1")  # fmt: skip
        if "under" in there:
            yield check(place, "under", "air", f"strip below {item.id} stuck over its whole length, no gap at the ends", "yes/no", 1.0, 1.0,
                        "Liquid film where it will not lie.", "common practice")  # fmt: skip


class RoofReturn(RoofAgainstWall):
    """A short roof at a gable's foot: flashing along its top with both ends turned up, kick-outs where it pours."""

    name = "roof-return"
    title = "Roof return"
    places = (("attachment", "roof_return"),)
    dams = True


class EaveOnWall(RoofAgainstWall):
    """An eave fixed to the wall: courses stop below its frieze or soffit and are closed to it for air.

    Where the wall goes on above it, that part is flashed as a roof against the wall.
    """

    name = "eave-on-wall"
    title = "Eave on the wall"
    places = (("attachment", "eave"),)

    def _goes_on(self, place: Place, line: Line) -> bool:
        over = LineString([(p[0], p[1] + 6 * IN) for p in line])
        return bool(inside_of(place).intersection(over).length > 0.5 * over.length)

    def _above(self, place: Place, ctx: Context, line: Line, s: Settings) -> Iterator[Claim]:
        if self._goes_on(place, line):
            yield from super()._above(place, ctx, line, s)
        else:  # nothing runs down here: the strip below closes the air
            yield TieClaim(place.id, (wall_of(place), place.id), place.face.id, line, None, (f"{place.id}/under-strip",), None, None)
