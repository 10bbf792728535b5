"""One penetration while a detail writes its claims: its box, the room round it, what runs in it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import PHASE_AFTER, Context, Held, Part, PieceClaim, Place
from lapwright.details.depths import depths_of
from lapwright.details.opening_case import around
from lapwright.details.openings import OpeningDetail
from lapwright.details.runs import inside_of
from lapwright.details.shapes import IN, below, one
from lapwright.geometry import box
from lapwright.survey.model import Opening, Penetration

Box = tuple[float, float, float, float]
# Later than every strip of an opening, so that a collar close to one lies over it; before the top strips.
PHASE_PIPE = PHASE_AFTER + 20
LEAST_M = 2 * IN  # upper over lower at least 2 in: IRC R703.2
TRIM_M = 1 * IN  # a flange cut narrower than this holds nothing; common practice: 1 in past the edge
FLAP_M = 1.4 * IN  # a flange of 2 in leaves no more above its slit; the maker sizes it, sheet decides
CHALK_M = {"imperial": 0.5 * IN, "metric": 0.01}  # chalk lines fall on half inches, or centimetres
SHY_M = 8 * IN  # two penetrations closer than this share the room between them; common practice, no source

# What runs in it, from the survey's free words. The first list that fits wins.
KINDS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("plumbing", ("plumbing", "soil stack", "drain vent", "condensate")),
    ("intake", ("combustion", "intake", "fresh air", "supply air")),
    ("dryer", ("dryer",)),
    ("hot", ("flue", "chimney", "furnace", "boiler", "water heater", "stove", "exhaust gas", "b-vent", "fireplace")),
    ("kitchen", ("range", "kitchen", "cooker")),
    ("bath", ("bath", "toilet", "fan", "exhaust air")),
    ("gas", ("gas", "propane")),
    ("power", ("power", "electric", "light", "lamp", "outlet", "service", "solar")),
    ("cooling", ("heat pump", "refrigerant", "line set", "lineset", "air condition", "mini split", "mini-split")),
    ("water", ("water", "hose", "bib", "sill cock", "sillcock", "spigot")),
    ("signal", ("phone", "data", "aerial", "antenna", "cable tv", "fiber", "internet")),
)


def carries(through: str) -> str:
    """Return what a penetration carries, as one of the words of `KINDS`, or "" when the survey does not say.

    >>> carries("Bath fan"), carries("plumbing vent"), carries("flue of the boiler"), carries("")
    ('bath', 'plumbing', 'hot', '')
    """
    said = through.lower()
    return next((kind for kind, words in KINDS if any(w in said for w in words)), "")


def is_round(poly: Polygon) -> bool:
    """Return whether a polygon is a circle, drawn with however few chords, and no box.

    A circle fills pi/4 = 79 % of its box, an octagon in it 71 %, a box 100 %.

    >>> is_round(box(0, 0, 1, 1))
    False
    """
    x0, y0, x1, y1 = poly.bounds
    wide, high = float(x1 - x0), float(y1 - y0)
    return abs(wide - high) <= 0.05 * max(wide, high) and 0.6 <= float(poly.area) / (wide * high) <= 0.85


@dataclass(frozen=True)
class Room:
    """How far a collar may reach round the penetration's box, in metres."""

    left: float
    right: float
    down: float
    up: float

    @property
    def least(self) -> float:
        """The narrowest of the four."""
        return min(self.left, self.right, self.down, self.up)


def _strip_box(place: Place, ctx: Context, opening: Opening) -> Box:
    """Return the box that the strips round an opening may fill."""
    s = OpeningDetail.settings
    zoned = replace(place, thing=opening)
    a = around(zoned, ctx, s["ear"], s["hang"], s["head_rise"])
    return a.x0 - a.ear_left, a.sill - a.hang, a.x1 + a.ear_right, a.head + a.rise


def _gaps(mine: Box, other: Box) -> dict[str, float]:
    """Return the distance to another box on each side of mine; negative where they overlap in that direction."""
    return {
        "left": mine[0] - other[2],
        "right": other[0] - mine[2],
        "down": mine[1] - other[3],
        "up": other[1] - mine[3],
    }


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] - 1e-9 and b[0] < a[2] - 1e-9 and a[1] < b[3] - 1e-9 and b[1] < a[3] - 1e-9


def grown(at: Box, room: Room) -> Box:
    """Return the box that reaches from the penetration as far as the room."""
    return at[0] - room.left, at[1] - room.down, at[2] + room.right, at[3] + room.up


def room(place: Place, ctx: Context, want: Room) -> Room:
    """Return the room for a collar: the wanted reach, less where openings' strips, other things or the zone's edge begin.

    Where less than 1 in is left beside an opening's strips the collar laps onto them, 2 in at the most.
    Two penetrations share what is between them.
    """
    thing = place.thing
    assert isinstance(thing, Penetration)
    at: Box = thing.polygon.bounds
    zone = inside_of(place).bounds
    got = {
        "left": min(want.left, at[0] - zone[0]), "right": min(want.right, zone[2] - at[2]),
        "down": min(want.down, at[1] - zone[1]), "up": min(want.up, zone[3] - at[3]),
    }  # fmt: skip
    for opening in place.face.openings:
        strips = _strip_box(place, ctx, opening)
        if not _meet(grown(at, Room(**got)), strips):
            continue
        gaps, bare = _gaps(at, strips), _gaps(at, opening.box)
        side = max(gaps, key=lambda k: (gaps[k], bare[k]))
        if gaps[side] < TRIM_M:
            side = max(bare, key=lambda k: bare[k])
            got[side] = min(got[side], max(min(LEAST_M, bare[side]), 0.0))
        else:
            got[side] = min(got[side], gaps[side])
    for other in place.face.penetrations:
        if other.id == thing.id:
            continue
        there: Box = other.polygon.bounds
        shy = (there[0] - 2 * SHY_M, there[1] - 2 * SHY_M, there[2] + 2 * SHY_M, there[3] + 2 * SHY_M)
        if _meet(at, shy):
            gaps = _gaps(at, there)
            side = max(gaps, key=lambda k: gaps[k])
            got[side] = min(got[side], max(gaps[side] / 2 - 1e-4, 0.0))
    return Room(**{k: max(v, 0.0) for k, v in got.items()})


@dataclass(frozen=True)
class Spot:
    """A penetration with everything its claims are made from. s: the detail's figures in metres."""

    place: Place
    ctx: Context
    thing: Penetration
    room: Room
    s: Mapping[str, float]
    flap_m: float = LEAST_M  # how much flap has to come down at least

    @property
    def face(self) -> str:
        """The face's id."""
        return self.place.face.id

    @property
    def box(self) -> Box:
        """(left, bottom, right, top) of what passes the wall, in metres."""
        left, bottom, right, top = self.thing.polygon.bounds
        return left, bottom, right, top

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in metres."""
        x0, y0, x1, y1 = self.box
        return x1 - x0, y1 - y0

    @property
    def sheet(self) -> str:
        """What a collar is cut from: the barrier's own sheet."""
        return self.ctx.product(self.place, "barrier", "self-adhered-sheet").id

    @property
    def sticks(self) -> bool:
        """Whether the barrier's sheet is self-adhered."""
        return bool(self.ctx.catalog[self.sheet].word("adhesive"))

    def key(self, name: str) -> str:
        """Return the key of a claim of this place."""
        return f"{self.place.id}/{name}"

    def field(self, x0: float, y0: float, x1: float, y1: float) -> Polygon:
        """Return a rectangle cut to the room and to the place's own zone, what passes the wall left out."""
        a0, b0, a1, b1 = grown(self.box, self.room)
        area = box(x0, y0, x1, y1).intersection(box(a0, b0, a1, b1)).intersection(inside_of(self.place))
        return one(area.difference(self.thing.polygon))

    def slit_at(self, y: float) -> float:
        """Return the height of the slit next above `y` that lies midway between two chalk heights.

        So no course begins or ends within a hair of it: a lip has 1/4 in at least.
        """
        grid = CHALK_M[self.ctx.survey.units]
        return (math.ceil((y - grid / 2) / grid - 1e-9) + 0.5) * grid

    def on_strips(self) -> list[str]:
        """Return the openings on whose strips the collar comes to lie."""
        return self._on_strips

    @cached_property
    def _on_strips(self) -> list[str]:
        around_it = grown(self.box, self.room)
        return [o.id for o in self.place.face.openings if _meet(around_it, _strip_box(self.place, self.ctx, o))]

    def tucked(self, slit: float) -> bool:
        """Return whether a flap of the course can come down over the collar: room for enough of it above the slit, and
        no opening's strips in the way (those lie under or over the course by their own rule)."""
        return not self.on_strips() and self.box[3] + self.room.up - slit >= self.flap_m - 1e-9

    def flap(self, poly: Polygon, slit: float) -> float:
        """Return how far the flap of the course comes down over a piece, in metres; 0 where there is none."""
        return max(float(poly.bounds[3]) - slit, 0.0) if self.tucked(slit) else 0.0

    def over(self, poly: Polygon, slit: float) -> BaseGeometry:
        """Return where a piece lies over the courses: below the slit, or all of it where no flap can be."""
        return below(poly, slit) if self.tucked(slit) else poly

    def own(self, area: Polygon) -> Polygon:
        """Return an area cut off halfway to every other penetration: what lies beyond is for its collar."""
        x0, y0, x1, y1 = self.box
        far = 100.0
        for other in self.place.face.penetrations:
            if other.id == self.thing.id:
                continue
            gaps = _gaps(self.box, other.polygon.bounds)
            side = max(gaps, key=lambda k: gaps[k])
            half = max(gaps[side] / 2, 0.0)
            mine = {
                "left": (x0 - half, -far, far, far), "right": (-far, -far, x1 + half, far),
                "down": (-far, y0 - half, far, far), "up": (-far, -far, far, y1 + half),
            }[side]  # fmt: skip
            area = one(area.intersection(box(*mine)))
        return area

    def off_sills(self, area: Polygon) -> Polygon:
        """Return a film's area without what lies just below an opening's sill: film there would seal a drain."""
        for opening in self.place.face.openings:
            x0, sill, x1, _ = opening.box
            left = one(area.difference(box(x0 - LEAST_M, sill - LEAST_M, x1 + LEAST_M, sill)))
            area = left if left.area > 1e-4 else area
        return area

    def piece(
        self, name: str, role: str, layer: str, product: str | None, parts: list[Polygon], rank: int, step: str,
        flat: Polygon | None = None, over_field: BaseGeometry | None = None, held: Held = "adhered",
        quantity: tuple[float, str] | None = None, phase: int = PHASE_PIPE, **facts: object,
    ) -> PieceClaim:  # fmt: skip
        """Return a claim of this place on its face, keyed, phased and with its step named."""
        return PieceClaim(
            key=self.key(name), place=self.place.id, role=role, layer=layer, product=product,
            parts=tuple(Part(self.face, "face", p) for p in parts), phase=phase, step=self.key(step), rank=rank, held=held,
            flat=flat, over_field=over_field, quantity=quantity, facts=facts,
        )  # fmt: skip


def new_face_m(place: Place, ctx: Context) -> float | None:
    """Return how far the new face stands out from the barrier, in metres; None when a layer's thickness is not known, or
    there is no barrier."""
    if place.assembly is None or not any(y.layer == "barrier" for y in place.assembly.layers):
        return None
    found = depths_of(place.assembly, ctx.catalog)
    return None if found.missing else found.face_m
