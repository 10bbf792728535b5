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

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import ClassVar

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import (
    PHASE_AFTER,
    PHASE_BEFORE,
    Check,
    Claim,
    ClearClaim,
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
from lapwright.details.opening_work import opening_checks, opening_steps
from lapwright.details.shapes import IN, below, one, rect_flat
from lapwright.findings import Finding, Where
from lapwright.geometry import box, merged
from lapwright.survey.model import Opening

Fold = tuple[tuple[tuple[float, float], tuple[float, float]], float]


@dataclass(frozen=True)
class Around:
    """The opening's box and how much room there is round it for strips, in metres on its face."""

    x0: float
    sill: float
    x1: float
    head: float
    spring: float  # height to which the jambs are plumb (= head for a rectangle)
    ear_left: float
    ear_right: float
    hang: float
    rise: float

    @property
    def width(self) -> float:
        return self.x1 - self.x0


def around(place: Place, ear: float, hang: float, rise: float) -> Around:
    """Return the room round an opening: the wanted reach, or half the way to the next opening or the wall's end."""
    opening = place.thing
    assert isinstance(opening, Opening)
    x0, y0, x1, y1 = opening.box
    zone = place.zone.polygon.bounds if place.zone else place.face.outline.bounds
    left, right, down, up = x0 - zone[0], zone[2] - x1, y0 - zone[1], zone[3] - y1
    for other in place.face.openings:
        if other.id == opening.id:
            continue
        a0, b0, a1, b1 = other.box
        if b0 < y1 + rise and b1 > y0 - hang:
            if a1 <= x0 + 1e-6:
                left = min(left, (x0 - a1) / 2)
            if a0 >= x1 - 1e-6:
                right = min(right, (a0 - x1) / 2)
        if a0 < x1 + ear and a1 > x0 - ear:
            if b1 <= y0 + 1e-6:
                down = min(down, (y0 - b1) / 2)
            if b0 >= y1 - 1e-6:
                up = min(up, (b0 - y1) / 2)
    spring = y1
    if opening.shape == "arch":
        points = [p[1] for p in opening.polygon.exterior.coords if abs(p[0] - x0) < 1e-4 or abs(p[0] - x1) < 1e-4]
        spring = max(points)
    return Around(x0, y0, x1, y1, spring, min(ear, left), min(ear, right), min(hang, down), min(rise, up))


class OpeningDetail(Detail):
    """What the four states share. Subclasses say what the strips turn onto and what is set."""

    state: ClassVar[str] = ""
    leg_plane: ClassVar[str] = "sill"
    sets_unit: ClassVar[bool] = True
    old_frame: ClassVar[bool] = False
    settings = {
        "ear": 8 * IN,
        "hang": 8 * IN,
        "head_rise": 6 * IN,
        "jamb_width": 6 * IN,
        "turn_in": 4 * IN,
        "frame_leg": 1 * IN,
        "end_lap_clear": 6 * IN,
        "course_clear": 3 * IN,
        "film_reach": 2 * IN,
        "tape_past": 1 * IN,
        "flashing_past": 4.5 * IN,
    }
    sources = {
        "ear": "common practice: strips run 6-9 in past the corner",
        "hang": "common practice: enough to lap the course below by 4 in",
        "head_rise": "common practice, more than the 2 in of IRC R703.2",
        "jamb_width": "common practice",
        "turn_in": "common practice: past the sheathing onto the framing",
        "frame_leg": "common practice",
        "end_lap_clear": "common practice: side laps 6-12 in off openings",
        "course_clear": "common practice",
        "film_reach": "common practice: film 2 in each way from the corner",
        "tape_past": "common practice",
        "flashing_past": "common practice: past the trim",
    }

    # ------------------------------------------------------------ claims

    def claims(self, place: Place, ctx: Context) -> Iterable[Claim]:
        opening = place.thing
        assert isinstance(opening, Opening)
        s = {k: ctx.setting(self, k) for k in self.settings}
        a = around(place, s["ear"], s["hang"], s["head_rise"])
        yield HoleClaim(place.id, place.face.id, "barrier", opening.polygon)
        for layer in ("mat", "furring", "cladding"):
            yield HoleClaim(place.id, place.face.id, layer, opening.polygon)
        yield from self._clear(place, a, s)
        if min(a.ear_left, a.ear_right) < 3 * IN or min(a.hang, a.rise) < 3 * IN:
            yield Finding(
                "opening.tight", "warn", f"There is less than 3 in of wall for the strips round {opening.id}.",
                "Strips need room to lap the courses.", "Carry one strip across both openings, or use liquid film there.",
                Where(ctx.survey.file, opening.where.line, place.face.id, opening.id, a.x0, a.sill), "common practice",
            )  # fmt: skip
        if opening.shape in ("round", "polygon"):
            yield from self._patches(place, ctx, a, s)
        else:
            yield from self._strips(place, ctx, a, s)
        yield from self._unit(place, ctx, a, s)
        yield from self._ties(place, a)

    def _key(self, place: Place, name: str) -> str:
        return f"{place.id}/{name}"

    def _phase(self) -> int:
        return PHASE_AFTER if self.state == "after" else PHASE_BEFORE

    def _clear(self, place: Place, a: Around, s: dict[str, float]) -> Iterator[Claim]:
        face, off, up = place.face.id, s["end_lap_clear"], s["course_clear"]
        yield ClearClaim(place.id, face, "barrier", box(a.x0 - off, a.sill - off, a.x1 + off, a.head + off), "end", 30.0,
                         "end laps stay off openings")  # fmt: skip
        yield ClearClaim(place.id, face, "barrier", box(a.x0, a.sill - a.hang - up / 2, a.x1, a.sill + up), "course", 2.0,
                         "no course lap at a sill or behind its strip's edge")  # fmt: skip
        yield ClearClaim(place.id, face, "barrier", box(a.x0, a.head - up, a.x1, a.head + a.rise + up / 2), "course", 2.0,
                         "no course lap at a head")  # fmt: skip

    def _sheet(self, place: Place, ctx: Context) -> str:
        """Strips are ripped from the barrier's own roll when it is self-adhered, else cut from flashing tape."""
        product = ctx.product(place, "barrier", "self-adhered-sheet")
        return product.id if product.word("adhesive") else "flashing-tape-9"

    def _piece(
        self, place: Place, name: str, role: str, layer: str, product: str | None, parts: list[Part], rank: int,
        step: str, flat: Polygon | None = None, folds: tuple[Fold, ...] = (), over_field: BaseGeometry | None = None,
        held: str = "adhered", over: tuple[str, ...] = (), quantity: tuple[float, str] | None = None, **facts: object,
    ) -> PieceClaim:  # fmt: skip
        return PieceClaim(
            key=self._key(place, name), place=place.id, role=role, layer=layer, product=product, parts=tuple(parts),
            phase=self._phase(), step=self._key(place, step), rank=rank, held=held, flat=flat, folds=folds,  # type: ignore[arg-type]
            over_field=over_field, over=over, quantity=quantity, facts=facts,
        )  # fmt: skip

    def _tuck(self, poly: Polygon, a: Around) -> BaseGeometry:
        """Return where a strip lies over the courses: below the sill for a tied-in unit, below the head's slit after."""
        return below(poly, a.head if self.state == "after" else a.sill)

    def _strips(self, place: Place, ctx: Context, a: Around, s: dict[str, float]) -> Iterator[Claim]:
        face, sheet = place.face.id, self._sheet(place, ctx)
        turn = s["frame_leg"] if self.old_frame else s["turn_in"]
        # sill: one sheet, cut at both corners; its middle folds in, its ears stay on the face beside the jambs
        up = s["turn_in"]
        ears = [box(a.x0 - a.ear_left, a.sill, a.x0, a.sill + up), box(a.x1, a.sill, a.x1 + a.ear_right, a.sill + up)]
        sill = one(merged([box(a.x0 - a.ear_left, a.sill - a.hang, a.x1 + a.ear_right, a.sill), *ears]))
        total = a.width + a.ear_left + a.ear_right
        flat = rect_flat(total, a.hang + up).difference(box(a.ear_left, a.hang + turn, a.ear_left + a.width, a.hang + up + 1))
        fold: Fold = (((a.ear_left, a.hang), (a.ear_left + a.width, a.hang)), 90.0)
        yield self._piece(
            place, "sill-strip", "sill-strip", "strip", sheet,
            [Part(face, "face", sill), Part(face, "under" if self.old_frame else "sill", box(a.x0, 0, a.x1, turn))],
            10, "sill", one(flat), (fold,), self._tuck(sill, a), loose_edge="bottom" if self.state != "after" else "",
            drain="bottom", knife=[[a.ear_left, a.hang], [a.ear_left + a.width, a.hang]],
        )  # fmt: skip
        if not self.old_frame:
            yield self._corner_film(place, ctx, a, s)
        leg_h = a.spring - a.sill
        for side, x, width in (("left", a.x0, min(s["jamb_width"], a.ear_left)), ("right", a.x1, min(s["jamb_width"], a.ear_right))):
            poly = box(x - width, a.sill, x, a.spring) if side == "left" else box(x, a.sill, x + width, a.spring)
            at = turn if side == "right" else width
            yield self._piece(
                place, f"jamb-strip-{side}", "jamb-strip", "strip", sheet,
                [Part(face, "face", poly), Part(face, "jamb", box(0, a.sill, turn, a.spring))],
                30, "jambs", rect_flat(width + turn, leg_h), (((((at, 0.0), (at, leg_h))), 90.0),), self._tuck(poly, a),
            )  # fmt: skip
        if a.spring < a.head - 1e-4:
            yield from self._arch_head(place, ctx, a, s)
            return
        down = [box(a.x0 - a.ear_left, a.head - up, a.x0, a.head), box(a.x1, a.head - up, a.x1 + a.ear_right, a.head)]
        head = one(merged([box(a.x0 - a.ear_left, a.head, a.x1 + a.ear_right, a.head + a.rise), *down]))
        flat = rect_flat(total, a.rise + up).difference(box(a.ear_left, -1, a.ear_left + a.width, up - turn))
        yield self._piece(
            place, "head-strip", "head-strip", "strip", sheet,
            [Part(face, "face", head), Part(face, "head", box(a.x0, 0, a.x1, turn))],
            40, "head", one(flat), ((((a.ear_left, up), (a.ear_left + a.width, up)), 90.0),),
            self._tuck(head, a), knife=[[a.ear_left, up], [a.ear_left + a.width, up]],
        )  # fmt: skip
        yield from self._slits(place, a)

    def _arch_head(self, place: Place, ctx: Context, a: Around, s: dict[str, float]) -> Iterator[Claim]:
        opening = place.thing
        assert isinstance(opening, Opening)
        lap = s["turn_in"]
        patch = one(
            box(a.x0 - a.ear_left, a.spring - lap, a.x1 + a.ear_right, a.head + a.rise).difference(opening.polygon)
        )
        yield self._piece(
            place, "head-strip", "head-strip", "strip", self._sheet(place, ctx), [Part(place.face.id, "face", patch)],
            40, "head", _at_origin(patch), (), self._tuck(patch, a),
        )  # fmt: skip
        arch = one(opening.polygon.buffer(s["film_reach"], join_style="mitre").difference(opening.polygon))
        arch = one(arch.intersection(box(a.x0 - 1, a.spring, a.x1 + 1, a.head + 1)))
        yield self._film(place, ctx, "arch-film", arch, 42, "head", a, a.width * 1.6 * lap)
        yield from self._slits(place, a)

    def _patches(self, place: Place, ctx: Context, a: Around, s: dict[str, float]) -> Iterator[Claim]:
        """Round and free shapes: a lower and an upper sheet with the shape cut out, film in the reveal."""
        opening = place.thing
        assert isinstance(opening, Opening)
        face, sheet, lap = place.face.id, self._sheet(place, ctx), s["turn_in"]
        middle = (a.sill + a.head) / 2
        low = one(box(a.x0 - a.ear_left, a.sill - a.hang, a.x1 + a.ear_right, middle).difference(opening.polygon))
        high = one(
            box(a.x0 - a.ear_left, middle - lap, a.x1 + a.ear_right, a.head + a.rise).difference(opening.polygon)
        )
        yield self._piece(place, "sill-strip", "sill-strip", "strip", sheet, [Part(face, "face", low)], 10, "sill",
                          _at_origin(low), (), self._tuck(low, a), drain="bottom",
                          loose_edge="bottom" if self.state != "after" else "")  # fmt: skip
        yield self._piece(place, "head-strip", "head-strip", "strip", sheet, [Part(face, "face", high)], 40, "head",
                          _at_origin(high), (), self._tuck(high, a))  # fmt: skip
        ring = one(opening.polygon.buffer(s["film_reach"]).difference(opening.polygon))
        half = one(ring.intersection(box(a.x0 - 1, a.sill - 1, a.x1 + 1, a.sill + (a.head - a.sill) / 3)))
        yield self._film(place, ctx, "reveal-film", half, 20, "corners", a, opening.polygon.length * s["turn_in"])
        yield from self._slits(place, a)

    def _slits(self, place: Place, a: Around) -> Iterator[Claim]:
        y = a.head if self.state == "after" else a.sill
        for x, end in ((a.x0, a.x0 - a.ear_left), (a.x1, a.x1 + a.ear_right)):
            yield SlitClaim(place.id, place.face.id, "barrier", (min(x, end), y), (max(x, end), y))
        opening = place.thing
        assert isinstance(opening, Opening)
        if opening.shape in ("round", "polygon", "arch") and (opening.shape != "arch" or self.state == "after"):
            yield SlitClaim(place.id, place.face.id, "barrier", (a.x0, y), (a.x1, y))

    def _corner_film(self, place: Place, ctx: Context, a: Around, s: dict[str, float]) -> Claim:
        """Sill corners are liquid: no pieced joint in a corner (ASTM E2112, general practice)."""
        r = s["film_reach"]
        spots = merged(
            [box(a.x0 - r, a.sill - r, a.x0, a.sill + r), box(a.x0, a.sill - r, a.x0 + r, a.sill),
             box(a.x1, a.sill - r, a.x1 + r, a.sill + r), box(a.x1 - r, a.sill - r, a.x1, a.sill)]
        )  # fmt: skip
        left = one(spots.intersection(box(a.x0 - 1, a.sill - 1, a.x0 + a.width / 2, a.sill + 1)))
        right = one(spots.intersection(box(a.x0 + a.width / 2, a.sill - 1, a.x1 + 1, a.sill + 1)))
        product = ctx.catalog["liquid-flashing"]
        reveal = 2 * (r * s["turn_in"] * 2)
        amount = (spots.area + reveal) * product.number("film_m", 0.0005)  # type: ignore[operator]
        return self._piece(
            place, "corner-film", "corner", "film", product.id,
            [Part(place.face.id, "face", left), Part(place.face.id, "face", right),
             Part(place.face.id, "sill", box(a.x0, 0, a.x1, s["turn_in"]))],
            20, "corners", None, (), merged([self._tuck(left, a), self._tuck(right, a)]),
            quantity=(amount * 1000, "L"), film_area_m2=spots.area + reveal,
        )  # fmt: skip

    def _film(self, place: Place, ctx: Context, name: str, poly: Polygon, rank: int, step: str, a: Around, reveal_m2: float) -> Claim:  # fmt: skip
        product = ctx.catalog["liquid-flashing"]
        area = poly.area + reveal_m2
        amount = area * product.number("film_m", 0.0005)  # type: ignore[operator]
        return self._piece(place, name, "corner", "film", product.id, [Part(place.face.id, "face", poly)], rank, step,
                           None, (), self._tuck(poly, a), quantity=(amount * 1000, "L"), film_area_m2=area)  # fmt: skip

    # ------------------------------------------------------------ unit, tapes, head flashing

    def _unit(self, place: Place, ctx: Context, a: Around, s: dict[str, float]) -> Iterator[Claim]:
        opening = place.thing
        assert isinstance(opening, Opening)
        face = place.face.id
        product = ctx.catalog[opening.unit or ("door-unit" if opening.kind == "door" else "window-unit")]
        if self.old_frame:
            yield PieceClaim(
                key=self._key(place, "old-unit"), place=place.id, role="old-unit", layer="existing", product=None,
                parts=(Part(face, "face", opening.polygon),), phase=0, step=self._key(place, "prepare"), held="fastened",
            )  # fmt: skip
            if self.state == "insert":
                insert = ctx.catalog[opening.unit or "insert-unit"]
                yield self._piece(place, "pan", "sill-pan", "film", "liquid-flashing",
                                  [Part(face, "sill", box(a.x0, 0, a.x1, s["turn_in"]))], 5, "pan", None, (),
                                  quantity=(a.width * s["turn_in"] * 1.5 * ctx.catalog["liquid-flashing"].number("film_m", 0.0005) * 1000, "L"),  # type: ignore[operator]
                                  film_area_m2=a.width * s["turn_in"] * 1.5)  # fmt: skip
                inner = one(opening.polygon.buffer(-0.02))
                yield self._piece(place, "unit", "unit", "unit", insert.id, [Part(face, "face", inner)], 50, "unit",
                                  held="fastened", quantity=(1.0, "each"))  # fmt: skip
        else:
            yield from self._new_unit(place, ctx, a, s, product.id, product.number("flange_m") or 0.0)
        bead = opening.polygon.length
        ring = one(opening.polygon.difference(opening.polygon.buffer(-0.01)))
        yield self._piece(place, "air-seal", "air-seal", "sealant", "sealant", [Part(face, "face", ring)], 70, "air-seal",
                          held="sealed", quantity=(bead, "m"))  # fmt: skip
        if opening.shape == "rectangle" or opening.shape == "arch":
            yield from self._head_flashing(place, ctx, a, s)

    def _new_unit(self, place: Place, ctx: Context, a: Around, s: dict[str, float], product: str, flange: float) -> Iterator[Claim]:  # fmt: skip
        opening = place.thing
        assert isinstance(opening, Opening)
        face = place.face.id
        body = opening.polygon.buffer(flange, join_style="mitre") if flange else opening.polygon
        yield self._piece(place, "unit", "unit", "unit", product, [Part(face, "face", one(body))], 50, "unit",
                          held="fastened", over_field=self._tuck(one(body), a), quantity=(1.0, "each"))  # fmt: skip
        if not flange:
            return
        if opening.shape in ("round", "polygon"):
            ring = one(opening.polygon.buffer(flange + s["tape_past"], join_style="mitre").difference(opening.polygon))
            top = one(ring.intersection(box(a.x0 - 1, (a.sill + a.head) / 2, a.x1 + 1, a.head + 1)))
            yield self._film(place, ctx, "flange-film", top, 60, "tapes", a, 0.0)
            return
        tape = ctx.catalog["flashing-tape-4"]
        width = tape.needed("width_m")
        past = flange + s["tape_past"]
        for side, x in (("left", a.x0), ("right", a.x1)):
            reach = min(width, (a.ear_left if side == "left" else a.ear_right) - 1e-3)
            poly = box(x - reach, a.sill, x, a.spring) if side == "left" else box(x, a.sill, x + reach, a.spring)
            yield self._piece(place, f"flange-tape-{side}", "flange-tape", "tape", tape.id, [Part(face, "face", poly)], 55,
                              "tapes", rect_flat(a.spring - a.sill, width), (), self._tuck(poly, a), held="taped")  # fmt: skip
        if a.spring < a.head - 1e-4:
            curve = one(one(body).buffer(s["tape_past"]).difference(opening.polygon))
            curve = one(curve.intersection(box(a.x0 - 1, a.spring, a.x1 + 1, a.head + 1)))
            yield self._film(place, ctx, "flange-film", curve, 60, "tapes", a, 0.0)
            return
        left, right = min(past + 1 * IN, a.ear_left), min(past + 1 * IN, a.ear_right)
        top = box(a.x0 - left, a.head, a.x1 + right, a.head + min(width, a.rise))
        yield self._piece(place, "flange-tape-head", "flange-tape", "tape", tape.id, [Part(face, "face", top)], 60, "tapes",
                          rect_flat(a.width + left + right, width), (), self._tuck(top, a), held="taped")  # fmt: skip

    def _head_flashing(self, place: Place, ctx: Context, a: Around, s: dict[str, float]) -> Iterator[Claim]:
        """Bent metal over the trim: upper leg against the wall under the course, ends past the trim."""
        face = place.face.id
        past_left, past_right = min(s["flashing_past"], a.ear_left), min(s["flashing_past"], a.ear_right)
        base = a.head + 1.25 * IN
        leg = min(3 * IN, max(a.rise - 1.5 * IN, 1.5 * IN))
        claim = RunClaim(
            key=self._key(place, "head-flashing"), place=place.id, role="head-flashing", layer="flashing",
            product="head-flashing-metal", surface=face, start=(a.x0 - past_left, base), end=(a.x1 + past_right, base),
            low=0.0, high=leg, phase=self._phase(), step=self._key(place, "flashing"), rank=65, held="fastened",
            legs=(("under", 1.25 * IN, 80.0), ("under", 0.5 * IN, 80.0)), lap_m=4 * IN,
            over_field=Polygon(), facts={"slope_deg": 10.0, "end_dams": True, "drip": True},
        )  # fmt: skip
        yield claim

    # ------------------------------------------------------------ ties

    def _ties(self, place: Place, a: Around) -> Iterator[Claim]:
        sides = (f"{place.face.id}/{place.zone.id if place.zone else 'main'}", place.id)
        face, key = place.face.id, self._key
        air = (key(place, "air-seal"),)
        strips = {
            "sill": ((a.x0, a.sill), (a.x1, a.sill)),
            "left": ((a.x0, a.sill), (a.x0, a.spring)),
            "right": ((a.x1, a.sill), (a.x1, a.spring)),
            "head": ((a.x0, a.head), (a.x1, a.head)),
        }
        opening = place.thing
        assert isinstance(opening, Opening)
        names = {"sill": "sill-strip", "left": "jamb-strip-left", "right": "jamb-strip-right", "head": "head-strip"}
        if opening.shape in ("round", "polygon"):
            names = {"sill": "sill-strip", "head": "head-strip"}
        for side, strip in names.items():
            by = key(place, strip)
            yield TieClaim(f"{place.id}/{side}", sides, face, strips[side], ("field", by), (by, *air), None, None)

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterable[Step]:
        return opening_steps(self, place, ctx, pieces)

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterable[Check]:
        return opening_checks(self, place, ctx, pieces)


def _at_origin(poly: Polygon) -> Polygon:
    from shapely.affinity import translate

    x0, y0, *_ = poly.bounds
    return translate(poly, -x0, -y0)


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
    sets_unit = False
    old_frame = True


class UnitInsert(OpeningDetail):
    """New unit inside the old frame; the barrier ties to the old frame."""

    name = "opening-insert"
    title = "New unit inside the old frame"
    places = (("opening", "insert"),)
    state = "insert"
    old_frame = True
