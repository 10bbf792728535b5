"""The gap behind the cladding: drainage mat, and the screens at every inlet and outlet.

The gap is cut at each head, sill, band, ledger and roof, so each bay between two cuts gets its own inlet
below and outlet above (see `lapwright.details.bays`); a bay without one is said.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import ClassVar

from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.details.base import (
    PHASE_GAP,
    Check,
    Claim,
    ClearClaim,
    Context,
    Detail,
    FieldClaim,
    HoleClaim,
    Part,
    Piece,
    PieceClaim,
    Place,
    RunClaim,
    Step,
)
from lapwright.details.bays import NARROW_M, Bay, Blocker, attachment_shape, bays, blockers, gap_area, joined
from lapwright.details.runs import SHORTEST_M, Line, along, free_runs, inside_of, left_over, span_on, wall_of
from lapwright.details.shapes import IN
from lapwright.details.work import check, face_length, many, of_step, say, step
from lapwright.findings import Finding, Where
from lapwright.geometry import box, merged, polygons

SERVED = 0.6  # an inlet along this share of a bay's edge counts: the rest is what trim and corners take


@dataclass(frozen=True)
class Edge:
    """One edge that a screen follows: `inlet` at the foot of a gap, else an outlet; line left to right."""

    inlet: bool
    line: Line
    thing: str


def edges(found: Iterable[Bay]) -> list[Edge]:
    """Return the edges of bays that can be open, collinear neighbors joined; edges on a closed gap are left out."""
    out: list[Edge] = []
    bays_ = list(found)
    for inlet in (True, False):
        lines: dict[str, list[Line]] = {}
        for bay in bays_:
            thing = bay.foot if inlet else bay.top
            if thing != "closed":
                lines.setdefault(thing, []).extend(bay.feet if inlet else bay.tops)
        out += [Edge(inlet, line, thing) for thing in sorted(lines) for line in joined(lines[thing])]
    return out


class Gap(Detail):
    """What mat and furring share: screens at inlets and outlets."""

    layer: ClassVar[str] = ""
    product: ClassVar[str] = ""
    settings = {"narrow": NARROW_M, "screen_lap": 2 * IN}
    sources = {
        "narrow": "common practice: past a sill wider than about 1 ft water and air find no way round in a mat",
        "screen_lap": "common practice",
    }

    # ------------------------------------------------------------ screens

    def screens(self, place: Place, ctx: Context) -> Iterator[Claim]:
        """Yield the screens of the zone's bays, and a finding for each bay that lacks one."""
        narrow, lap = ctx.setting(self, "narrow"), ctx.setting(self, "screen_lap")
        screen, gap = ctx.catalog["insect-screen"], ctx.product(place, self.layer, self.product)
        thick = gap.number("thickness_m") or 0.375 * IN
        up = (screen.needed("width_m") - thick) / 2
        found = bays(place.face, ctx, narrow)
        curved = {b.id: b for b in blockers(place.face, narrow) if not b.straight}
        area = gap_area(place.face, ctx, 0.0)
        made: dict[bool, list[BaseGeometry]] = {True: [], False: []}
        for edge in edges(found):
            if edge.thing in curved:
                continue
            for line, high in _fitting(edge, up, area, inside_of(place)):
                claim = self._screen(place, edge.inlet, line, high, screen.id, screen.needed("width_m"), thick, lap)
                made[edge.inlet].append(LineString(line).buffer(2e-3))
                yield claim
        for name, thing in curved.items():
            for inlet in (True, False):
                for bent in self._bent(place, thing, name, inlet, found, up, area, screen.id):
                    made[inlet].append(bent.parts[0].polygon.buffer(2e-3))
                    yield bent
        yield from self._missing(place, ctx, found, made)

    def _screen(
        self, place: Place, inlet: bool, line: Line, high: float, product: str, width: float, thick: float, lap: float
    ) -> RunClaim:
        kind = "inlet" if inlet else "outlet"
        at = min(line)
        start, end = (at, max(line)) if inlet else (max(line), at)  # the fold is at the low edge, to the left
        return RunClaim(
            key=f"{place.id}/{kind}-{round(at[0] / IN)}-{round(at[1] / IN)}",
            place=place.id,
            role=f"screen-{kind}",
            layer="mat",
            product=product,
            surface=place.face.id,
            start=start,
            end=end,
            low=0.0,
            high=high,
            phase=PHASE_GAP if inlet else PHASE_GAP + 2,
            step=f"{place.id}/{kind}s",
            held="fastened",
            legs=(("under", thick, 90.0), ("under", width - thick - high, 90.0)),
            lap_m=lap,
            over_field=Polygon(),
            facts={"lap_m": 0.0, "gap_m": thick, "opens": kind},
        )

    def _bent(
        self, place: Place, thing: Blocker, name: str, inlet: bool, found: Iterable[Bay], up: float, area: BaseGeometry,
        product: str,
    ) -> Iterator[PieceClaim]:  # fmt: skip
        """Yield the screen bent round a curved head or sill, by its length along the curve."""
        chains = [b.feet if inlet else b.tops for b in found if (b.foot if inlet else b.top) == name]
        band = thing.polygon.buffer(up).difference(thing.polygon).intersection(area).intersection(inside_of(place))
        for n, chain in enumerate(chains):
            points = [chain[0][0], *(q for _, q in chain)]
            reach = up + 1e-3 if inlet else -up - 1e-3
            far = [(x, y + 2 * reach) for x, y in reversed(points)]
            middle = [(x, y - reach / 50) for x, y in points]
            spots = polygons(band.intersection(Polygon([*middle, *far]).buffer(0)))
            if not spots:
                continue
            kind = "inlet" if inlet else "outlet"
            yield PieceClaim(
                key=f"{place.id}/{kind}-{name}{'' if n == 0 else f'-{n + 1}'}",
                place=place.id,
                role=f"screen-{kind}",
                layer="mat",
                product=product,
                parts=tuple(Part(place.face.id, "face", p) for p in spots),
                phase=PHASE_GAP if inlet else PHASE_GAP + 2,
                step=f"{place.id}/{kind}s",
                held="fastened",
                over_field=Polygon(),
                quantity=(math.fsum(math.dist(*line) for line in chain), "m"),
                facts={"lap_m": 0.0, "opens": kind},
            )

    def _missing(
        self, place: Place, ctx: Context, found: Iterable[Bay], made: dict[bool, list[BaseGeometry]]
    ) -> Iterator[Finding]:
        zone = inside_of(place).buffer(1e-3)
        there = {inlet: merged(shapes) for inlet, shapes in made.items()}
        words = {True: ("gap.no_inlet", "inlet", "below"), False: ("gap.no_outlet", "outlet", "above")}
        for bay in found:
            for inlet, (code, what, where) in words.items():
                edge = bay.feet if inlet else bay.tops
                line = merged([LineString(e) for e in edge])
                if line.length < SHORTEST_M or line.intersection(zone).length < line.length / 2:
                    continue
                if line.intersection(there[inlet]).length >= SERVED * line.length:
                    continue
                thing = bay.foot if inlet else bay.top
                beyond = "wall without a gap" if thing == "closed" else thing
                (x, y), _ = edge[0]
                yield Finding(
                    code,
                    "warn",
                    f"The gap on {place.face.id} from {say(ctx, bay.x[0])} to {say(ctx, bay.x[1])} has no {what}: {beyond} lies {where} it.",
                    "A bay open at one end only drains badly and dries many times slower.",
                    f"Give it an {what}: carry the gap on {where}, or cut the cladding free there and screen it.",
                    Where(ctx.survey.file, place.where.line, place.face.id, place.id, x, y),
                    "common practice; IRC R703.1.1",
                )

    # ------------------------------------------------------------ what the screens and holes come to

    def holes(self, place: Place) -> Iterator[Claim]:
        """Yield the cut-outs that attachments make in this layer."""
        for item in place.face.attachments:
            if item.decision == "keep":
                shape = attachment_shape(item, place.face).intersection(inside_of(place))
                for part in polygons(shape):
                    yield HoleClaim(place.id, place.face.id, self.layer, part)

    def screen_steps(
        self, place: Place, ctx: Context, pieces: list[Piece], kind: str, needs: tuple[str, ...]
    ) -> Iterator[Step]:
        """Yield the step of all inlets or all outlets of the zone."""
        mine = [p for p in of_step(pieces, place, f"{kind}s") if p.plane == "face"]
        if not mine:
            return
        meters = face_length(mine)
        fold = (
            "up behind, round the lower edge, up in front" if kind == "inlet" else "over the upper edge, front and back"
        )
        yield step(
            ctx,
            place,
            self.name,
            f"{kind}s",
            f"Insect screen at the {kind}s of {wall_of(place)}, {say(ctx, meters)} in {many(len(mine), 'piece')}: folded {fold}; the gap stays open.",
            [("screen", max(meters, 0.05))],
            pieces,
            needs=needs,
        )

    def screen_checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        """Yield what must be open before the cladding hides it."""
        for kind in ("inlet", "outlet"):
            mine = [p for p in of_step(pieces, place, f"{kind}s") if p.plane == "face"]
            if mine:
                yield check(
                    place,
                    f"{kind}s",
                    "open",
                    f"{kind}s of the gap on {wall_of(place)} open their whole length and screened",
                    "yes/no",
                    1.0,
                    1.0,
                    "Cut mat, trim or sealant back until daylight shows.",
                    "common practice; IRC R703.1.1",
                    count=len(mine),
                )


def _fitting(edge: Edge, up: float, area: BaseGeometry, zone: BaseGeometry) -> list[tuple[Line, float]]:
    """Return where along an edge a screen fits and how far it reaches in: full, else half, else a quarter."""
    start, end = edge.line if edge.inlet else (edge.line[1], edge.line[0])
    out: list[tuple[Line, float]] = []
    rest = free_runs((start, end), 1e-4, 2e-3, zone, (), 0.02)
    for high in (up, up / 2, up / 4):
        still: list[Line] = []
        for line in rest:
            runs = free_runs(line, 2e-4, high, area.buffer(1e-5, join_style="mitre"), (), 0.02)
            out += [(run, high) for run in runs]
            gaps = left_over((0.0, math.dist(*line)), (span_on(line, run) for run in runs), 0.02)
            still += [(along(line, a), along(line, b)) for a, b in gaps]
        rest = still
    return out


class Mat(Gap):
    """Mesh mat in butted courses, open below and above, with screens folded round its edges."""

    name = "mat"
    title = "Drainage mat"
    places: ClassVar[tuple[tuple[str, str], ...]] = (("mat", ""),)
    layer = "mat"
    product = "mesh-mat"

    def claims(self, place: Place, ctx: Context) -> Iterator[Claim]:
        assert place.polygon is not None
        yield FieldClaim(
            key=place.id,
            place=place.id,
            role="course",
            layer="mat",
            product=ctx.product(place, "mat", self.product).id,
            surface=place.face.id,
            region=place.polygon,
            course_lap_m=0.0,
            end_lap_m=0.0,
            step=f"{place.id}/course",
            corner_m=0.0,
            phase=PHASE_GAP + 1,
            held="fastened",
        )
        for x, off in ((0.0, 6 * IN), (place.face.width_m, -6 * IN)):
            _, low, _, high = place.polygon.bounds
            area = box(min(x, x + off), low, max(x, x + off), high)
            yield ClearClaim(place.id, place.face.id, "mat", area, "end", 5.0, "corners are rounded in one piece")
        yield from self.holes(place)
        yield from self.screens(place, ctx)

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Step]:
        yield from self.screen_steps(place, ctx, pieces, "inlet", (f"{wall_of(place)}/barrier/done",))
        last: tuple[str, ...] = ("inlets", f"{wall_of(place)}/barrier/done")
        for n in sorted({int(p.facts["course"]) for p in pieces if p.role == "course"}):
            mine = [p for p in pieces if p.role == "course" and p.facts["course"] == n]
            area = math.fsum(p.polygon.area for p in mine)
            yield step(
                ctx,
                place,
                self.name,
                f"course-{n}",
                f"Mat course {n} on {wall_of(place)}, {len(mine)} piece{'s' if len(mine) > 1 else ''}: butt it, do not lap; round corners "
                "in one piece; tack; cut to the edge of units and trim.",
                [("mat", max(area, 0.05))],
                mine,
                needs=last,
            )
            last = (f"course-{n}",)
        yield from self.screen_steps(place, ctx, pieces, "outlet", last)

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterator[Check]:
        yield from self.screen_checks(place, ctx, pieces)
        numbers = sorted({int(p.facts["course"]) for p in pieces if p.role == "course"})
        if numbers:
            yield check(
                place,
                f"course-{numbers[-1]}",
                "flat",
                f"mat on {wall_of(place)} butted and flat, nowhere two layers",
                "yes/no",
                1.0,
                1.0,
                "Cut the lap out; a hump in the mat bends the siding.",
                "common practice",
                count=3,
            )
