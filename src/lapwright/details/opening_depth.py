"""How deep in the new wall a unit sits, and what follows: buck, slope of the sill, metal, how much opening is left.

Depths are metres out from the barrier's plane, + towards the weather; heights in a section are metres from the edge
of the rough opening into it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from lapwright.catalog.model import Product
from lapwright.details.base import Context, Place
from lapwright.details.depths import Depths, depths_of, thickness_of
from lapwright.details.shapes import IN
from lapwright.survey.model import Opening, Position

DEEP_M = 0.75 * IN + 1e-4  # up to 3/4 in of furring the casing itself closes the joint to the unit: common practice
DRIP_M = 0.25 * IN  # lower edges hang at least 1/4 in off the face below: common practice
PLAIN_REACH_M = 1.5 * IN  # the usual head flashing goes out this far
STUD_M = 3.5 * IN  # a 2x4, where nobody wrote the studs: common practice
BOARD_M = 0.75 * IN  # board sheathing, where nobody wrote its thickness: common practice
CASING = "trim-1x4"
RETURNS = ("trim-1x4", "trim-1x6", "belly-band-board")  # ripped to the depth, the narrowest that does
Section = tuple[tuple[float, float], ...]

WHY: Mapping[str, str] = {
    "old": "the old frame stays where it stands",
    "thin": "the new layers are thin: trim closes the joint",
    "no foam": "there is no foam or furring deep enough to carry it out: on the old boards",
    "said": "as the job says",
    "usual": "nobody said: on the old boards it ties to the barrier in one plane, and no buck takes opening away",
    "shape": "only square openings get a buck",
}


def stud_depth_m(stud: str | None) -> float | None:
    """Return the depth of a stud by its nominal size, metres; None when it is not known.

    Dressed sizes of PS 20: 2x4 is 3-1/2 in deep, 2x6 5-1/2, 2x8 7-1/4.

    >>> round(stud_depth_m("2x6") / 0.0254, 2)
    5.5
    """
    known = {"2x2": 1.5, "2x3": 2.5, "2x4": 3.5, "2x6": 5.5, "2x8": 7.25, "2x10": 9.25, "2x12": 11.25}
    inches = known.get((stud or "").lower().replace(" ", ""))
    return None if inches is None else inches * IN


@dataclass(frozen=True)
class Seat:
    """One unit in the depth of its wall.

    position: in | mid | out, or old where the old frame stays; why: the word of `WHY`. plane_m: its outer face.
    in_m: how far boards and studs go in from the barrier's plane. slope_deg: of sills. guessed: what nobody wrote.
    """

    position: Literal["in", "mid", "out", "old"]
    why: str
    plane_m: float
    depths: Depths
    in_m: float
    slope_deg: float
    casing_m: float
    unit: Product
    buck: Product | None = None
    flashing_deg: float = 5.0
    guessed: tuple[str, ...] = ()

    @property
    def deep(self) -> bool:
        """Whether foam and furring are so deep that buck or returns are needed."""
        return self.depths.backing_m > DEEP_M

    @property
    def board_m(self) -> float:
        """Thickness of the buck's boards, metres; 0 without."""
        return self.buck.needed("thickness_m") if self.buck else 0.0

    @property
    def trim_face_m(self) -> float:
        """The outermost face round the opening: casing or siding, whichever stands further out."""
        return max(self.depths.trim_m + self.casing_m, self.depths.face_m)

    @property
    def reach_m(self) -> float:
        """How far metal goes out from the barrier's plane: past the outermost face by a drip."""
        return self.trim_face_m + DRIP_M

    @property
    def return_m(self) -> float:
        """Depth of the boards that line the opening outside of the unit, out to the face of the casing; 0 where there are none."""
        deep = self.depths.trim_m - self.plane_m > DEEP_M
        return self.depths.trim_m + self.casing_m - self.plane_m if self.deep and deep else 0.0

    @property
    def frame_depth_m(self) -> float:
        """Depth of the unit's frame, metres; 0 where the catalog does not say."""
        return self.unit.number("frame_depth_m") or 0.0

    @property
    def tan(self) -> float:
        """Fall of the sill for each metre out."""
        return math.tan(math.radians(self.slope_deg))

    @property
    def cos(self) -> float:
        """Cosine of the sill's slope: a level run over it is the board's width."""
        return math.cos(math.radians(self.slope_deg))

    def sloped(self, run_m: float) -> float:
        """Return the width of a board that covers a level run on the sill's slope: run / cos."""
        return run_m / self.cos

    @property
    def sill_loss_m(self) -> float:
        """What the sloped sill of a buck takes of the height: its thickness plumb, and its rise under the frame.

        The frame stands level on the highest spot beneath it, at its inner face.
        """
        return (self.board_m / self.cos + self.frame_depth_m * self.tan) if self.buck else 0.0

    @property
    def head_loss_m(self) -> float:
        """What the buck's head takes of the height, metres."""
        return self.board_m

    def left_over(self, width_m: float, height_m: float) -> tuple[float, float]:
        """Return width and height that a buck leaves of a rough opening, metres."""
        return width_m - 2 * self.board_m, height_m - self.sill_loss_m - self.head_loss_m

    # ------------------------------------------------------------ sections, (depth in, height from the rough edge)

    def buck_board(self) -> Section:
        """Return the section of a buck's jamb or head."""
        a, b, t = -self.plane_m, self.in_m, self.board_m
        return ((a, 0.0), (b, 0.0), (b, t), (a, t))

    def buck_sill(self) -> Section:
        """Return the section of a buck's sill: it rises inwards on a bevel."""
        a, b, up = -self.plane_m, self.in_m, self.board_m / self.cos
        rise = (b - a) * self.tan
        return ((a, 0.0), (b, rise), (b, rise + up), (a, up))

    @property
    def sill_back_m(self) -> float:
        """Height of the metal over the sill's edge at the unit, so that its lip still clears the casing of the sill."""
        shim = self.unit.number("shim_gap_m") or 0.0
        base = self.sill_loss_m + (shim if self.position != "old" else 0.0)
        return max(base, (self.reach_m - self.plane_m) * self.tan)

    def sill_at(self, depth_m: float) -> float:
        """Return the height of the metal on the outer sill at a depth out from the barrier's plane."""
        return self.sill_back_m - (depth_m - self.plane_m) * self.tan

    def return_sill(self, board_m: float) -> Section:
        """Return the section of the sloped board that carries the metal, from the unit to behind the casing."""
        a, b = -self.depths.trim_m, -self.plane_m
        top_a, top_b, down = self.sill_at(-a), self.sill_at(-b), board_m / self.cos
        return ((a, top_a - down), (b, top_b - down), (b, top_b), (a, top_a))

    def return_board(self, board_m: float) -> Section:
        """Return the section of a return's jamb or head board."""
        a, b = -(self.plane_m + self.return_m), -self.plane_m
        return ((a, 0.0), (b, 0.0), (b, board_m), (a, board_m))

    @property
    def head_rise_m(self) -> float:
        """How far above the casing's top the metal starts at the barrier, so that it slopes out over it."""
        return self.trim_face_m * math.tan(math.radians(self.flashing_deg))


def seat_of(place: Place, ctx: Context, settings: Mapping[str, float] | None = None) -> Seat:
    """Return how a unit sits. settings: the detail's own figures (`sill_slope`, `mid_share`), else the usual."""
    opening = place.thing
    assert isinstance(opening, Opening)
    s = settings or {}
    depths = depths_of(place.assembly, ctx.catalog)
    default = "insert-unit" if opening.state == "insert" else "door-unit" if opening.kind == "door" else "window-unit"
    unit = ctx.catalog[opening.unit or default]
    sheath, stud, guessed = _inward(place, ctx)
    position, why = _position(opening, place, ctx, depths)
    plane = {"in": 0.0, "old": 0.0, "mid": depths.backing_m * s.get("mid_share", 0.5), "out": depths.backing_m}[position]
    buck = ctx.catalog[opening.buck or "plywood-buck"] if position in ("mid", "out") else None
    metal = ctx.catalog["head-flashing-metal"].number("slope_deg") or 5.0
    return Seat(
        position, why, plane, depths, sheath + stud, s.get("sill_slope", 5.0), ctx.catalog[CASING].needed("thickness_m"),
        unit, buck, max(metal, 5.0), guessed,
    )  # fmt: skip


def _position(
    opening: Opening, place: Place, ctx: Context, depths: Depths
) -> tuple[Literal["in", "mid", "out", "old"], str]:
    if opening.state in ("kept", "insert"):
        return "old", "old"
    asked: Position | None = opening.position
    if asked is None and place.assembly is not None:
        asked = ctx.scope.positions.get(place.assembly.id)
    if depths.backing_m <= DEEP_M:
        return "in", "no foam" if asked in ("mid", "out") else "thin"
    if asked in ("mid", "out") and opening.shape != "rectangle":
        return "in", "shape"
    return (asked, "said") if asked is not None else ("in", "usual")


def _inward(place: Place, ctx: Context) -> tuple[float, float, tuple[str, ...]]:
    """Return (boards, studs) inside of the barrier in metres, and what had to be taken because nobody wrote it."""
    layers = place.assembly.layers if place.assembly is not None else ()
    boards = [thickness_of(y, ctx.catalog) for y in layers if y.layer == "sheathing"]
    stud = stud_depth_m(place.face.framing.stud)
    said = []
    if any(b is None for b in boards):
        said.append("boards 3/4 in")
    if stud is None:
        said.append("studs 3-1/2 in deep")
    return sum(BOARD_M if b is None else b for b in boards), STUD_M if stud is None else stud, tuple(said)


def trim_for(ctx: Context, width_m: float) -> Product | None:
    """Return the narrowest trim board that covers a width, or None when there is none so wide."""
    fits = [ctx.catalog[p] for p in RETURNS if ctx.catalog[p].needed("width_m") >= width_m - 1e-6]
    return min(fits, key=lambda p: p.needed("width_m")) if fits else None
