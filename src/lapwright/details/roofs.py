"""Roof against wall: step or sidewall flashing behind the barrier, a kick-out where the roof pours."""

from __future__ import annotations

import math
from collections.abc import Iterator

from shapely import Polygon

from lapwright.details.attach import (
    PROBE,
    attached,
    bounds_box,
    each_piece,
    keep_clear,
    run,
    side_strips,
    slope_deg,
    strip_product,
    zone_id,
)
from lapwright.details.base import (
    Check,
    Claim,
    Context,
    Detail,
    HoleClaim,
    LineClaim,
    Part,
    Piece,
    Place,
    Step,
    TieClaim,
)
from lapwright.details.bays import ROOF_M
from lapwright.details.shapes import IN, limits_of
from lapwright.details.work import check, face_length, of_step, say, step
from lapwright.findings import Finding, Where
from lapwright.geometry import Point, box, quad

LEVEL_DEG = 5.0  # flatter than this along the wall counts as level: sidewall flashing in lengths
SMALL_M2, LARGE_M2 = 10.0, 25.0  # run-off areas that choose the kick-out's height; common practice, no source


def kick_height(area_m2: float) -> float:
    """Return the height of a kick-out for a roof area that pours at it: 6, 8 or 10 in (common practice).

    >>> [round(kick_height(a) / 0.0254) for a in (5, 20, 40)]
    [6, 8, 10]
    """
    return (6 if area_m2 < SMALL_M2 else 8 if area_m2 < LARGE_M2 else 10) * IN


class RoofAgainstWall(Detail):
    """Strip on the wall, flashing over it, kick-out at the eave, courses over all of it."""

    name = "roof-against-wall"
    title = "Roof against the wall"
    places = (("attachment", "roof"), ("attachment", "porch_roof"))
    settings = {
        "strip_up": 9 * IN,
        "leg_up": 4 * IN,
        "leg_out": 4 * IN,
        "step_lap": 2 * IN,
        "thickness": ROOF_M,
        "clear": 1.5 * IN,
        "side_reach": 6 * IN,
        "side_leg": 2 * IN,
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
    }

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        item = attached(place)
        s = {k: ctx.setting(self, k) for k in self.settings}
        line = (item.start, item.end)
        face = place.face.id
        sloped = abs(slope_deg(line)) > LEVEL_DEG
        low = place.face.outline.bounds[1]
        on_base = min(item.start[1], item.end[1]) - low < 0.05 and item.below == "inside"
        depth = item.depth_m or s["thickness"]
        if item.below == "inside":
            (x0, y0), (x1, y1) = line
            yield HoleClaim(place.id, face, "barrier", Polygon([(x0, low - 1), (x1, low - 1), (x1, y1), (x0, y0)]))
            if not on_base:
                yield from side_strips(
                    place, ctx, x0, x1, low, (y0, y1), s["side_reach"], s["side_leg"], "sides"
                )
        else:
            yield HoleClaim(place.id, face, "barrier", quad(*line, -depth, 0.0))
        yield HoleClaim(place.id, face, "cladding", quad(*line, -depth, s["clear"]))
        sheet = strip_product(place, ctx)
        yield run(place, "strip", "roof-strip", "strip", sheet, line, 0.0, s["strip_up"], 10, "strip")
        kick = self._kick(place, ctx, line, s)
        if kick is not None:
            yield kick
        if sloped:
            yield from self._steps(place, ctx, line, s)
        else:
            (x0, y0), (x1, _) = line
            yield run(place, "flashing", "sidewall-flashing", "flashing", "sidewall-flashing", line, 0.0, s["leg_up"], 20,
                      "flashing", (("under", s["leg_out"], 90.0),), "fastened", drip=True, slope_deg=10.0)  # fmt: skip
            yield keep_clear(place, bounds_box(place, x0, y0, x1, y0 + s["strip_up"]), "no course lap at a roof's flashing")
            yield LineClaim(place.id, face, "flashing", y0 + s["leg_up"], x0, x1, f"top edge of the flashing over {item.id}")
        keys = tuple(self._flashing_keys(place, ctx, line, s))
        yield TieClaim(place.id, (zone_id(place), place.id), face, line, ("field", *keys), (f"{place.id}/strip",), None, None)

    # ---------------------------------------------------------- pieces bought one by one

    def _count(self, ctx: Context, line: tuple[Point, Point], s: dict[str, float]) -> tuple[int, float, float]:
        """Return (number of step pieces, length of one, run length): each laps `step_lap` over the one below."""
        piece = ctx.catalog["step-flashing"].needed("length_m")
        total = math.dist(*line)
        return max(1, math.ceil((total - s["step_lap"]) / (piece - s["step_lap"]) - 1e-9)), piece, total

    def _steps(self, place: Place, ctx: Context, line: tuple[Point, Point], s: dict[str, float]) -> Iterator[Claim]:
        count, piece, total = self._count(ctx, line, s)
        rising = line[1][1] > line[0][1]
        for i in range(count):
            a = min(i * (piece - s["step_lap"]), max(0.0, total - piece))
            b = min(a + piece, total)
            if not rising:  # the low end is the right one: count from there
                a, b = total - b, total - a
            p, q = _at(line, a / total), _at(line, b / total)
            parts = (
                Part(place.face.id, "face", quad(p, q, 0.0, s["leg_up"])),
                Part(place.face.id, "under", box(min(p[0], q[0]), 0, min(p[0], q[0]) + (b - a), s["leg_out"])),
            )
            yield each_piece(place, f"step-{i + 1:02d}", "step-flashing", "step-flashing", parts, 20 + i, "flashing")

    def _flashing_keys(self, place: Place, ctx: Context, line: tuple[Point, Point], s: dict[str, float]) -> Iterator[str]:
        if abs(slope_deg(line)) <= LEVEL_DEG:
            yield f"{place.id}/flashing"
            return
        for i in range(self._count(ctx, line, s)[0]):
            yield f"{place.id}/step-{i + 1:02d}"

    def _kick(self, place: Place, ctx: Context, line: tuple[Point, Point], s: dict[str, float]) -> Claim | None:
        """Return the kick-out at the low end where it pours into a gutter, or the finding that there is no room for it."""
        item = attached(place)
        slope = slope_deg(line)
        if "eave" not in item.ends:
            return None
        at_left = slope > 0 if abs(slope) > LEVEL_DEG else item.ends[0] == "eave"
        x, y = line[0] if at_left else line[1]
        where = Where(ctx.survey.file, item.where.line, place.face.id, item.id, x, y)
        if abs(slope) > LEVEL_DEG and item.ends[0 if at_left else 1] != "eave":
            return Finding(
                "roof.high_eave", "warn", f"{item.id} says its high end is the eave.", "Water pours at the low end.",
                "Swap the two words under ends, or check the heights of its line.", where, "common practice",
            )  # fmt: skip
        area = (item.projection_m or 3.0) * math.dist(*line)
        height = kick_height(area)
        out = -1 if at_left else 1
        shape = box(min(x, x + out * 4 * IN), y - 2 * IN, max(x, x + out * 4 * IN), y + height)
        blocked = [o.id for o in place.face.openings if o.polygon.intersects(shape.buffer(0.02))]
        left, _, right, _ = place.face.outline.bounds
        if blocked or x + out * 4 * IN < left - 1e-6 or x + out * 4 * IN > right + 1e-6:
            near = f"{blocked[0]} is in the way" if blocked else "the wall ends there"
            return Finding(
                "roof.no_room", "stop", f"There is no room for a kick-out at the low end of {item.id}: {near}.",
                "A missing kick-out rots the wall below it (IRC R903.2.1).",
                "Move the opening, end the gutter short, or bring the roof's edge past the corner.", where, "IRC R903.2.1",
            )  # fmt: skip
        parts = (Part(place.face.id, "face", shape), Part(place.face.id, "under", box(min(x, x + out * 4 * IN), 0, max(x, x + out * 4 * IN), 4 * IN)))
        return each_piece(place, "kick-out", "kick-out", "kick-out", parts, 15, "kick-out", height_m=height, run_off_m2=area)

    # ---------------------------------------------------------- work

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        item = attached(place)
        line = (item.start, item.end)
        length = math.dist(*line)
        metal = [p for p in of_step(pieces, place, "flashing") if p.plane == "face"]
        kick = [p for p in of_step(pieces, place, "kick-out") if p.plane == "face"]
        sheet = ctx.product(place, "barrier", "self-adhered-sheet")
        last = "strip"
        if of_step(pieces, place, "sides"):
            yield step(ctx, place, self.name, "sides", f"Upright strips where {item.id} meets {place.face.id}: 6 in on the wall, "
                       "turned onto the old wall with a slack fold for movement; roll.",
                       [("strip", face_length(of_step(pieces, place, "sides")))], pieces, limits=limits_of(sheet))  # fmt: skip
        yield step(ctx, place, self.name, "strip", f"Strip on {place.face.id} along the top of {item.id}, {say(ctx, length)}, from "
                   f"{say(ctx, min(line[0][1], line[1][1]))} to {say(ctx, max(line[0][1], line[1][1]))} above the line; roll.",
                   [("strip", length)], pieces, limits=limits_of(sheet))  # fmt: skip
        if kick:
            yield step(ctx, place, self.name, "kick-out", f"Kick-out at the low end of {item.id}: {say(ctx, float(kick[0].facts['height_m']))} "
                       "upstand against the wall, lip into the gutter, one piece, before the first flashing above it.",
                       [("bend", 1.0)], pieces, needs=(last,))  # fmt: skip
            last = "kick-out"
        what = (f"{len(metal)} step flashings up the slope of {item.id}, low end first, each 2 in over the one below"
                if abs(slope_deg(line)) > LEVEL_DEG
                else f"Sidewall flashing along {item.id}, {len(metal)} lengths, 4 in laps in sealant")  # fmt: skip
        yield step(ctx, place, self.name, "flashing", f"{what}; legs 4 in up and out, behind the courses to come.",
                   [("flashing", length)], pieces, needs=(last,))  # fmt: skip

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        item = attached(place)
        yield check(place, "flashing", "leg", f"flashing of {item.id}: leg up the wall", "in", 4.0, None,
                    "Longer legs; the course must lap over them.", "IRC R905.2.8.3", count=3)  # fmt: skip
        yield check(place, "strip", "probe", f"wall behind {item.id}: probed, dry", "%", None, 19.0, PROBE, "common practice", count=3)
        if any(p.role == "kick-out" for p in pieces):
            yield check(place, "kick-out", "throws", f"water poured on {item.id} lands in the gutter, off the wall", "yes/no", 1.0, 1.0,
                        "Bend the lip out further or set a larger kick-out.", "IRC R903.2.1")  # fmt: skip


def _at(line: tuple[Point, Point], t: float) -> Point:
    (x0, y0), (x1, y1) = line
    return (x0 + (x1 - x0) * t, y0 + (y1 - y0) * t)


class RoofReturn(RoofAgainstWall):
    """A short roof at a gable's foot: flashing run along its top, kick-outs where it pours."""

    name = "roof-return"
    title = "Roof return"
    places = (("attachment", "roof_return"), ("attachment", "eave"))
