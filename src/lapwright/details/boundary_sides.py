"""Old beside new, the end of the skin at a corner, and the seam of two new sheets."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from shapely import Polygon

from lapwright.details.base import (
    Check,
    Claim,
    ClearClaim,
    Context,
    Part,
    Piece,
    PieceClaim,
    Place,
    RunClaim,
    Step,
)
from lapwright.details.boundary import PHASE_JOINT, Boundary, depth, old_felt
from lapwright.details.heat import heat_across
from lapwright.details.places import is_new, joints, zone_at
from lapwright.details.runs import climbing, free_runs, inside_of, lengths, opening_shapes, strip_product
from lapwright.details.shapes import IN, one
from lapwright.details.work import check, face_length, of_step, say, step
from lapwright.geometry import box, merged

UP_M = 3 * IN  # a strip's top tucked beneath old felt that runs on: the 2 in of IRC R703.2 and an inch to spare


class OldBeside(Boundary):
    """Old beside new: an upright strip from behind the old cladding's edge onto the boards, courses over it."""

    name = "boundary-side"
    title = "New beside old cladding"
    places: ClassVar[tuple[tuple[str, str], ...]] = (("boundary", "left"), ("boundary", "right"))
    old_at = "beside the old cladding"
    sealed = True

    def _joint(self, place: Place, ctx: Context, s: dict[str, float]) -> Iterator[Claim]:
        assert place.line is not None
        tuck = depth(place, s["tuck"])
        # seen walking up the line, the left is at low x
        old, new = ((0.0, tuck), (-s["reach"], 0.0)) if place.sort == "left" else ((-tuck, 0.0), (0.0, s["reach"]))
        yield from self._felt(place, ctx)
        yield from self._strip(place, ctx, s, min(old[0], new[0]), max(old[1], new[1]), Polygon())
        yield self._clear(place, s["end_clear"])
        yield self._tie(place, ("field", f"{place.id}/strip"), ("field", f"{place.id}/strip"))

    def _clear(self, place: Place, clear: float) -> Claim:
        assert place.line is not None
        (x, y0), (_, y1) = place.line
        area = box(x, y0, x + clear, y1) if place.sort.endswith("left") else box(x - clear, y0, x, y1)
        return ClearClaim(place.id, place.face.id, "barrier", area, "end", 25.0, "end laps stay off the joint")

    def _work(self, place: Place, ctx: Context, pieces: list[Piece], at: str, needs: tuple[str, ...]) -> Iterator[Step]:
        text = f"Strip up {at}: one half behind the edge of the old cladding, over its felt, the other on the boards; the courses go over it"
        yield self._strip_step(place, ctx, pieces, text, needs)

    def _lap(self, place: Place, pieces: list[Piece], tuck: float) -> float:
        return depth(place, tuck)


class OldBesideChannel(OldBeside):
    """Old cladding that cannot be loosened: an upright metal channel at its edge, courses over its leg."""

    name = "boundary-channel"
    title = "New beside old cladding, upright channel"
    places: ClassVar[tuple[tuple[str, str], ...]] = ()
    settings = {**Boundary.settings, "channel_leg": 4 * IN, "channel_out": 1.5 * IN, "channel_lip": 0.5 * IN}
    sources = {
        **Boundary.sources,
        "channel_leg": "as sidewall flashing, IRC R905.2.8.3: 4 in",
        "channel_out": "common practice: past the gap and the new cladding's back",
        "channel_lip": "common practice: turned so that water stays in the channel",
    }

    def _joint(self, place: Place, ctx: Context, s: dict[str, float]) -> Iterator[Claim]:
        assert place.line is not None
        # the folded edge must be the low one: walk the other way where the old stands on the left
        line = place.line if place.sort == "right" else (place.line[1], place.line[0])
        low, high = 0.0, s["channel_leg"]
        metal = ctx.catalog["coil-stock"]
        runs = [
            part
            for free in free_runs(line, low, high, inside_of(place), opening_shapes(place))
            for part in climbing(free, metal.number("brake_length_m"), metal.number("lap_m") or 4 * IN)
        ]
        for n, part in enumerate(runs):
            yield RunClaim(
                key=f"{place.id}/strip{'' if n == 0 else f'-{n + 1}'}",
                place=place.id,
                role="channel",
                layer="flashing",
                product=metal.id,
                surface=place.face.id,
                start=part[0],
                end=part[1],
                low=low,
                high=high,
                phase=PHASE_JOINT,
                step=f"{place.id}/strip",
                rank=1 + n,
                held="fastened",
                legs=(("jamb", s["channel_out"], 90.0), ("jamb", s["channel_lip"], 90.0)),
                max_m=metal.number("brake_length_m"),
                lap_m=metal.number("lap_m") or 4 * IN,
                over_field=Polygon(),
                facts={"movement": True, "drain": "bottom", "relies_on": "sealant at the old cladding's edge"},
            )
        yield self._clear(place, s["end_clear"])
        yield self._tie(place, ("field", f"{place.id}/strip"), ("field", f"{place.id}/bead"))

    def _work(self, place: Place, ctx: Context, pieces: list[Piece], at: str, needs: tuple[str, ...]) -> Iterator[Step]:
        metal = of_step(pieces, place, "strip")
        yield step(
            ctx,
            place,
            self.name,
            "strip",
            f"Upright channel along {at}: leg on the boards, channel tight to the old edge, open at its foot onto what drains "
            "outside; upper lengths over lower. The courses go over its leg.",
            [("flashing", max(face_length(metal), 0.1))],
            pieces,
            needs=needs,
            reason="" if metal else "no channel fits here",
        )

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        yield from (c for c in super().checks(place, ctx, pieces) if not c.id.endswith("/lap"))
        yield check(
            place,
            "strip",
            "foot",
            f"foot of the channel on {place.face.id} open and outside the cladding below",
            "yes/no",
            1.0,
            1.0,
            "Cut it free or carry it down; a channel that ends behind cladding fills it.",
            "IRC R703.1.1",
        )


class EndOfSkin(OldBeside):
    """End of the new skin at a corner or a free edge: the sheet returns round it onto what is beyond."""

    name = "boundary-end"
    title = "End of the new skin at a corner"
    places: ClassVar[tuple[tuple[str, str], ...]] = (("boundary", "end-left"), ("boundary", "end-right"))
    old_at = "at the end of the new skin"

    def _joint(self, place: Place, ctx: Context, s: dict[str, float]) -> Iterator[Claim]:
        assert place.line is not None
        left = place.sort == "end-left"
        product = strip_product(place, ctx, s["reach"] + s["tuck"])
        keys: list[str] = []
        (x, y0), (_, y1) = place.line
        longest = product.number("hold_length_m") or 7.6
        wide = min(s["reach"], place.face.width_m)
        found = list(lengths(y1 - y0, longest, s["lap"]))
        for n, (a, b) in enumerate(found):
            here = box(x, y0 + a, x + wide, y0 + b) if left else box(x - wide, y0 + a, x, y0 + b)
            up = UP_M if n == len(found) - 1 and self._felt_goes_on(place) else 0.0
            there = self._return(place, y0 + a, y0 + b + up, s["tuck"])
            tuck = there.polygon.bounds[2] - there.polygon.bounds[0]
            fold = tuck if left else wide
            tab = box(0.0, 0.0, tuck, b - a + up) if left else box(wide, 0.0, wide + tuck, b - a + up)
            keys.append(f"{place.id}/strip{'' if n == 0 else f'-{n + 1}'}")
            yield PieceClaim(
                key=keys[-1],
                place=place.id,
                role="return-strip",
                layer="strip",
                product=product.id,
                parts=(Part(place.face.id, "face", here), there),
                phase=PHASE_JOINT,
                step=f"{place.id}/strip",
                rank=1 + n,
                flat=one(merged([box(0, 0, wide + tuck, b - a), tab])),
                folds=((((fold, 0.0), (fold, b - a)), _turn(place, ctx)),),
                over_field=Polygon(),
                facts={"movement": True, "slack_m": s["slack"], **({"tucked_above_m": y0 + b} if up else {})},
            )
        yield from self._felt_beyond(place, ctx)
        yield self._clear(place, s["end_clear"])
        yield self._tie(place, ("field", *keys), ("field", *keys))

    def _felt_goes_on(self, place: Place) -> bool:
        """Return whether the old felt round the corner runs on above this wall's end, and water with it."""
        assert place.line is not None
        other, (_, top) = place.other, place.line
        if other is None or other.adjoins != "outside":
            return False
        x = 0.01 if place.sort == "end-right" else other.width_m - 0.01
        below, above = (zone_at(other, x, top[1] + dy) for dy in (-0.01, UP_M))
        return below is not None and below is above and not is_new(below) and _has_wall(place, top[1] - 0.01, top[1] + UP_M)

    def _felt_beyond(self, place: Place, ctx: Context) -> Iterator[Claim]:
        """Yield the old felt of a kept neighbor that no joint of its own face looks behind."""
        assert place.line is not None
        other, (low, high) = place.other, place.line
        if other is None or other.adjoins != "outside" or not _has_wall(place, low[1], high[1]):
            return
        told = {p.other_zone.id for p in joints(other, ctx) if p.other_zone is not None}
        x = 0.01 if place.sort == "end-right" else other.width_m - 0.01
        zone = zone_at(other, x, (low[1] + high[1]) / 2)
        if zone is not None and not is_new(zone) and zone.id not in told:
            yield old_felt(place, other, zone)

    def _return(self, place: Place, low: float, high: float, tuck: float) -> Part:
        """Return the part round the corner: on the neighbor's wall when it is surveyed, else along the edge."""
        assert place.line is not None
        other = place.other
        if other is None or not _has_wall(place, low, high):
            return Part(place.face.id, "jamb", box(0.0, low, tuck, high))
        wide = min(tuck, other.width_m)
        if place.sort == "end-left":
            return Part(other.id, "face", box(other.width_m - wide, low, other.width_m, high))
        return Part(other.id, "face", box(0.0, low, wide, high))

    def _work(self, place: Place, ctx: Context, pieces: list[Piece], at: str, needs: tuple[str, ...]) -> Iterator[Step]:
        onto = (
            f"behind the corner board of {place.other.id}" if place.other is not None else "onto the edge of the wall"
        )
        tucked = any("tucked_above_m" in p.facts for p in pieces)
        slit = f"; slit the old felt at its top and tuck the upper {say(ctx, UP_M)} beneath it" if tucked else ""
        text = f"Strip up {at}: half on the boards, half folded round the corner {onto}{slit}; the courses go over it"
        yield self._strip_step(place, ctx, pieces, text, needs)


def _has_wall(place: Place, low: float, high: float) -> bool:
    other = place.other
    assert other is not None
    x0, x1 = (0.0, 0.05) if place.sort == "end-right" else (other.width_m - 0.05, other.width_m)
    spot = box(x0, low, x1, high)
    return bool(spot.difference(other.outline).area < 1e-6) and not any(
        o.polygon.intersects(spot) for o in other.openings
    )


def _turn(place: Place, ctx: Context) -> float:
    """Return the angle of the fold round the end: the survey's turn, 90 degrees where nothing is known."""
    if place.sort == "end-right" and place.other is not None:
        return float(place.face.turn_deg)
    if place.sort == "end-left" and place.other is not None:
        return float(place.other.turn_deg)
    return 90.0


class Seam(Boundary):
    """Two new make-ups with different sheets: a strip over the sheet below and under the one above."""

    name = "boundary-seam"
    title = "Two new sheets side by side"
    places = (("boundary", "seam-above"), ("boundary", "seam-right"))
    old_at = "at the seam of two sheets"
    keeps = False

    def _joint(self, place: Place, ctx: Context, s: dict[str, float]) -> Iterator[Claim]:
        over = inside_of(place)  # this zone is the lower or the left one
        yield from self._strip(place, ctx, s, -s["reach"], s["reach"], over)
        yield self._tie(place, ("field", f"{place.id}/strip"), ("field", f"{place.id}/strip"), heat_across(place, ctx))

    def _work(self, place: Place, ctx: Context, pieces: list[Piece], at: str, needs: tuple[str, ...]) -> Iterator[Step]:
        text = f"Strip along {at}: stuck to the boards above or beside, loose below; the first sheet goes up under it, the second over it"
        yield self._strip_step(place, ctx, pieces, text, needs, slack=False)
