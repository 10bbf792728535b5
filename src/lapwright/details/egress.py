"""The way out of a bedroom or basement: clear opening against IRC R310 (check your local code)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lapwright.details.base import Context
from lapwright.details.opening_depth import Seat
from lapwright.details.shapes import IN
from lapwright.findings import Finding, Where
from lapwright.lengths import show_length
from lapwright.survey.model import Face, Opening

SOURCE = "IRC R310 (2021 edition; editions and local adoption differ: check your local code)"
LEAST_AREA_M2 = 5.7 * 0.09290304  # IRC R310.2.1: 5.7 sq ft net clear opening
LEAST_AREA_AT_GRADE_M2 = 5.0 * 0.09290304  # IRC R310.2.1 exception: 5.0 sq ft at grade
LEAST_WIDTH_M = 20 * IN  # IRC R310.2.1
LEAST_HEIGHT_M = 24 * IN  # IRC R310.2.1
HIGHEST_SILL_M = 44 * IN  # IRC R310.2.2: above the floor
RETURN_M = 2 * IN  # deeper returns are in the way of a casement: common practice


@dataclass(frozen=True)
class WayOut:
    """Clear opening of a unit, metres, and how it was come by. sill_m: above the floor, None when not known."""

    width_m: float
    height_m: float
    sill_m: float | None
    from_what: str

    @property
    def area_m2(self) -> float:
        """Net clear opening, m2."""
        return self.width_m * self.height_m

    def lacks(self, at_grade: bool) -> list[str]:
        """Return what falls short, in words; empty when nothing does."""
        least = LEAST_AREA_AT_GRADE_M2 if at_grade else LEAST_AREA_M2
        out = []
        if self.area_m2 < least - 1e-6:
            out.append(f"{self.area_m2 / 0.09290304:.1f} sq ft clear, {least / 0.09290304:.1f} asked")
        if self.width_m < LEAST_WIDTH_M - 1e-6:
            out.append(f"{show_length(self.width_m)} wide, 20 in asked")
        if self.height_m < LEAST_HEIGHT_M - 1e-6:
            out.append(f"{show_length(self.height_m)} high, 24 in asked")
        if self.sill_m is not None and self.sill_m > HIGHEST_SILL_M + 1e-6:
            out.append(f"sill {show_length(self.sill_m)} above the floor, 44 in at most")
        return out


def way_out(opening: Opening, face: Face, ctx: Context, seat: Seat | None = None) -> WayOut:
    """Return the clear opening: as measured (`clear:`), else the rough opening less buck, frames and shims.

    seat: how the unit sits in a thick wall. The unit is taken to open fully; of one that slides only half the height
    or width counts, which the finding says. An insert's frame figure counts the old jambs in. The height of the sill is
    that of the clear opening, where it is worked out here.
    """
    x0, sill, x1, head = opening.box
    floors = [s.floor_m for s in ctx.survey.storeys if s.loop == face.loop and s.floor_m <= sill]
    above = sill - max(floors) if floors else None
    if opening.clear_m is not None:
        return WayOut(*opening.clear_m, above, "as measured")
    unit = ctx.catalog[opening.unit or ("insert-unit" if opening.state == "insert" else "window-unit")]
    each = (unit.number("frame_m") or 0.0) + (unit.number("shim_gap_m") or 0.0)
    wide, high, up, less = x1 - x0, head - sill, 0.0, ""
    if seat is not None and seat.buck is not None:
        (wide, high), up, less = seat.left_over(wide, high), seat.sill_loss_m, "buck, "
    above = None if above is None else above + up + each
    return WayOut(wide - 2 * each, high - 2 * each, above, f"rough opening less {less}frames, opening fully")


def egress(opening: Opening, face: Face, ctx: Context, seat: Seat | None = None) -> Iterator[Finding]:
    """Yield a warning for a bedroom's or basement's window that is too small or too high to get out of."""
    if not (opening.bedroom or opening.basement) or opening.kind == "door":
        return
    found = way_out(opening, face, ctx, seat)
    lowest = [s.floor_m for s in ctx.survey.storeys if s.loop == face.loop]
    at_grade = bool(lowest) and opening.box[1] < min(lowest) + HIGHEST_SILL_M + 0.3
    lacks = found.lacks(at_grade)
    where = Where(ctx.survey.file, opening.where.line, face.id, opening.id, opening.box[0], opening.box[1])
    boxed = seat is not None and seat.buck is not None
    if boxed and seat is not None and opening.clear_m is not None:
        yield from _fits(opening, face, ctx, seat, where)
    if lacks:
        fix = "Choose a unit that opens wider (casement), or a larger opening; ask the code official."
        if opening.state in ("insert", "kept"):
            fix = (
                "An insert takes opening away: use the largest unit that fits the old opening (replacement exception "
                "of R310), a full-frame unit, or another way out; ask the code official."
            )
        elif boxed:
            fix = f"The buck takes opening away: set the unit in (position: in), take a thinner buck, or frame it larger. {fix}"
        what = f"{opening.id} on {face.id} is too small to get out of: {'; '.join(lacks)} ({found.from_what})."
        yield Finding("egress.small", "warn", what, "Somebody sleeps behind it.", fix, where, SOURCE)
    elif opening.clear_m is None:
        what = f"{opening.id} on {face.id} gives a way out only if it opens fully ({found.from_what})."
        fix = "Measure the clear opening of the unit ordered and write it under clear; a sliding sash gives half."
        yield Finding("egress.measure", "note", what, "Somebody sleeps behind it.", fix, where, SOURCE)
    if seat is not None and seat.return_m > RETURN_M:
        what = (
            f"{opening.id} on {face.id} opens against returns {show_length(seat.return_m, ctx.survey.units)} deep: a casement may "
            "stop short of square."
        )
        fix = "Try it in the opening, or set the unit out; what stays in the way comes off the clear opening."
        yield Finding("egress.returns", "note", what, "Somebody sleeps behind it.", fix, where, SOURCE)


def _fits(opening: Opening, face: Face, ctx: Context, seat: Seat, where: Where) -> Iterator[Finding]:
    """Yield a warning when the clear opening that was measured cannot be that of a unit which fits into the buck."""
    x0, sill, x1, head = opening.box
    wide, high = seat.left_over(x1 - x0, head - sill)
    assert opening.clear_m is not None
    if opening.clear_m[0] <= wide + 1e-6 and opening.clear_m[1] <= high + 1e-6:
        return
    units = ctx.survey.units
    clear, room = (f"{show_length(a, units)} x {show_length(b, units)}" for a, b in (opening.clear_m, (wide, high)))
    yield Finding(
        "egress.buck", "warn", f"{opening.id} on {face.id}: a clear opening of {clear} was measured, but the buck leaves {room}.",
        "The unit that gives it does not fit into the buck.", "Measure the unit that fits, or set it in (position: in).", where, SOURCE,
    )  # fmt: skip
