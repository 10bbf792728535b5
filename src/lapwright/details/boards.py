"""Boards that go up before the siding: casings round openings, corner boards, starter strips, closures."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from shapely import Polygon

from lapwright.details.base import Context, Place
from lapwright.details.bays import attachment_shape, bays, gap_area, joined
from lapwright.details.holes import holes_in
from lapwright.details.places import edges_of, is_new, zone_at
from lapwright.details.runs import Line, along, free_runs, inside_of, left_over, shared_parts, span_on
from lapwright.details.shapes import HEAD_TRIM_M, IN
from lapwright.geometry import quad
from lapwright.survey.model import Face, Opening

SHORTEST_M = 3 * IN


@dataclass(frozen=True)
class Board:
    """One straight board: what it is, its product, its line, and the offsets to its left that it covers."""

    role: str
    name: str
    product: str
    line: Line
    low: float
    high: float

    @cached_property
    def area(self) -> Polygon:
        """The board on the face."""
        return quad(*self.line, self.low, self.high)

    @property
    def keeps(self) -> Polygon:
        """The board with the joint between it and what it stands beside: no siding there."""
        return quad(*self.line, 0.0, self.high)


class Boards:
    """Gathers the boards of a zone; a later board yields to an earlier one, and all stay in the zone."""

    def __init__(self, place: Place, ctx: Context) -> None:
        self.place, self.ctx = place, ctx
        self.found: list[Board] = []
        self.holes = holes_in(place.face, ctx, "cladding")
        self.blocked = [*(o.polygon for o in place.face.openings), *(h.polygon for h in self.holes)]
        self.blocked += [
            shape for a in place.face.attachments if a.decision == "keep" and not (shape := attachment_shape(a, place.face)).is_empty
        ]  # fmt: skip

    def add(self, role: str, name: str, product: str, line: Line, wide: float, start: float = 0.0) -> None:
        """Add a board to the left of a line from offset `start`; where the full width does not fit, half of it.

        Covered or too narrow stretches are left out; several stretches get several boards.
        """
        rest = [line]
        count = 0
        for high in (wide, wide / 2):
            still: list[Line] = []
            for part in rest:
                taken = [*self.blocked, *(b.area for b in self.found)]
                runs = free_runs(part, start + 1e-5, start + high, inside_of(self.place), taken, SHORTEST_M)
                for run in runs:
                    count += 1
                    self.found.append(
                        Board(role, name if count == 1 else f"{name}-{count}", product, run, start, start + high)
                    )
                gaps = left_over((0.0, math.dist(*part)), (span_on(part, run) for run in runs), SHORTEST_M)
                still += [(along(part, a), along(part, b)) for a, b in gaps]
            rest = still


def casings(boards: Boards, opening: Opening, wide: float) -> None:
    """Add the boards round a rectangular opening: jambs, head on top of them, sill board below."""
    x0, sill, x1, head = opening.box
    boards.add("casing", f"{opening.id}-left", "trim-1x4", ((x0, sill), (x0, head)), wide)
    boards.add("casing", f"{opening.id}-right", "trim-1x4", ((x1, head), (x1, sill)), wide)
    boards.add("casing", f"{opening.id}-head", "trim-1x4", ((x0 - wide, head), (x1 + wide, head)), HEAD_TRIM_M)
    if opening.kind != "door":
        boards.add("casing", f"{opening.id}-sill", "trim-1x4", ((x1 + wide, sill), (x0 - wide, sill)), wide)


def corner_boards(boards: Boards, corner: float, end: float, joint: float) -> None:
    """Add boards at the upright edges of the zone: at corners, at ends, beside what is kept."""
    place, ctx = boards.place, boards.ctx
    face = place.face
    assert place.zone is not None
    for side, low, high in edges_of(place.zone):
        if side not in ("left", "right"):
            continue
        left = side == "left"
        line = (high, low) if left else (low, high)  # the zone lies to its left
        name = f"{side}-{round(low[0] / IN)}-{round(low[1] / IN)}"
        outer = bool(shared_parts((low, high), face.outline))
        neighbor = face.left if left else face.right
        at_corner = outer and (low[0] < 1e-4 if left else low[0] > face.width_m - 1e-4)
        if at_corner and neighbor is not None and _goes_on(ctx.survey.face(neighbor), left):
            turn = ctx.survey.face(neighbor).turn_deg if left else face.turn_deg
            if turn > 0:
                boards.add("corner-board", name, "trim-1x6", line, corner)
            elif not left:
                boards.add("corner-board", name, "trim-1x4", line, end)
        elif outer:
            boards.add("end-board", name, "trim-1x4", line, end, joint if at_corner and neighbor is not None else 0.0)
        else:
            beside = zone_at(face, low[0] + (-1e-3 if left else 1e-3), (low[1] + high[1]) / 2)
            if beside is None or not is_new(beside):
                boards.add("end-board", name, "trim-1x4", line, end, joint)


def _goes_on(other: Face, at_its_right: bool) -> bool:
    """Return whether new skin stands on the neighbor's side of the corner."""
    x = other.width_m if at_its_right else 0.0
    return other.adjoins == "outside" and any(
        is_new(z) and any(e[0] in ("left", "right") and abs(e[1][0] - x) < 1e-4 for e in edges_of(z))
        for z in other.zones
    )


def level_boards(boards: Boards, starter: str, wide: float, casing: float) -> None:
    """Add starter strips under the first course and closures behind the cut course under sills and at the top.

    casing: width of the sill boards, below which the siding under a window is cut.
    """
    place, ctx = boards.place, boards.ctx
    found = bays(place.face, ctx, 0.0, ("cladding",), boards.holes)
    area = gap_area(place.face, ctx, 0.0, ("cladding",), boards.holes)
    things = {o.id for o in place.face.openings} | {p.id for p in place.face.penetrations}
    for role, feet in (("starter", True), ("closure", False)):
        lines: list[Line] = []
        for bay in found:
            thing = bay.foot if feet else bay.top
            if thing == "closed" or thing in things:
                continue
            lines += [s for s in (bay.feet if feet else bay.tops) if feet or abs(s[0][1] - s[1][1]) < 1e-6]
        for line in joined(lines):
            at = line if feet else (line[1], line[0])
            for part in free_runs(at, 1e-4, 2e-3, area.intersection(inside_of(place)), (), SHORTEST_M):
                x, y = min(part)
                boards.add(role, f"{role}-{round(x / IN)}-{round(y / IN)}", starter, part, wide)
    for opening in place.face.openings:
        x0, sill, x1, _ = opening.box
        if opening.shape == "rectangle" and opening.kind != "door" and inside_of(place).covers(opening.polygon):
            line = ((x1 + casing, sill - casing), (x0 - casing, sill - casing))
            boards.add("closure", f"closure-{opening.id}", starter, line, wide)


def rings(opening: Opening, wide: float) -> Iterator[Polygon]:
    """Yield the casing of a curved or free-shaped opening as seen on the face."""
    ring = opening.polygon.buffer(wide).difference(opening.polygon)
    if isinstance(ring, Polygon):
        yield ring
