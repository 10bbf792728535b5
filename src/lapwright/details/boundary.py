"""Old to new: where the new skin meets what is kept, another make-up, or the end of the wall.

Water goes out over what is below: over the old cladding where the old is below (IRC R703.1.1), from the
old felt over the new strip where the old is above (IRC R703.2, upper over lower). Beside, a strip bridges
the joint behind the old cladding's edge. Kept cladding hides what is behind it, so each joint begins with
a look behind it, and its backing is "not seen" until then. Old and new move apart: slack stays in the sheet.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import ClassVar

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import (
    PHASE_AFTER,
    PHASE_BEFORE,
    PHASE_CLADDING,
    PHASE_EXISTING,
    Check,
    Claim,
    Context,
    Detail,
    Part,
    Piece,
    PieceClaim,
    Place,
    RunClaim,
    Step,
    TieClaim,
)
from lapwright.details.heat import Keys
from lapwright.details.opening_case import at_origin
from lapwright.details.places import joints
from lapwright.details.runs import (
    Line,
    along,
    climbing,
    free_runs,
    inside_of,
    left_over,
    opening_shapes,
    span_on,
    strip_product,
    torn_off,
    wall_of,
)
from lapwright.details.shapes import IN, limits_of, one
from lapwright.details.work import check, face_length, of_step, say, step
from lapwright.geometry import Point, merged, polygons, quad
from lapwright.survey.model import Face, Zone

# Below every strip of an opening: a course lies over the joint's strip, a sill strip may lie over that course.
PHASE_JOINT = PHASE_BEFORE - 2
PHASE_METAL = PHASE_BEFORE - 1
PHASE_TUCK = PHASE_AFTER + 40
SEAL_M = 0.5 * IN
MEET_M = 7 * IN  # a little more than a strip reaches past its joint
MOVES = (
    "Old and new move 1/4 to 1/2 in against each other here: no rigid glued edge across the joint (common practice)."
)
LATER = PHASE_CLADDING + 90


class Boundary(Detail):
    """What all joints share: a look behind the old cladding first, a strip with slack, a bead at the end."""

    settings = {
        "tuck": 6 * IN,
        "reach": 6 * IN,
        "lap": 6 * IN,
        "slack": 0.5 * IN,
        "end_clear": 12 * IN,
        "course_clear": 4 * IN,
        "old_cladding": 0.75 * IN,
        "drip": 0.25 * IN,
    }
    sources = {
        "tuck": "IRC R703.2: joints at least 6 in",
        "reach": "IRC R703.2: joints at least 6 in",
        "lap": "IRC R703.2: joints at least 6 in",
        "slack": "common practice: old-to-new moves 1/4-1/2 in",
        "end_clear": "common practice",
        "course_clear": "common practice",
        "old_cladding": "common practice: measure it",
        "drip": "common practice: drips 1/4 in off the face below",
    }
    old_at: ClassVar[str] = ""  # words: where the old is
    keeps: ClassVar[bool] = True  # old cladding with something unseen behind it
    sealed: ClassVar[bool] = False  # a bead closes the joint; never where water or air of the gap must get out
    strip_phase: ClassVar[int] = PHASE_JOINT

    # ------------------------------------------------------------ claims

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        assert place.line is not None
        if place.assembly is None or place.assembly.product("barrier") is None:
            return
        s = {k: ctx.setting(self, k) for k in self.settings}
        yield from self._joint(place, ctx, s)
        if self.sealed and (place.other is not None):
            yield from self._bead(place)

    def _joint(self, place: Place, ctx: Context, s: dict[str, float]) -> Iterator[Claim]:
        return iter(())

    def _lines(self, place: Place, low: float, high: float) -> list[Line]:
        assert place.line is not None
        return free_runs(place.line, low, high, place.face.outline, opening_shapes(place))

    def _felt(self, place: Place, ctx: Context) -> Iterator[PieceClaim]:
        """Yield the old felt behind the kept cladding, once for each kept zone: taken as there, not seen."""
        old = place.other_zone
        mine = [
            p
            for p in joints(place.face, ctx)
            if old is not None and p.other_zone is not None and p.other_zone.id == old.id
        ]
        if old is not None and mine and mine[0].id == place.id:
            yield old_felt(place, place.face, old)

    def _strip(
        self, place: Place, ctx: Context, s: dict[str, float], low: float, high: float, over_field: BaseGeometry | None,
        under: tuple[str, ...] = (),
        over: tuple[str, ...] = (),
    ) -> Iterator[RunClaim | PieceClaim]:  # fmt: skip
        product = strip_product(place, ctx, high - low)
        whole = self._lines(place, low, high)
        runs = [part for line in whole for part in climbing(line, product.number("hold_length_m"), s["lap"])]
        for n, line in enumerate(runs):
            yield RunClaim(
                key=f"{place.id}/strip{'' if n == 0 else f'-{n + 1}'}",
                place=place.id,
                role="joint-strip",
                layer="strip",
                product=product.id,
                surface=place.face.id,
                start=line[0],
                end=line[1],
                low=low,
                high=high,
                phase=self.strip_phase,
                step=f"{place.id}/strip",
                rank=1 + n,
                max_m=product.number("hold_length_m"),
                lap_m=s["lap"],
                over_field=over_field,
                under=under,
                over=over,
                facts={"movement": True, "slack_m": s["slack"]},
            )
        for n, tip in enumerate(_tips(place, whole, low, high, s["lap"])):
            last = not runs or tip.centroid.y > max(p[1] for p in runs[0])
            yield PieceClaim(
                key=f"{place.id}/strip-tip-{n + 1}",
                place=place.id,
                role="joint-strip",
                layer="strip",
                product=product.id,
                parts=(Part(place.face.id, "face", tip),),
                phase=self.strip_phase,
                step=f"{place.id}/strip",
                rank=50 + n if last else 0,
                flat=at_origin(tip),
                over_field=over_field,
                under=under,
                over=over,
                facts={"movement": True, "slack_m": s["slack"]},
            )

    def _bead(self, place: Place) -> Iterator[Claim]:
        """Yield sealant over backer rod between the new cladding's edge and the old, up the joint."""
        assert place.line is not None
        # the new zone lies to the left of the upright line at its right end
        low, high = (0.0, SEAL_M) if place.sort.endswith("right") else (-SEAL_M, 0.0)
        area = one(quad(*place.line, low, high).intersection(inside_of(place)))
        for name, product, rank in (("backer", "backer-rod", 8), ("bead", "sealant", 9)):
            yield PieceClaim(
                key=f"{place.id}/{name}",
                place=place.id,
                role=f"joint-{name}",
                layer="sealant",
                product=product,
                parts=(Part(place.face.id, "face", area),),
                phase=LATER,
                step=f"{place.id}/seal",
                rank=rank,
                held="sealed" if name == "bead" else "loose",
                quantity=(math.dist(*place.line), "m"),
                facts={"movement": True},
            )

    def _tie(self, place: Place, water: tuple[str, ...] | None, air: tuple[str, ...], heat: Keys = None) -> Claim:
        assert place.line is not None
        return TieClaim(place.id, (wall_of(place), _beyond(place)), place.face.id, place.line, water, air, None, heat)

    # ------------------------------------------------------------ steps and checks

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        assert place.line is not None
        at = f"{place.face.id}, {say(ctx, math.dist(*place.line))} {self.old_at}"
        first: tuple[str, ...] = torn_off(place)
        if self.keeps:
            yield step(
                ctx,
                place,
                self.name,
                "probe",
                f"Loosen the edge of the old cladding along {at} and look behind it: felt and its laps, rot, where water that "
                "gets behind it goes; photograph every 4 ft.",
                [("check", max(1.0, math.dist(*place.line) / 1.2))],
                pieces,
                needs=first,
                reason="" if of_step(pieces, place, "probe") else "looks and photographs; no material",
            )
            first = ("probe",)
        yield from self._work(place, ctx, pieces, at, first)
        if of_step(pieces, place, "seal"):
            yield step(
                ctx,
                place,
                self.name,
                "seal",
                f"Backer rod and sealant along {at}, {say(ctx, SEAL_M)} wide, on two sides only; leave the foot open to drain. {MOVES}",
                [("sealant", math.dist(*place.line))],
                pieces,
                needs=("strip", f"{wall_of(place)}/cladding/siding"),
                limits=limits_of(ctx.catalog["sealant"]),
            )

    def _work(self, place: Place, ctx: Context, pieces: list[Piece], at: str, needs: tuple[str, ...]) -> Iterator[Step]:
        yield self._strip_step(place, ctx, pieces, f"Strip along {at}", needs)

    def _strip_step(
        self, place: Place, ctx: Context, pieces: list[Piece], text: str, needs: tuple[str, ...], slack: bool = True
    ) -> Step:
        mine = of_step(pieces, place, "strip")
        product = ctx.catalog[mine[0].product or ""] if mine else strip_product(place, ctx, 0.1)
        loose = (
            f" Leave the backing on over {say(ctx, 1 * IN)} each side of the joint, so that it can move."
            if slack
            else ""
        )
        return step(
            ctx,
            place,
            self.name,
            "strip",
            f"{text}; upper lengths over lower; roll.{loose}",
            [("strip", max(face_length(mine), 0.1))],
            pieces,
            needs=needs,
            limits=limits_of(product),
            reason="" if mine else "no strip fits here; close it with liquid film by hand",
        )

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        if self.keeps:
            yield check(
                place,
                "probe",
                "behind",
                f"behind the old cladding of {place.face.id} {self.old_at}: felt there and sound, no rot, water has a way out",
                "yes/no",
                1.0,
                1.0,
                "Do not tie to it: take off old cladding until it is sound, and write it in house.yaml under found.",
                "IRC R703.1.1; hose test where in doubt, common practice",
                count=3,
            )
        if of_step(pieces, place, "strip"):
            wide = ctx.setting(self, "tuck")
            yield check(
                place,
                "strip",
                "lap",
                f"strip {self.old_at} of {place.face.id}: width behind or onto the old",
                "mm",
                round(self._lap(place, pieces, wide) * 1000, 1),
                None,
                "Loosen more of the old cladding; a narrower lap relies on glue.",
                self.sources["tuck"],
                count=3,
            )

    def _lap(self, place: Place, pieces: list[Piece], tuck: float) -> float:
        return tuck


def _tips(place: Place, runs: Sequence[Line], low: float, high: float, lap: float) -> Iterator[Polygon]:
    """Yield what a square-cut strip leaves bare at a slope or an opening, lapped onto its neighbor, cut to shape."""
    assert place.line is not None
    total = math.dist(*place.line)
    for a, b in left_over((0.0, total), (span_on(place.line, run) for run in runs), 0.01):
        part = (along(place.line, max(0.0, a - lap)), along(place.line, min(total, b + lap)))
        shape = quad(*part, low, high).intersection(place.face.outline).difference(merged(opening_shapes(place)))
        yield from (p for p in polygons(shape) if p.area > IN**2)


def _beyond(place: Place) -> str:
    """Return the other side of the joint by name: a kept zone, a neighbor, or the end of the survey."""
    if place.other_zone is not None:
        return f"{place.face.id}/{place.other_zone.id}"
    return place.other.id if place.other is not None else "beyond"


def depth(place: Place, want: float) -> float:
    """Return how far a strip can go onto the old side: the wanted width or what there is of it."""
    if place.other_zone is None or place.line is None:
        return want
    x0, y0, x1, y1 = place.other_zone.polygon.bounds
    upright = abs(place.line[1][0] - place.line[0][0]) < 1e-6
    return min(want, float(x1 - x0) if upright else float(y1 - y0))


def felt_key(face: Face, zone: Zone) -> str:
    """Return the key of the old felt of a kept zone."""
    return f"{face.id}/{zone.id}/old-felt"


def old_felt(place: Place, face: Face, zone: Zone) -> PieceClaim:
    """Return the old felt of a kept zone as one existing thing; `place` is the joint that looks behind it."""
    area = zone.polygon.difference(merged([o.polygon for o in face.openings]))
    return PieceClaim(
        key=felt_key(face, zone),
        place=place.id,
        role="old-felt",
        layer="existing",
        product=None,
        parts=tuple(Part(face.id, "face", part) for part in polygons(area)),
        phase=PHASE_EXISTING,
        step=f"{place.id}/probe",
        held="fastened",
        facts={"not_seen": True, "behind": "old cladding"},
    )


def neighbors(place: Place, ctx: Context) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the keys of joint strips that a level joint's strip lies (over, under), whatever the time.

    What comes from above goes over what is below: an upright joint that rises from this line's end lies over it,
    one that hangs from its end lies under it; new above old lies over new below the same old.
    """
    over: list[str] = []
    under: list[str] = []
    assert place.line is not None
    for key, low, high in _upright_strips(place, ctx):
        if any(_meet(low, end) for end in place.line):
            under += [f"{key}/strip", f"{key}/strip-tip-1"]
        elif any(_meet(high, end) for end in place.line):
            over += _all_lengths(key)
    for other in joints(place.face, ctx):
        if other.line is None or other.other_zone is None or other.other_zone is not place.other_zone:
            continue
        if {place.sort, other.sort} == {"above", "below"}:
            higher = max(p[1] for p in other.line) >= max(p[1] for p in place.line)
            if place.sort == "above" and higher:
                under += _all_lengths(other.id)
            if place.sort == "below" and not higher:
                over += _all_lengths(other.id)
    return tuple(over), tuple(under)


def _all_lengths(key: str) -> list[str]:
    """Return the keys that the strip of a joint may bear: ten lengths and three tips are more than any wall asks."""
    return [f"{key}/strip", *(f"{key}/strip-{n}" for n in range(2, 11)), *(f"{key}/strip-tip-{n}" for n in (1, 2, 3))]


def _meet(a: Point, b: Point) -> bool:
    """Return whether the strips of two joints that end at these points cover each other there."""
    return abs(a[0] - b[0]) < 1e-3 and abs(a[1] - b[1]) < MEET_M


def _upright_strips(place: Place, ctx: Context) -> Iterator[tuple[str, Point, Point]]:
    """Yield (place, low end, high end) of each upright joint on the face, returns from its neighbors included."""
    face = place.face
    for other in joints(face, ctx):
        if other.sort in ("left", "right") and other.line is not None:
            yield other.id, *other.line
    for neighbor, sort, x in ((face.left, "end-right", 0.0), (face.right, "end-left", face.width_m)):
        for other in joints(ctx.survey.face(neighbor), ctx) if neighbor else []:
            if other.sort == sort and other.line is not None and other.other is not None and other.other.id == face.id:
                yield other.id, (x, other.line[0][1]), (x, other.line[1][1])
