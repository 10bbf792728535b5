"""One opening while a detail writes its claims: its box, the room round it, and short cuts to name pieces."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from shapely import Polygon
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import PHASE_AFTER, PHASE_BEFORE, Context, Held, Part, PieceClaim, Place
from lapwright.details.opening_depth import Seat
from lapwright.details.places import is_new
from lapwright.details.shapes import IN, below, one
from lapwright.geometry import SLIVER_M2, box, merged, polygons
from lapwright.survey.model import Opening, OpeningState

AT_BASE_M = 1 * IN  # less wall than this below a sill counts as none
LEAST_M = 0.5 * IN  # a strip narrower than this is left out: own choice
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
        """Width of the rough opening in metres."""
        return self.x1 - self.x0


def skin_round(place: Place, ctx: Context) -> BaseGeometry:
    """Return where strips may lie on the place's face: new skin, other openings left out."""
    thing = place.thing
    name = "skin round", getattr(thing, "id", None), place.zone is not None
    return ctx.once(name, place.face, lambda: _skin_round(place, ctx))


def _skin_round(place: Place, ctx: Context) -> BaseGeometry:
    face, thing = place.face, place.thing
    new = ctx.once("new skin", face, lambda: merged(z.polygon for z in face.zones if is_new(z))) if place.zone else face.outline
    others = [o.polygon for o in place.face.openings if thing is None or o.id != thing.id]
    return new.difference(merged(others)) if others else new


def around(place: Place, ctx: Context, ear: float, hang: float, rise: float) -> Around:
    """Return the room round an opening: the wanted reach, less where the new skin ends, half the way to the next opening."""
    name = "around", getattr(place.thing, "id", None), place.zone is not None, ear, hang, rise
    return ctx.once(name, place.face, lambda: _around(place, ctx, ear, hang, rise))


def _around(place: Place, ctx: Context, ear: float, hang: float, rise: float) -> Around:
    opening = place.thing
    assert isinstance(opening, Opening)
    x0, y0, x1, y1 = opening.box
    left, right, down, up = ear, ear, hang, rise
    for m in polygons(box(x0 - ear, y0 - hang, x1 + ear, y1 + rise).difference(skin_round(place, ctx))):
        beside = m.intersection(box(x0 - ear, y0, x1 + ear, y1)).bounds
        if beside and not math.isnan(beside[0]):
            left = min(left, max(0.0, x0 - min(beside[2], x0))) if beside[0] < x0 - 1e-6 else left
            right = min(right, max(0.0, max(beside[0], x1) - x1)) if beside[2] > x1 + 1e-6 else right
        within = m.intersection(box(x0, y0 - hang, x1, y1 + rise)).bounds
        if within and not math.isnan(within[0]):
            down = min(down, max(0.0, y0 - min(within[3], y0))) if within[1] < y0 - 1e-6 else down
            up = min(up, max(0.0, max(within[1], y1) - y1)) if within[3] > y1 + 1e-6 else up
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
    left, right, down, up = (round(v, 6) if v >= LEAST_M else 0.0 for v in (left, right, down, up))
    return Around(x0, y0, x1, y1, spring, left, right, down, up)


@dataclass(frozen=True)
class Case:
    """An opening with everything its claims are made from. s: the detail's figures in metres."""

    place: Place
    ctx: Context
    opening: Opening
    at: Around
    s: Mapping[str, float]
    state: OpeningState
    old_frame: bool
    skin: BaseGeometry  # where strips may lie
    seat: Seat  # how deep in the wall the unit sits

    @property
    def face(self) -> str:
        """The face's id."""
        return self.place.face.id

    @property
    def phase(self) -> int:
        """When it is done: before the barrier, or after it."""
        return PHASE_AFTER if self.state == "after" else PHASE_BEFORE

    @property
    def sheet(self) -> str:
        """Strips are ripped from the barrier's own roll when it is self-adhered, else from one of self-adhered sheet.

        No tape is wide enough: a course that no glue holds has to lap 6 in over the jamb strip (IRC R703.2), and the
        strip turns 4 in into the opening besides.
        """
        product = self.ctx.product(self.place, "barrier", "self-adhered-sheet")
        return product.id if product.word("adhesive") else "self-adhered-sheet"

    def patch_sheet(self, poly: Polygon) -> str:
        """Return what a patch is cut from: the strips' stock, or self-adhered sheet where that is too narrow."""
        x0, y0, x1, y1 = poly.bounds
        stock = self.ctx.catalog[self.sheet]
        return stock.id if min(x1 - x0, y1 - y0) <= stock.needed("width_m") else "self-adhered-sheet"

    def trimmed(self, poly: Polygon, flat: BaseGeometry, x: float, y: float) -> tuple[Polygon, Polygon]:
        """Return a strip's area on the face and its flat, less what the edge of the skin or another opening cuts off.

        x, y: where the flat's origin lies on the face.
        """
        off = poly.difference(self.skin)
        if off.area < SLIVER_M2:
            return poly, one(flat)
        return one(poly.intersection(self.skin)), one(flat.difference(translate(off, -x, -y)))

    @property
    def film_m(self) -> float:
        """Wet film that the liquid's sheet asks for, in metres."""
        return self.ctx.catalog["liquid-flashing"].needed("film_m")

    @property
    def turn_m(self) -> float:
        """How far strips turn off the face: onto the old frame, in onto the framing, or out along a buck to its front."""
        if self.seat.buck is not None:
            return self.seat.plane_m
        return self.s["frame_leg"] if self.old_frame else self.s["turn_in"]

    def turned(self, x0: float, x1: float, upright: bool = False) -> Polygon:
        """Return where a strip lies off the face, from x0 to x1 (from y to y when upright): in from the face, or out on a buck."""
        low, high = (-self.turn_m, 0.0) if self.seat.buck is not None else (0.0, self.turn_m)
        return box(low, x0, high, x1) if upright else box(x0, low, x1, high)

    def key(self, name: str) -> str:
        """Return the key of a claim of this place."""
        return f"{self.place.id}/{name}"

    @property
    def turn_y(self) -> float:
        """Height at which courses change from under the lower strip to over the others (after: over to under the flap).

        At the sill of a plumb-sided opening, at the middle of a round or free one: on its lower half water must
        come out over the course, on its upper half the course must come over the strip.
        """
        if self.state == "after":
            return self.at.head
        return (self.at.sill + self.at.head) / 2 if self.opening.shape in ("round", "polygon") else self.at.sill

    def tuck(self, poly: Polygon) -> BaseGeometry:
        """Return where a strip lies over the courses."""
        return below(poly, self.turn_y)

    def piece(
        self,
        name: str,
        role: str,
        layer: str,
        product: str | None,
        parts: list[Part],
        rank: int,
        step: str,
        flat: Polygon | None = None,
        folds: tuple[Fold, ...] = (),
        over_field: BaseGeometry | None = None,
        held: Held = "adhered",
        quantity: tuple[float, str] | None = None,
        **facts: object,
    ) -> PieceClaim:
        """Return a claim of this place, keyed, phased and with its step named; parts without area are left out."""
        parts = [p for p in parts if p.polygon.area > SLIVER_M2]
        return PieceClaim(
            key=self.key(name),
            place=self.place.id,
            role=role,
            layer=layer,
            product=product,
            parts=tuple(parts),
            phase=self.phase,
            step=self.key(step),
            rank=rank,
            held=held,
            flat=flat,
            folds=folds,
            over_field=over_field,
            quantity=quantity,
            facts=facts,
        )


def at_origin(poly: Polygon) -> Polygon:
    """Return the polygon moved so that the lower-left corner of its box lies at (0, 0)."""
    x0, y0, *_ = poly.bounds
    return translate(poly, -x0, -y0)
