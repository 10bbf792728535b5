"""Windows and doors: the four states of an opening, each with its own order of pieces.

before: the unit is set first, on strips that bridge from the sheathing's face to the framing; the sill
strip's lower edge stays loose and the course comes in under it later, while the courses beside and
above run over jamb and head strips. after: courses first, cut out; the sill strip laps over the course,
the head strip goes up under a flap of it. kept: the old unit stays; strips turn onto its frame, then as
before. insert: as kept, with a pan and a new unit inside the old frame.

Where a course must pass from under to over a strip it is slit: at the sill's height from the opening's
corner to the end of the sill strip (before, kept, insert), at the head's height to the end of the head
strip (after).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from lapwright.details.base import Check, Claim, Context, Detail, HoleClaim, Piece, PieceClaim, Place, RunClaim, Step
from lapwright.details.egress import egress
from lapwright.details.opening_case import AT_BASE_M, Case, around, skin_round
from lapwright.details.opening_depth import seat_of
from lapwright.details.opening_reveal import reveal
from lapwright.details.opening_strips import clear, patches, strips
from lapwright.details.opening_units import ties, unit
from lapwright.details.opening_work import opening_checks, opening_steps
from lapwright.details.shapes import IN
from lapwright.findings import Finding, Where
from lapwright.survey.model import Opening, OpeningState


class OpeningDetail(Detail):
    """What the four states share. Subclasses say what the strips turn onto and what is set."""

    state: ClassVar[OpeningState] = "before"
    old_frame: ClassVar[bool] = False
    settings = {
        "ear": 8 * IN,
        "hang": 8 * IN,
        "head_rise": 6 * IN,
        "turn_in": 4 * IN,
        "frame_leg": 1 * IN,
        "end_lap_clear": 6 * IN,
        "course_clear": 3 * IN,
        "film_reach": 2 * IN,
        "tape_past": 1 * IN,
        "flashing_past": 4.5 * IN,
        "sill_slope": 5.0,
        "mid_share": 0.5,
    }
    plain = ("sill_slope", "mid_share")
    sources = {
        "ear": "common practice: strips run 6-9 in past the corner",
        "hang": "common practice: enough to lap the course below by 4 in",
        "head_rise": "common practice, more than the 2 in of IRC R703.2",
        "turn_in": "common practice: past the sheathing onto the framing",
        "frame_leg": "common practice",
        "end_lap_clear": "common practice: side laps 6-12 in off openings",
        "course_clear": "common practice",
        "film_reach": "common practice: film 2 in each way from the corner",
        "tape_past": "common practice",
        "flashing_past": "common practice: past the trim",
        "sill_slope": "common practice: 5 degrees or more, outward",
        "mid_share": "own choice: a unit set mid stands half way out to the foam's or furring's face",
    }

    def claims(self, place: Place, ctx: Context) -> Iterable[Claim]:
        opening = place.thing
        assert isinstance(opening, Opening)
        s = {k: ctx.setting(self, k) for k in self.settings}
        a = around(place, ctx, s["ear"], s["hang"], s["head_rise"])
        skin = skin_round(place, ctx)
        case = Case(place, ctx, opening, a, s, self.state, self.old_frame, skin, seat_of(place, ctx, s))
        if opening.polygon.difference(skin).area > 1e-4:
            yield Finding(
                "opening.half_in",
                "warn",
                f"{opening.id} lies partly in wall that is kept.",
                "Its strips end where the new skin ends; water finds the rest.",
                "Move the zone's edge past the opening by a foot or more.",
                Where(ctx.survey.file, opening.where.line, place.face.id, opening.id, a.x0, a.sill),
                "common practice",
            )
        for layer in ("barrier", "mat", "furring", "cladding"):
            yield HoleClaim(place.id, place.face.id, layer, opening.polygon)
        yield from egress(opening, place.face, ctx, case.seat)
        yield from clear(case)
        if min(a.ear_left, a.ear_right, a.rise) < 3 * IN or AT_BASE_M < a.hang < 3 * IN:
            yield Finding(
                "opening.tight",
                "warn",
                f"There is less than 3 in of wall for the strips round {opening.id}.",
                "Strips need room to lap the courses.",
                "Carry one strip across both openings, or use liquid film there.",
                Where(ctx.survey.file, opening.where.line, place.face.id, opening.id, a.x0, a.sill),
                "common practice",
            )
        shaped = patches(case) if opening.shape in ("round", "polygon") else strips(case)
        for claim in (*shaped, *unit(case), *reveal(case)):
            if not (isinstance(claim, PieceClaim | RunClaim) and claim.role in opening.without):
                yield claim
        yield from ties(case)

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterable[Step]:
        return opening_steps(self, place, ctx, pieces)

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterable[Check]:
        return opening_checks(self, place, ctx, pieces)


class UnitBefore(OpeningDetail):
    """Unit set before the barrier, on strips that tie in later."""

    name = "opening-before"
    title = "Unit set before the barrier"
    places = (("opening", "before"),)
    state = "before"


class UnitAfter(OpeningDetail):
    """Barrier first, then the unit."""

    name = "opening-after"
    title = "Unit set after the barrier"
    places = (("opening", "after"),)
    state = "after"


class UnitKept(OpeningDetail):
    """Old unit and frame stay; the new barrier ties to the old frame."""

    name = "opening-kept"
    title = "Old unit kept"
    places = (("opening", "kept"),)
    state = "kept"
    old_frame = True


class UnitInsert(OpeningDetail):
    """New unit inside the old frame; the barrier ties to the old frame."""

    name = "opening-insert"
    title = "New unit inside the old frame"
    places = (("opening", "insert"),)
    state = "insert"
    old_frame = True
